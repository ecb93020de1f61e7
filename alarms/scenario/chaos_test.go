package scenario_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
)

// TestNothingStaysStuck lets everything go wrong by chance for an hour or two:
// faults, silences, link, restarts, people. Promises must hold all the time.
// Then all is well for long enough, and every alarm must be normal or waiting
// to be seen: no alarm active, suppressed, shelved or out of service.
func TestNothingStaysStuck(t *testing.T) {
	seen := eachSchedule(t, 120, func(t *testing.T, seed uint64, seen map[string]int) {
		plan, inputs, calm := chaos(seed)
		check := func(wild []alarms.Input) error { return survives(plan, wild, calm, seed, seen) }
		if err := check(inputs); err != nil {
			fails(t, seed, plan, inputs, err, check)
		}
	})
	for _, rule := range []string{"limit", "rate", "fault", "silent", "unwatched", "link", "restart", "trouble", "person",
		"out-of-range", "fault-value", "spikes", "stuck", "pinned-humidity", "unreadable", "outlier", "disagrees", "clock",
		"low-battery", "weak-signal", "control", "switching", "did-not-start", "stopped-early", "did-not-stop", "ran-uncalled",
		"ran-barred", "open-unneeded", "opening", "left-open", "cooling", "ran-alone", "contradiction", "draws-more", "draws-less"} {
		if thorough && seen[rule] < 2 {
			t.Errorf("only %d times %s: the schedules are too dull", seen[rule], rule)
		}
	}
}

func survives(plan alarms.Plan, wild, calm []alarms.Input, seed uint64, seen map[string]int) error {
	p, err := newPromises(plan)
	if err != nil {
		return err
	}
	all := append(append([]alarms.Input{}, wild...), calm...)
	for i, in := range all {
		if err := p.step(in); err != nil {
			return fmt.Errorf("input %d (%s at %s): %w", i, in.Kind, in.At.UTC().Format(time.DateTime), err)
		}
	}
	for _, tr := range p.all {
		seen[string(tr.Reason.Rule)]++
		seen[string(tr.Reason.Fault)]++
		seen[tr.Reason.Verdict]++
	}
	for _, a := range say.Picture(p.engine.Plan(), p.engine.Picture(), say.Of(p.engine.Plan())).Alarms {
		if (a.State != alarms.ReturnedUnack || a.Active) && !drifts(a.ID) {
			return fmt.Errorf("when all has been well for long: %s is %s (active: %v): %s", a.ID, a.State, a.Active, a.Sentence)
		}
	}
	if seed%10 == 0 {
		from := min(len(wild), int(seed)%300) // the beginning is always dull
		return survivesChanges(plan, wild[from:min(len(wild), from+300)], seed)
	}
	return nil
}

// chaosPlan makes a plan with everything in it.
func chaosPlan(rnd *rand.Rand) alarms.Plan {
	p := alarms.Plan{Chatter: alarms.ChatterRule{Hold: 10 * time.Minute}, Reminders: alarms.Reminders{High: 20 * time.Minute}}
	n := 0
	for i := range 1 + rnd.IntN(2) {
		h := alarms.House{ID: [...]alarms.HouseID{"long-house", "low-house"}[i],
			Circuits: []alarms.Circuit{{ID: "north", FedBy: pick(rnd, alarms.CircuitID(""), "south")}, {ID: "south"}},
			Day:      alarms.DayRule{Fixed: rnd.IntN(3) > 0, Start: 8 * time.Hour, End: 9 * time.Hour, Settle: pick(rnd, -1, 0, 20*time.Minute)}}
		for j := range 1 + rnd.IntN(3) {
			place := chaosPlace(rnd, [...]alarms.PlaceID{"bench", "staging", "ridge"}[j])
			for range 1 + rnd.IntN(3) {
				n++
				place.Probes = append(place.Probes, chaosProbe(rnd, n, place.Disagree == nil))
			}
			tidy(&place)
			h.Places = append(h.Places, place)
		}
		h.Loop = chaosLoop(h.Places)
		if rnd.IntN(2) == 0 {
			chaosControl(rnd, &h)
		}
		p.Houses = append(p.Houses, h)
	}
	return p
}

// tidy takes out of p what nothing measures, and gives rates the time that slow
// probes need.
func tidy(p *alarms.Place) {
	p.Bands = slices.DeleteFunc(p.Bands, func(b alarms.Band) bool { return !p.Sees(b.Quantity) })
	for _, pr := range p.Probes {
		for i := range p.Rates {
			p.Rates[i].Window = max(p.Rates[i].Window, 30*time.Minute, 5*pr.Every)
		}
	}
}

