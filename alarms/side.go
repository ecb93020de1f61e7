package alarms

import (
	"slices"
	"time"
)

// judgeSide compares what vs say with the limits of s.
func (e *Engine) judgeSide(s *side, vs []voice, now instant) {
	e.hearOut(s)
	if len(vs) == 0 {
		s.outer.stand(now)
		s.inner.stand(now)
		return
	}
	if s.outer.Since == 0 && s.inner.Since == 0 {
		s.word.clear()
	}
	b := s.point.inForce()
	if !e.timers.deaf() {
		s.follow(vs, now)
	}
	believed := slices.ContainsFunc(vs, func(v voice) bool { return v.doubt == "" })
	outer, inner := s.limits()
	clear, _ := s.word.wait(vs, b.ClearDelay)
	for _, one := range [...]struct {
		*latch
		limit Limit
		delay time.Duration
	}{{s.inner, inner, b.QuickDelay}, {s.outer, outer, b.Delay}} {
		beyond, sure := s.weigh(vs, one.limit)
		calm := s.calm(vs, one.limit)
		if !beyond && !calm && !believed {
			one.stand(now) // what is held back says nothing
			continue
		}
		one.Unsure = !one.On && beyond && !sure
		one.judge(now, beyond, calm, one.delay, clear)
	}
	if s.word.lost && !s.word.told || s.alarm.State.Active() && s.alarm.deeper() {
		e.sideChanged(s)
	}
}

// calm reports whether pt is well and stays so by what its streams say now:
// nothing of its sides is on or runs, and nothing is doubted or beyond a limit.
func (pt *point) calm(low, high Limit) bool {
	if !pt.low.atRest() || !pt.high.atRest() {
		return false
	}
	if pt.quantity.Derived() {
		return !pt.place.fresh()
	}
	for _, st := range pt.streams {
		if st.present() && (st.Odd != "" || st.Fresh && (pt.low.over(st.Value, low) || pt.high.over(st.Value, high))) {
			return false
		}
	}
	return true
}

// fresh reports whether p has a value of the present.
func (p *place) fresh() bool {
	for _, pr := range p.probes {
		for _, st := range pr.streams {
			if st.catchUp(); st.Fresh {
				return true
			}
		}
	}
	return false
}

// atRest reports whether nothing of s is on or runs.
func (s *side) atRest() bool {
	return s.outer.latchState == (latchState{}) && s.inner.latchState == (latchState{}) &&
		s.word.none() && !s.noted && s.alarm.Condition == Within && !s.alarm.State.Active()
}

// strictest returns the limit of s that a value passes first.
func (s *side) strictest() Limit {
	outer, inner := s.limits()
	if !outer.Set || inner.Set && s.sign*inner.Value < s.sign*outer.Value {
		return inner
	}
	return outer
}

// hearOut sees whether a word that s rests on was lost, or is heard again: then
// the time for which all is well begins anew.
func (e *Engine) hearOut(s *side) {
	if s.word.turned((*stream).mute) {
		s.outer.begin()
		s.inner.begin()
		e.sideChanged(s)
	}
}

// follow notes the furthest value beyond, and whose it is.
func (s *side) follow(vs []voice, now instant) {
	l := s.outermost()
	known := s.outer.Since != 0 && !s.outer.Unsure || s.inner.Since != 0 && !s.inner.Unsure
	for i := range vs {
		if !s.counts(vs, i, l) {
			continue
		}
		s.word.take(&vs[i])
		if v := vs[i].now; !known || s.sign*v > s.sign*s.alarm.Peak.Value {
			s.alarm.Peak, known = moment{v, now}, true
		}
	}
}

// calm reports whether what vs say is within l by the deadband.
func (s *side) calm(vs []voice, l Limit) bool {
	return s.word.calm(vs, func(i int) bool { return s.counts(vs, i, l) },
		func(v *voice) bool { return s.back(v.now, l, s.point.inForce().Deadband) })
}

// settle tells that the word s rests on was lost, and forgets it when all is over.
func (e *Engine) settleSide(s *side, now instant) {
	w := &s.word
	switch {
	case s.outer.Since == 0 && s.inner.Since == 0:
		w.clear()
	case w.lost && !w.told && s.alarm.Condition != Within:
		var buf [8]voice
		if vs := s.point.voices(buf[:0]); s.missed(vs) {
			w.told = true
			e.note(s.alarm, now)
		}
	}
}

func (s *side) missed(vs []voice) bool {
	return s.word.missed(vs, func(i int) bool { return s.counts(vs, i, s.outermost()) })
}

// whose fills in the value that s goes by, and whose it is where that matters.
func (s *side) whose(r *Reason) {
	var buf [8]voice
	vs := s.point.voices(buf[:0])
	i := s.furthest(vs)
	if i < 0 {
		return
	}
	v := &vs[i]
	if len(s.point.streams) > 1 {
		r.Probe = v.of[0].probe.plan.ID
	}
	if r.Fault = v.doubt; v.doubt != "" {
		r.Probe, r.Rate = v.of[0].probe.plan.ID, nil // the rate is that of others
	}
	if w := &s.word; s.missed(vs) {
		if _, by := w.wait(vs, 0); by != nil && s.level() == Within {
			v = by
		}
		r.Lost, r.Probe, r.Fault = w.losses((*stream).mute), v.of[0].probe.plan.ID, ""
	}
	value := v.now
	r.Value = &value
}

// over reports whether v is beyond l; on the limit is within.
func (s *side) over(v float64, l Limit) bool { return l.Set && s.sign*v > s.sign*l.Value }

// back reports whether v is within l by the deadband.
func (s *side) back(v float64, l Limit, deadband float64) bool {
	return !l.Set || s.sign*v <= s.sign*l.Value-deadband
}

func (s *side) level() Level {
	switch {
	case s.inner.On:
		return Inner
	case s.outer.On:
		return Outer
	}
	return Within
}

// limit returns the limit of level, or the other where that is not set.
func (s *side) limit(l Level) Limit {
	outer, inner := s.limits()
	if (l == Inner && inner.Set) || !outer.Set {
		return inner
	}
	return outer
}

func (s *side) why(m Move, due instant) Reason {
	r := Reason{}
	if m != Ease {
		r.Rate = s.point.slopeNow(s.alarm.side)
	}
	s.whose(&r)
	if l := s.limit(s.level()); l.Set {
		r.Limit = &l.Value
	}
	switch {
	case s.level() == Inner:
		r.Since = s.point.place.house.wall.at(s.inner.Since)
	case s.level() == Outer:
		r.Since = s.point.place.house.wall.at(s.outer.Since)
	}
	if m == Return || m == Release {
		worst := s.alarm.Peak.Value
		for _, p := range s.alarm.Passes { // all of what swung and was held
			if p.Far != nil && p.At >= s.alarm.Raised && s.sign**p.Far > s.sign*worst {
				worst = *p.Far
			}
		}
		r.Peak = &worst
	}
	return r
}
