package alarms

import (
	"cmp"
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
	for _, o := range st.opens {
		e.moveOpening(o, o.plan.opens(st.Value), now)
	}
}

// feel gives the temperature of p to the thermostats that hang there, and to
// those that weigh it as the outside.
func (e *Engine) feel(p *place, now instant) {
	if p.house.outside == p {
		p.house.Outdoors.breathe(p.temperature())
	}
	if p == p.house.fanned {
		p.house.warm(p.temperature(), now)
	}
	for _, m := range p.house.mechanisms {
		m.feel(bulb{p, Temperature}, now)
		if t := p.temperature(); m.place == p && !math.IsNaN(t) {
			e.infer(m, t, m.house.outsideNow(), now)
		}
		if m.house.outside == p {
			e.tell(m, m.judge.Outside(control.Moment(now), p.temperature()), now)
		}
	}
	for _, o := range p.house.openings {
		if o.place == p || p.house.outside == p {
			e.judgeOpening(o, now)
		}
	}
}

// feelHumid gives the humidity of p to the humidistats that hang there.
func (e *Engine) feelHumid(p *place, now instant) {
	for _, m := range p.house.mechanisms {
		m.feel(bulb{p, Humidity}, now)
	}
}

// feel tells the judge of m what b feels, if it is one of m's.
func (m *mechanism) feel(b bulb, now instant) {
	if i := slices.Index(m.bulbs, b); i >= 0 {
		m.judge.Limits(b.place.bounds(b.quantity))
		m.engine.tell(m, m.judge.Feel(control.Moment(now), i, b.value()), now)
	}
}

// bounds are the low and the high limit of q at p now, NaN for none.
func (p *place) bounds(q Quantity) (low, high float64) {
	low, high = math.NaN(), math.NaN()
	if pt := p.point(q); pt != nil && pt.banded {
		if pt.inForce().Low.Set {
			low = pt.inForce().Low.Value
		}
		if pt.inForce().High.Set {
			high = pt.inForce().High.Value
		}
	}
	return low, high
}

// outsideNow is the temperature outside, NaN where it is not known.
func (h *house) outsideNow() float64 {
	if h.outside == nil {
		return math.NaN()
	}
	return h.outside.temperature()
}

// temperature is the mean of what p's usable probes say, NaN for none.
func (p *place) temperature() float64 { return p.mean(Temperature) }

// mean is the mean of what p's usable probes say of q, NaN for none.
func (p *place) mean(q Quantity) float64 {
	pt := p.point(q)
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
	if math.IsNaN(p.mean(Humidity)) {
		e.feelHumid(p, now)
	}
}

// blindMechanisms tells every judge of h that nothing is known any more.
func (e *Engine) blindMechanisms(h *house, now instant) {
	for _, m := range h.mechanisms {
		e.tell(m, m.judge.Blind(control.Moment(now)), now)
	}
}

// arrange tells every judge of h, and its loop, what season and selectors want now.
func (e *Engine) arrange(h *house, now instant) {
	for _, m := range h.mechanisms {
		e.tell(m, m.judge.Arrange(control.Moment(now), m.arrangement(now)), now)
	}
	e.awaitTurn(h, now)
	if h.loop != nil && h.loop.settable {
		e.turnLoop(h, now)
	}
}

func (v *finding) level() Level {
	if v.last.On {
		return Outer
	}
	return Within
}

// spokenFor returns the alarm that already says v. What stands because its own
// circuit is told as lost needs no call of its own; when that has power again, it
// has its own time to start. A shutter that stays shut because its fan's circuit
// or contact is dead, or against which its fan is told to strain, needs none
// either; when a dead fan runs again the shutter has its own time to follow. Nor
// does a fan that strains need one when it is told that it must not run at all.
func (m *mechanism) spokenFor(v *finding, now instant) *alarm {
	if by := m.tried(v); by != nil {
		return by
	}
	if v.key.kind == control.SeasonUnfit {
		return m.house.unfit(v)
	}
	if by := m.unfed(v, now); by != nil {
		return by
	}
	for _, other := range m.order {
		if !m.speaks(other, v) || other.alarm.State.Aside() {
			continue
		}
		if other.last.On {
			return cmp.Or(m.unfed(other, now), other.alarm)
		}
		follows := instant(other.last.Due).add(m.drives[v.key.drive].Start)
		if other.key.kind == v.key.kind && now < follows {
			m.askAgain(follows, now)
			return other.alarm
		}
	}
	return nil
}

// askAgain lets it be looked at anew at t who speaks for whom.
func (m *mechanism) askAgain(t, now instant) {
	if due := m.follows.due; due <= now || t < due {
		m.engine.timers.set(m.follows, t)
	}
}

// unfed returns the alarm that tells that the circuit of v's drive is lost, or was
// until just now, where that says v; nil for none.
func (m *mechanism) unfed(v *finding, now instant) *alarm {
	if !m.needsPower(v) {
		return nil
	}
	d := m.drives[v.key.drive]
	if by := m.house.lostFeed(d); by != nil {
		return by.alarm
	}
	for n := m.house.feed(d); n != nil; n = n.feeding() {
		if starts := n.Back.add(d.Start); n.Back != 0 && now < starts && !n.Mute && !n.alarm.State.Aside() {
			m.askAgain(starts, now)
			return n.alarm
		}
	}
	return nil
}

// needsPower reports whether v, now on, would be no wonder without power.
func (m *mechanism) needsPower(v *finding) bool {
	return v.key.drive >= 0 && v.last.On && slices.Contains(control.WithoutPower, v.key.kind)
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

// unfit returns the alarm that says for the whole house that its season does not
// fit, nil where that is v's own: the first of those that are on.
func (h *house) unfit(v *finding) *alarm {
	var first *finding
	for _, m := range h.mechanisms {
		for _, other := range m.order {
			if other.key.kind == control.SeasonUnfit && other.last.On && !other.alarm.State.Aside() &&
				(first == nil || other.last.Due < first.last.Due) {
				first = other
			}
		}
	}
	if first == nil || first == v {
		return nil
	}
	return first.alarm
}

// restate lets it be looked at anew, at the end of the instant, for whom v
// speaks: others of m, or where the season does not fit of all its house.
func (e *Engine) restate(v *finding, m *mechanism) {
	all := []*mechanism{m}
	if v.key.kind == control.SeasonUnfit {
		all = m.house.mechanisms
	}
	for _, m := range all {
		e.restateAll(m)
	}
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
		if f.Kind == control.SeasonUnfit {
			e.restate(v, m)
		}
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
