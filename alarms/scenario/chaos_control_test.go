package scenario_test

import (
	"math/rand/v2"
	"strings"
	"time"

	"telltale/alarms"
)

// chaosControl gives a house a thermostat, what it drives, and a selector.
func chaosControl(rnd *rand.Rand, h *alarms.House) {
	name := string(h.ID) + "-"
	every := pick(rnd, 30*time.Second, time.Minute, 2*time.Minute)
	var box []alarms.Probe
	shows := func(id string, q alarms.Quantity) alarms.Evidence {
		pr := alarms.ProbeID(name + id)
		box = append(box, alarms.Probe{ID: pr, Every: every, Circuit: pick(rnd, alarms.CircuitID(""), "north"), Streams: []alarms.Stream{{Quantity: q}}})
		e := alarms.Evidence{Probe: pr, Quantity: q}
		if q != alarms.Contact {
			e.Above, e.UsualLow, e.UsualHigh = alarms.At(0.1), alarms.At(0.2), alarms.At(0.5)
		}
		return e
	}
	fan := alarms.Drive{ID: "exhaust-fan", Kind: alarms.ExhaustFan, With: []alarms.DriveID{"intake-shutter"}, Never: []alarms.DriveID{"heater"},
		Barred: []alarms.Season{alarms.SeasonWinter}, MaxStarts: pick(rnd, 0, 3), Circuit: pick(rnd, alarms.CircuitID(""), "north", "south")}
	if rnd.IntN(4) > 0 {
		fan.Evidence = append(fan.Evidence, shows("fan-clamp", alarms.Current))
		if rnd.IntN(2) == 0 {
			fan.Evidence = append(fan.Evidence, shows("fan-contact", alarms.Contact))
		}
	}
	loop := alarms.Drive{ID: "loop-fan", Kind: alarms.LoopFan, Evidence: []alarms.Evidence{shows("loop-clamp", alarms.Power)},
		Runs: []alarms.Run{{Season: alarms.SeasonWinter, On: true}, {Season: alarms.SeasonChanging, On: true, OnFor: 5 * time.Minute, OffFor: 5 * time.Minute}}}
	h.Drives = []alarms.Drive{fan, loop,
		{ID: "intake-shutter", Kind: alarms.IntakeShutter, Evidence: []alarms.Evidence{shows("end-switch", alarms.Contact)}},
		{ID: "heater", Kind: alarms.Heater, Evidence: []alarms.Evidence{shows("heater-clamp", alarms.Current)}}}
	h.Controls = []alarms.Control{{ID: "dial", Place: "bench", Stages: []alarms.Stage{
		{Name: "hot", SetPoint: 24, Drives: []alarms.DriveID{"exhaust-fan"}, Seasons: []alarms.Season{alarms.SeasonOpen}},
		{Name: "cold", Mode: alarms.Heating, SetPoint: 12, Drives: []alarms.DriveID{"heater"}}}}}
	switched := []alarms.DriveID{"exhaust-fan", "heater"}
	sel := alarms.Selector{ID: "door", Positions: []alarms.Position{{Name: "thermostat", Follow: switched}, {Name: "off", Off: switched, Closed: true}}}
	if rnd.IntN(2) == 0 {
		sel.Probe = shows("selector", alarms.Contact).Probe
	} else {
		sel.Positions = append(sel.Positions, alarms.Position{Name: "by hand", On: switched})
		sel.Positions[1].Closed = false
	}
	h.Selectors = []alarms.Selector{sel}
	if rnd.IntN(2) == 0 {
		h.Selectors = append(h.Selectors, alarms.Selector{ID: "covers", Positions: []alarms.Position{{Name: "off-the-vents"},
			{Name: "on-the-vents", Covered: []alarms.DriveID{"exhaust-fan", "intake-shutter"}}}})
	}
	if h.Loop != nil && rnd.IntN(2) == 0 {
		h.Selectors = append(h.Selectors, alarms.Selector{ID: "knob", Positions: []alarms.Position{{Name: "high"},
			{Name: "medium", Flow: 0.03, Shut: []alarms.PlaceID{h.Loop.Pipes[0].Outlet}}, {Name: "turned", Direction: alarms.Up}}})
	}
	h.Openings = []alarms.HandOpening{{ID: "front", Kind: alarms.KindDoor, Place: "bench", Probe: shows("front-contact", alarms.Contact).Probe,
		Inverted: true, ShutBy: pick(rnd, 0, -1, 13*time.Hour)}}
	h.Places = append(h.Places, alarms.Place{ID: "box", Probes: box})
	if rnd.IntN(2) == 0 {
		h.Places = append(h.Places, alarms.Place{ID: "outside", Probes: []alarms.Probe{{ID: alarms.ProbeID(name + "outside"), Every: every,
			Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}})
	}
}

// showing reports whether p shows a drive or a selector.
func showing(p alarms.Probe) bool {
	switch p.Streams[0].Quantity {
	case alarms.Current, alarms.Contact, alarms.Power:
		return true
	}
	return false
}

// wildEvidence lets a probe show now this, now that, and nothing for a while.
func (s *story) wildEvidence(p alarms.Probe) {
	rnd, every := s.rnd, int(usual(p).Seconds())
	on, draws := false, 0.33
	for t := rnd.IntN(every); t < s.length; t += every {
		switch rnd.IntN(40) {
		case 0, 1, 2:
			on, draws = !on, pick(rnd, 0.33, 0.33, 0.33, 0.15, 0.7)
		case 3:
			t += every * rnd.IntN(30)
		}
		in := alarms.Input{At: s.at(min(t, s.length)), Kind: alarms.ReadingIn, Probe: p.ID, Quantity: p.Streams[0].Quantity}
		switch {
		case on && in.Quantity == alarms.Contact:
			in.Value = 1
		case on:
			in.Value = draws
		}
		in.Retained = rnd.IntN(80) == 0
		s.inputs = append(s.inputs, in)
	}
}

// turnsSelectors lets people turn what they can turn, and change the season.
func (s *story) turnsSelectors() {
	for _, h := range s.plan.Houses {
		for _, sel := range h.Selectors {
			for range s.rnd.IntN(4) {
				s.inputs = append(s.inputs, alarms.Input{At: s.at(s.second()), Kind: alarms.SetSelector, House: h.ID, Selector: sel.ID,
					Position: pick(s.rnd, sel.Positions...).Name, By: "grower"})
			}
			for range s.rnd.IntN(3) {
				s.inputs = append(s.inputs, alarms.Input{At: s.at(s.second()), Kind: alarms.SetSeason, House: h.ID, Season: pick(s.rnd, alarms.Seasons...)})
			}
		}
	}
}

// calmControls puts season and selectors to where nothing is asked of a drive
// that stands.
func (s *story) calmControls(do func(alarms.Input)) {
	for _, h := range s.plan.Houses {
		for _, sel := range h.Selectors {
			do(alarms.Input{Kind: alarms.SetSeason, House: h.ID, Season: alarms.SeasonOpen})
			do(alarms.Input{Kind: alarms.SetSelector, House: h.ID, Selector: sel.ID, Position: sel.Positions[0].Name})
		}
	}
}

// provedByHand lets a drive run for a while in the calm: what it draws is as
// usual, and it has run today.
func (s *story) provedByHand(p alarms.Probe) {
	if showing(p) && !strings.HasSuffix(string(p.ID), "selector") {
		for i := range s.inputs {
			in := &s.inputs[i]
			if minute := in.At.Sub(s.start).Minutes(); in.Probe == p.ID && minute > 60 && minute < 66 {
				in.Value = map[alarms.Quantity]float64{alarms.Contact: 1}[in.Quantity]
				if in.Quantity != alarms.Contact {
					in.Value = 0.33
				}
			}
		}
	}
}

// coverAndUncover lets every drive that follows rest for a moment: what had no
// occasion to run and cannot be seen is forgiven.
func (s *story) coverAndUncover() {
	for _, h := range s.plan.Houses {
		for i, season := range []alarms.Season{alarms.SeasonWinter, alarms.SeasonOpen} {
			s.inputs = append(s.inputs, alarms.Input{At: s.at(s.length + 1 + i), Kind: alarms.SetSeason, House: h.ID, Season: season})
		}
	}
}

// controlIDs are alarms of the drives of h that a person may take up.
func controlIDs(h alarms.House) []alarms.AlarmID {
	var ids []alarms.AlarmID
	for _, d := range h.Drives {
		for _, verdict := range []string{"did-not-start", "stopped-early", "did-not-stop", "ran-alone", "switching"} {
			ids = append(ids, alarms.AlarmID(h.ID)+"/"+alarms.AlarmID(d.ID)+"/"+alarms.AlarmID(verdict))
		}
	}
	return ids
}

// drifts reports whether an alarm ends only with right switchings.
func drifts(id alarms.AlarmID) bool { return strings.Contains(string(id), "/dial/drifted-") }
