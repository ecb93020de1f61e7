package alarms

import (
	"math"
	"slices"

	"telltale/alarms/control"
)

// feed gives st's new value to all that it is evidence of.
func (e *Engine) feed(st *stream, now instant) {
	if len(st.probe.place.house.plan.Selectors) > 0 {
		e.readSelectors(st, now)
	}
	if !st.usable() { // what is sick shows nothing
		return
	}
	for _, ev := range st.evidence {
		e.tell(ev.m, ev.m.judge.Evidence(control.Moment(now), ev.drive, ev.index, st.Value), now)
	}
}

// feel gives the temperature of p to the thermostats that hang there, and to
// those that weigh it as the outside.
func (e *Engine) feel(p *place, now instant) {
	if p.house.outside == p {
		p.house.Outdoors.breathe(p.temperature())
	}
	for _, m := range p.house.mechanisms {
		if m.place == p {
			t := p.temperature()
			e.tell(m, m.judge.Temperature(control.Moment(now), t), now)
			if !math.IsNaN(t) {
				e.infer(m, t, m.house.outsideNow(), now)
			}
		}
		if m.house.outside == p {
			e.tell(m, m.judge.Outside(control.Moment(now), p.temperature()), now)
		}
	}
}

// outsideNow is the temperature outside, NaN where it is not known.
func (h *house) outsideNow() float64 {
	if h.outside == nil {
		return math.NaN()
	}
	return h.outside.temperature()
}

// temperature is the mean of what p's usable probes say, NaN for none.
func (p *place) temperature() float64 {
	pt := p.point(Temperature)
	if pt == nil {
		return math.NaN()
	}
	sum, n := 0.0, 0
	for _, st := range pt.streams {
		if st.usable() {
			sum += st.Value
			n++
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return sum / float64(n)
}

// loseWorks tells the mechanisms of p's house what of p is not known any more.
func (e *Engine) loseWorks(p *place, now instant) {
	if len(p.house.mechanisms) == 0 {
		return
	}
	for _, pr := range p.probes {
		for _, st := range pr.streams {
			if len(st.evidence) == 0 || st.usable() {
				continue
			}
			for _, ev := range st.evidence {
				e.tell(ev.m, ev.m.judge.Evidence(control.Moment(now), ev.drive, ev.index, math.NaN()), now)
			}
		}
	}
	if math.IsNaN(p.temperature()) {
		e.feel(p, now)
	}
}

// blindMechanisms tells every judge of h that nothing is known any more.
func (e *Engine) blindMechanisms(h *house, now instant) {
	for _, m := range h.mechanisms {
		e.tell(m, m.judge.Blind(control.Moment(now)), now)
	}
}

// arrange tells every judge of h what season and selectors want now.
func (e *Engine) arrange(h *house, now instant) {
	for _, m := range h.mechanisms {
		e.tell(m, m.judge.Arrange(control.Moment(now), m.arrangement()), now)
	}
}

func (v *finding) level() Level {
	if v.last.On {
		return Outer
	}
	return Within
}

// spokenFor returns the alarm that already says v. A shutter that stays shut
// because its fan's circuit or contact is dead, or against which its fan is
// told to strain, needs no call of its own; when a dead fan runs again the
// shutter has its own time to follow. Nor does a fan that strains need one when
// it is told that it must not run at all.
func (m *mechanism) spokenFor(v *finding, now instant) *alarm {
	for _, other := range m.order {
		if !m.speaks(other, v) {
			continue
		}
		if other.last.On {
			return other.alarm
		}
		follows := instant(other.last.Due).add(m.drives[v.key.drive].Start)
		if other.key.kind == v.key.kind && now < follows {
			if due := m.follows.due; due <= now || follows < due {
				m.engine.timers.set(m.follows, follows)
			}
			return other.alarm
		}
	}
	return nil
}

// speaks reports whether other says v along with it, if it is on.
func (m *mechanism) speaks(other, v *finding) bool {
	switch v.key.kind {
	case control.DidNotStart, control.StoppedEarly:
		if other.key.kind != v.key.kind && other.key.kind != control.RanAlone {
			return false
		}
		leads, led := m.drives[other.key.drive], m.drives[v.key.drive]
		return slices.Contains(leads.With, led.ID) && !slices.Contains(led.With, leads.ID)
	case control.RanAlone:
		return other.key == foundKey{control.RanBarred, v.key.drive, -1}
	}
	return false
}

// respeak brings every alarm to its verdict and to who speaks for it.
func (m *mechanism) respeak(now instant) {
	for _, v := range m.order {
		if v.last.On || v.alarm.Condition != Within {
			m.engine.apply(v.alarm, v.level(), m.spokenFor(v, now), now)
		}
	}
}

// tell makes alarms of findings and lines of the log of switchings.
func (e *Engine) tell(m *mechanism, told control.Told, now instant) {
	for _, f := range told.Findings {
		v := m.finding(f)
		v.last = f
		e.apply(v.alarm, v.level(), m.spokenFor(v, instant(f.Due)), instant(f.Due))
	}
	if len(told.Findings) > 0 || m.adopted {
		m.respeak(now)
		m.adopted = false
	}
	for _, s := range told.Switchings {
		m.noteSwitching(s, now)
	}
	next, ok := m.judge.Next()
	if !ok {
		next = 0
	}
	e.timers.set(m.timer, instant(next))
}
