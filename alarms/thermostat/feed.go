package thermostat

import (
	"cmp"
	"math"
	"slices"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/infer"
	"telltale/alarms/timing"
)

// feel tells the judge of m what b feels, if it is one of m's.
func (m *Thermostat) feel(b bulb, now timing.Instant) {
	if i := slices.Index(m.bulbs, b); i >= 0 {
		m.judge.Limits(b.place.Bounds(b.quantity))
		m.tell(m.judge.Feel(now, i, b.value()), now)
	}
}

// Feel takes the temperature or the humidity of a place, of which something is new.
func (m *Thermostat) Feel(p Place, q alarms.Quantity, now timing.Instant) { m.feel(bulb{p, q}, now) }

// Outside takes the temperature outside.
func (m *Thermostat) Outside(v float64, now timing.Instant) {
	m.tell(m.judge.Outside(now, v), now)
}

// Blind is when nothing is known any more.
func (m *Thermostat) Blind(now timing.Instant) { m.tell(m.judge.Blind(now), now) }

// Day is when a new day begins.
func (m *Thermostat) Day(now timing.Instant) { m.tell(m.judge.Day(now), now) }

// Arrange takes in what season and selectors want now.
func (m *Thermostat) Arrange(now timing.Instant) {
	m.tell(m.judge.Arrange(now, m.arrangement(now)), now)
}

// Shift moves what is held of the past of q at p, of which a probe was calibrated.
func (m *Thermostat) Shift(p Place, q alarms.Quantity, by float64) {
	if i := slices.Index(m.bulbs, bulb{p, q}); i >= 0 {
		m.judge.Shift(i, by)
	}
	if m.sense != nil && m.place == p && q == alarms.Temperature {
		m.sense.Shift(by)
	}
}

// Needs is what is needed now by the dials, air or warmth.
func (m *Thermostat) Needs() control.Sign { return m.judge.Needs() }

// Unpowered adds the alarms whose verdicts, now on, are no wonder where a drive rests on
// a circuit that is lost.
func (m *Thermostat) Unpowered(lost func(*alarms.Drive) bool) (all []alarms.AlarmID) {
	for _, v := range m.order {
		if v.needsPower() && lost(m.drives[v.key.drive]) {
			all = append(all, v.alarm.ID)
		}
	}
	return all
}

// Drives are those of m.
func (m *Thermostat) Drives() []*alarms.Drive { return m.drives }

// Runs reports whether it is shown that a drive runs.
func (m *Thermostat) Runs(id alarms.DriveID) bool {
	i := m.indexOf(id)
	return i >= 0 && m.judge.Proof(i).State == control.Running
}

// Share is how likely a drive of m runs, 1 or 0 where that is shown; NaN for not known.
func Share(m *Thermostat, id alarms.DriveID) float64 {
	i := m.indexOf(id)
	if i < 0 {
		return math.NaN()
	}
	shown := m.judge.Proof(i).State
	b, ok := m.belief(i)
	if shown == control.Unknown && ok && b.Settled {
		if shown = b.Shown(); shown == control.Unknown {
			return b.Running
		}
	}
	switch shown {
	case control.Running:
		return 1
	case control.Standing:
		return 0
	}
	return math.NaN()
}

// Wanted reports whether season and selectors let d run now, which must be one of m's.
func (m *Thermostat) Wanted(d *alarms.Drive) bool {
	w := m.want(d, m.panel.Now)
	return m.indexOf(d.ID) >= 0 && (w.Wish == control.Follow || w.Wish == control.Run || w.Wish == control.ByTurns || w.Hours.On)
}

func (v *finding) level() alarms.Level {
	if v.last.On {
		return alarms.Outer
	}
	return alarms.Within
}

// unfit returns the alarm that says for the whole house that its season does not fit,
// "" where that is v's own: the first of those that are on.
func (v *finding) unfit() alarms.AlarmID {
	var first *finding
	for _, m := range v.m.house.All() {
		for _, other := range m.order {
			if other.key.kind == control.SeasonUnfit && other.last.On && !other.alarm.State.Aside() &&
				(first == nil || other.last.Due < first.last.Due) {
				first = other
			}
		}
	}
	if first == nil || first == v {
		return ""
	}
	return first.alarm.ID
}