// chaosLoop draws air of the first place through pipes to the others while it
// is warm there. Its ground is not known, so it counts heat and accuses nobody
// of no flow.
func chaosLoop(places []alarms.Place) *alarms.Loop {
	if len(places) < 2 {
		return nil
	}
	l := &alarms.Loop{House: places[0].ID, FanWatts: 50,
		Runs: alarms.Evidence{Probe: places[0].Probes[0].ID, Quantity: alarms.Temperature, Above: alarms.At(17)}}
	for _, p := range places[1:] {
		l.Pipes = append(l.Pipes, alarms.Pipe{Outlet: p.ID, Depth: 2, Flow: 0.05})
	}
	return l
}

func chaosPlace(rnd *rand.Rand, id alarms.PlaceID) alarms.Place {
	p := alarms.Place{ID: id, DisagreeFor: 10 * time.Minute, Bands: []alarms.Band{
		{Quantity: alarms.Temperature, Deadband: pick(rnd, 0.5, 2),
			Delay: pick(rnd, 0, -1, 3*time.Minute), QuickDelay: pick(rnd, 0, -1, time.Minute), ClearDelay: pick(rnd, 0, -1, 4*time.Minute),
			Limits: alarms.Limits{LowLow: alarms.At(4), Low: alarms.At(10), High: alarms.At(26), HighHigh: alarms.At(32)}},
		{Quantity: alarms.Temperature, When: alarms.Night, Limits: alarms.Limits{High: alarms.At(23)}},
		{Quantity: alarms.Temperature, Seasons: []alarms.Season{alarms.SeasonWinter}, Limits: alarms.Limits{Low: alarms.At(6)}},
	}}
	if p.Bands[0].Delay < 0 {
		p.Bands[0].QuickDelay = -1
	}
	if rnd.IntN(2) == 0 {
		p.Bands = append(p.Bands, alarms.Band{Quantity: alarms.Humidity, Limits: alarms.Limits{Low: alarms.At(40), High: alarms.At(90)}},
			alarms.Band{Quantity: alarms.VPD, Limits: alarms.Limits{High: alarms.At(1.4)}},
			alarms.Band{Quantity: alarms.DewMargin, Limits: alarms.Limits{Low: alarms.At(1)}})
	}
	if rnd.IntN(2) == 0 {
		p.Rates = []alarms.RateLimit{{Quantity: alarms.Temperature, Rise: alarms.At(12), Fall: alarms.At(8)}}
	}
	if rnd.IntN(20) > 0 {
		p.Disagree = map[alarms.Quantity]float64{alarms.Temperature: 0, alarms.Humidity: 0, alarms.Surface: 0} // any
	}
	return p
}

// chaosProbe makes a slow probe where the calm has to last for a day.
func chaosProbe(rnd *rand.Rand, n int, slow bool) alarms.Probe {
	p := alarms.Probe{ID: alarms.ProbeID(fmt.Sprintf("probe-%d", n)),
		Kind:    pick(rnd, alarms.KindPlain, alarms.KindOneWire, alarms.KindThermistor, alarms.KindCapacitive),
		Circuit: pick(rnd, alarms.CircuitID(""), "north", "north", "south"),
		Every:   pick(rnd, 0, 2*time.Minute, 5*time.Minute, 10*time.Minute),
		Streams: []alarms.Stream{{Quantity: alarms.Temperature, StuckFor: 30 * time.Minute}}}
	more := []alarms.Stream{{Quantity: alarms.Humidity, StuckFor: 30 * time.Minute}, {Quantity: alarms.Surface}, {Quantity: alarms.Battery}, {Quantity: alarms.Signal}}
	if slow {
		p.Every = 10 * time.Minute
	}
	for _, s := range more {
		if rnd.IntN(2) == 0 {
			p.Streams = append(p.Streams, s)
		}
	}
	return p
}

