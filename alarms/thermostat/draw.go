package thermostat

import (
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/infer"
	"telltale/alarms/timing"
)

// unprovenAfter is how long a drive may go without having been seen to switch
// as it should, or tested by hand, until its sentence says so.
const unprovenAfter = 14 * 24 * time.Hour

// Picture is m's drives as they are now, and where its dials were found to switch on, as
// far as they were.
func (m *Thermostat) Picture() (drives []alarms.DrivePicture, dials []alarms.Dial) {
	for i := range m.drives {
		drives = append(drives, m.draw(i))
	}
	for i, s := range m.dials {
		if at, spread, n := m.judge.SwitchesOn(i); n > 0 {
			dials = append(dials, s.found(at, spread, n))
		}
	}
	return drives, dials
}

// found is d with where it was found to switch on.
func (d dial) found(at, spread float64, n int) alarms.Dial {
	out := alarms.Dial{Control: d.control.Name, Stage: d.Name, Quantity: d.Mode.Quantity(), Set: d.SetPoint, Found: at, Spread: spread, Count: n}
	if d.night {
		out.Stage, out.Set = d.Name+" by night", d.SetPointNight.Value
	}
	return out
}

func (m *Thermostat) draw(i int) alarms.DrivePicture {
	d, proof := m.drives[i], m.judge.Proof(i)
	p := alarms.DrivePicture{
		ID: d.ID, Name: d.Name, Kind: d.Kind, State: shownStates[proof.State], Call: proof.Call.String(),
		Timed: proof.Wish == control.ByHours, Evidenced: len(d.Evidence) > 0,
		StartsToday: proof.Today.Starts, RanToday: proof.Today.Ran, RightToday: proof.Today.Right,
		StartsTotal: proof.Total.Starts, RanTotal: proof.Total.Ran,
		LastProof: m.at(proof.Last), LastByHand: m.at(proof.LastByHand),
		Proof: proof, Want: m.want(d, m.panel.Now), OpensBy: m.opener(d.ID), Driven: m.driven(d), Heats: m.heats(i),
	}
	p.Covers.Known, p.Covers.On = m.house.Cover(d.ID)
	if f := m.failing(i); f != nil {
		p.Failing, p.Verdict = true, m.verdict(m.present(f))
	}
	log := m.log[i].alarm
	if p.Trial = log.ID; log.State == alarms.Shelved {
		p.TrialBy, p.TrialUntil = log.By, m.at(log.Until)
	}
	if proof.State == control.Running {
		p.Since = m.at(proof.Since)
	}
	if proof.Today.Right > 0 {
		p.FirstToday, p.FirstTemp = m.at(proof.Today.First), &proof.Today.FirstTemp
	}
	if b, ok := m.belief(i); ok {
		p.Belief, p.Inferred, p.Guess = &b, &b.Running, shownStates[b.Shown()]
	}
	if since, ok := m.judge.Unproven(i, unprovenAfter); ok && p.Evidenced {
		p.Unproven = m.at(since)
	}
	return p
}

var shownStates = map[control.Shown]alarms.DriveState{
	control.Unknown: alarms.DriveUnknown, control.Standing: alarms.DriveStanding, control.Running: alarms.DriveRunning,
}

// belief is what the temperatures say of drive i, which nothing else shows; ok
// false where nothing is inferred of it, as without a probe outside, or too little
// was heard for it.
func (m *Thermostat) belief(i int) (infer.Belief, bool) {
	if m.sense == nil || m.guess != i || m.sense.Last.IsZero() {
		return infer.Belief{}, false
	}
	b := m.sense.Belief(m.panel.Now.UTC())
	return b, b.Outside
}

// failing returns the gravest verdict that speaks against drive i now, nil for
// none.
func (m *Thermostat) failing(i int) *control.Finding {
	var worst *control.Finding
	for _, v := range m.order {
		if !v.last.On || v.key.drive != i {
			continue
		}
		if worst == nil || gravityOf(v.key.kind, m.drives[i]) > gravityOf(worst.Kind, m.drives[i]) {
			worst = &v.last
		}
	}
	return worst
}

// opener lists the drives that id must run with, where no stage drives it.
func (m *Thermostat) opener(id alarms.DriveID) (with []alarms.DriveID) {
	for _, s := range m.dials {
		if slices.Contains(s.Drives, id) {
			return nil
		}
	}
	for _, other := range m.drives {
		if slices.Contains(other.With, id) {
			with = append(with, other.ID)
		}
	}
	return with
}

// present is f as of now instead of when it began.
func (m *Thermostat) present(f *control.Finding) *control.Finding {
	now := m.asOf(*f, m.panel.Now)
	return &now
}

// asOf is f with what is known at a later moment.
func (m *Thermostat) asOf(f control.Finding, at timing.Instant) control.Finding {
	f.Due, f.TempKnown = at, false
	if b, ok := m.bulbOf(&f); ok {
		f.Temp = b.value()
		f.TempKnown, f.TempAt = !math.IsNaN(f.Temp), m.judge.ReadAt(slices.Index(m.bulbs, b))
	}
	return f
}

// toldFor is the verdict v as a move of its alarm tells it: what is told again
// is told as it is by then.
func (v *finding) toldFor(mv alarms.Move, due timing.Instant) control.Finding {
	switch {
	case v.last.Kind == control.NeverRan: // a verdict on a day that is over
	case mv == alarms.Realarm, mv == alarms.Release, mv == alarms.ShelveOff, mv == alarms.Back:
		return v.m.asOf(v.last, due)
	}
	return v.last
}

// heats reports whether the stages that drive drive i now only heat.
func (m *Thermostat) heats(i int) bool {
	found := false
	for _, s := range m.dials {
		if !slices.Contains(s.Drives, m.drives[i].ID) || len(s.Seasons) > 0 && !slices.Contains(s.Seasons, m.house.Season()) {
			continue
		}
		if s.Mode == alarms.Cooling {
			return false
		}
		found = true
	}
	return found
}