// spokenFor returns the alarm that already says v. What stands because its own
// circuit is told as lost needs no call of its own; when that has power again, it
// has its own time to start. A shutter that stays shut because its fan's circuit
// or contact is dead, or against which its fan is told to strain, needs none
// either; when a dead fan runs again the shutter has its own time to follow. Nor
// does a fan that strains need one when it is told that it must not run at all.
func (v *finding) spokenFor(now timing.Instant) alarms.AlarmID {
	if by := v.tried(); by != "" {
		return by
	}
	if v.key.kind == control.SeasonUnfit {
		return v.unfit()
	}
	if by := v.unfed(now); by != "" {
		return by
	}
	for _, other := range v.m.order {
		if !other.speaks(v) || other.alarm.State.Aside() {
			continue
		}
		if other.last.On {
			return cmp.Or(other.unfed(now), other.alarm.ID)
		}
		follows := timing.Instant(other.last.Due).Add(v.m.drives[v.key.drive].Start)
		if other.key.kind == v.key.kind && now < follows {
			v.m.askAgain(follows, now)
			return other.alarm.ID
		}
	}
	return ""
}

// askAgain lets it be looked at again at t who speaks for whom.
func (m *Thermostat) askAgain(t, now timing.Instant) {
	if due := m.follows.Due; due <= now || t < due {
		m.panel.Timers.Set(m.follows, t)
	}
}

// unfed returns the alarm that tells that the circuit of v's drive is lost, or was
// until just now, where that says v; "" for none.
func (v *finding) unfed(now timing.Instant) alarms.AlarmID {
	if !v.needsPower() {
		return ""
	}
	by, starts := v.m.house.Unfed(v.m.drives[v.key.drive], now)
	if starts != 0 {
		v.m.askAgain(starts, now)
	}
	return by
}

// needsPower reports whether v, now on, would be no wonder without power.
func (v *finding) needsPower() bool {
	return v.key.drive >= 0 && v.last.On && slices.Contains(control.WithoutPower, v.key.kind)
}

// speaks reports whether other says v along with it, if it is on.
func (other *finding) speaks(v *finding) bool {
	switch v.key.kind {
	case control.DidNotStart, control.StoppedEarly:
		if other.key.kind != v.key.kind && other.key.kind != control.RanAlone {
			return false
		}
		leads, led := v.m.drives[other.key.drive], v.m.drives[v.key.drive]
		return slices.Contains(leads.With, led.ID) && !slices.Contains(led.With, leads.ID)
	case control.RanAlone:
		return other.key == foundKey{control.RanBarred, v.key.drive, -1}
	}
	return false
}

// restate lets it be looked at again, at the end of the instant, for whom v
// speaks: others of m, or where the season does not fit of all its house.
func (v *finding) restate() {
	all := []*Thermostat{v.m}
	if v.key.kind == control.SeasonUnfit {
		all = v.m.house.All()
	}
	for _, m := range all {
		m.Restate()
	}
}

// Respeak brings every alarm to its verdict and to who speaks for it.
func (m *Thermostat) Respeak(now timing.Instant) {
	for _, v := range m.order {
		if v.last.On || v.alarm.Condition != alarms.Within {
			v.alarm.Apply(v.level(), v.spokenFor(now), now)
		}
	}
}

// tell makes alarms of findings and lines of the log of switchings.
func (m *Thermostat) tell(told control.Told, now timing.Instant) {
	for _, f := range told.Findings {
		v := m.finding(f)
		v.last = f
		v.alarm.Apply(v.level(), v.spokenFor(timing.Instant(f.Due)), timing.Instant(f.Due))
		if f.Kind == control.SeasonUnfit {
			v.restate()
		}
	}
	if len(told.Findings) > 0 || m.adopted {
		m.Respeak(now)
		m.adopted = false
	}
	for _, s := range told.Switchings {
		m.log[s.Drive].write(s, now)
	}
	next, ok := m.judge.Next()
	if !ok {
		next = 0
	}
	m.panel.Timers.Set(m.timer, timing.Instant(next))
}

// Infer lets the temperatures say whether the exhaust fan runs, where p is what m's
// first thermostat feels.
func (m *Thermostat) Infer(p Place, inside, outside float64, now timing.Instant) {
	if m.sense == nil || m.place != p || math.IsNaN(inside) {
		return
	}
	m.sense.Ahead = m.panel.Clock.Ahead
	_, change := m.sense.Step(now.UTC().In(m.house.Plan().Day.Zone), inside, outside)
	switch change.Kind {
	case infer.NoChange:
	case infer.Lost:
		m.tell(m.judge.Uninferred(now, m.guess), now)
	default:
		runs := change.Kind == infer.Start
		m.tell(m.judge.Inferred(now, m.guess, runs, timing.At(change.At)), now)
	}
}