// chaos makes a plan, wild inputs and the calm after them.
func chaos(seed uint64) (alarms.Plan, []alarms.Input, []alarms.Input) {
	rnd := rand.New(rand.NewPCG(seed, 4))
	s := &story{rnd: rnd, plan: chaosPlan(rnd), length: 3600 + rnd.IntN(5400),
		start: time.Date(2026, 6, 21, 7, 0, 0, 0, time.UTC).Add(time.Duration(rnd.IntN(7200)) * time.Second)}
	ids := []alarms.AlarmID{"watch/broker/silent", "watch/restart", alarms.TroubleDisk}
	for _, h := range s.plan.Houses {
		ids = append(ids, alarms.AlarmID(h.ID)+"/silent", alarms.AlarmID(h.ID)+"/north/silent", alarms.AlarmID(h.ID)+"/season")
		for _, p := range h.Places {
			base := alarms.AlarmID(h.ID) + "/" + alarms.AlarmID(p.ID)
			ids = append(ids, base+"/unwatched", base+"/temperature/high", base+"/temperature/low", base+"/temperature/disagrees")
			for _, pr := range p.Probes {
				ids = append(ids, base+"/"+alarms.AlarmID(pr.ID)+"/silent")
				if showing(pr) {
					s.wildEvidence(pr)
				} else {
					s.wild(pr)
				}
			}
		}
		ids = append(ids, controlIDs(h)...)
	}
	s.turnsSelectors()
	for range rnd.IntN(20) {
		s.person(ids)
	}
	s.calibrates()
	for range rnd.IntN(4) {
		kind := pick(rnd, alarms.TroubleOn, alarms.TroubleOff)
		s.inputs = append(s.inputs, alarms.Input{At: s.at(s.second()), Kind: kind, Alarm: pick(rnd, alarms.Troubles...), Note: "by chance"})
	}
	s.inOrder()
	for range rnd.IntN(3) {
		s.without()
	}
	for range rnd.IntN(2) {
		s.gap(alarms.LinkDown, alarms.LinkUp, 300)
	}
	if rnd.IntN(3) == 0 {
		s.gap(alarms.Tick, alarms.RestartMarker, 300)
	}
	for range rnd.IntN(3) * rnd.IntN(2) { // the clock on the wall is set
		if i := rnd.IntN(len(s.inputs) + 1); i < len(s.inputs) {
			step := alarms.Input{At: s.inputs[i].At, Kind: alarms.ClockStep, Shift: pick(rnd, time.Minute, -time.Hour, 3*time.Hour, -20*24*time.Hour, 12*365*24*time.Hour)}
			s.inputs = slices.Insert(s.inputs, i, step)
		}
	}
	wild := s.inputs
	return s.plan, wild, s.calm(ids)
}

// wild lets a probe report whatever comes.
func (s *story) wild(p alarms.Probe) {
	rnd := s.rnd
	every := int(usual(p).Seconds())
	v, drift, same, ill := 18+6*rnd.Float64(), 0.0, math.NaN(), 0
	clock := pick(rnd, 0, 0, -time.Second, -time.Second, time.Hour, -40*time.Minute)
	for t := rnd.IntN(every); t < s.length; t += every - 2 + rnd.IntN(5) {
		if rnd.IntN(10) == 0 {
			drift = 3 * rnd.NormFloat64()
		}
		v = min(max(v+drift+0.3*rnd.NormFloat64(), -5), 45)
		switch rnd.IntN(60) {
		case 0:
			t += every * rnd.IntN(20)
		case 1:
			ill = rnd.IntN(12)
		case 2:
			same = v
		case 3:
			clock = pick(rnd, 0, -time.Second)
		}
		if t >= s.length {
			return
		}
		if ill--; ill > 0 && rnd.IntN(3) == 0 {
			s.inputs = append(s.inputs, alarms.Input{At: s.at(t), Kind: alarms.GarbledIn, Probe: p.ID, Note: "no number"})
			continue
		}
		for _, st := range p.Streams {
			in := alarms.Input{At: s.at(t), Kind: alarms.ReadingIn, Probe: p.ID, Quantity: st.Quantity, Value: s.value(st.Quantity, v, ill > 0)}
			if !math.IsNaN(same) && st.Quantity != alarms.Battery && rnd.IntN(40) > 0 {
				in.Value = same
			}
			if clock != 0 {
				in.Measured = in.At.Add(clock)
			}
			in.Retained = rnd.IntN(80) == 0
			if rnd.IntN(20) > 0 {
				s.inputs = append(s.inputs, in)
			}
		}
	}
}

func (s *story) value(q alarms.Quantity, v float64, ill bool) float64 {
	rnd := s.rnd
	if ill {
		return pick(rnd, v, 85, -127, math.NaN(), math.Inf(1), 900, v+15, v-15, 100)
	}
	switch q {
	case alarms.Humidity:
		return math.Round(min(160-5*v, 100))
	case alarms.Surface:
		return math.Round(10*v-8) / 10
	case alarms.Battery:
		return float64(10 + rnd.IntN(20))
	case alarms.Signal:
		return float64(-70 - rnd.IntN(30))
	}
	return math.Round(10*v) / 10
}

// without takes out all that some probes sent for a while: those of a
// circuit, of a house, or one.
func (s *story) without() {
	rnd := s.rnd
	house := pick(rnd, s.plan.Houses...)
	circuit := pick(rnd, alarms.CircuitID("north"), "south", "all")
	gone := map[alarms.ProbeID]bool{}
	for _, p := range house.Places {
		for _, pr := range p.Probes {
			gone[pr.ID] = circuit == "all" || pr.Circuit == circuit
		}
	}
	from := s.at(s.second())
	to := from.Add(time.Duration(rnd.IntN(2400)) * time.Second)
	var kept []alarms.Input
	for _, in := range s.inputs {
		sent := in.Kind == alarms.ReadingIn || in.Kind == alarms.GarbledIn
		if !sent || !gone[in.Probe] || in.At.Before(from) || in.At.After(to) {
			kept = append(kept, in)
		}
	}
	s.inputs = kept
}
