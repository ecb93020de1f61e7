package engine

import (
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// judgeSide compares what vs say with the limits of s.
func (s *side) judgeSide(e *Engine, vs []voice, now timing.Instant) {
	s.hearOut(e)
	if len(vs) == 0 {
		s.outer.Stand(now)
		s.inner.Stand(now)
		return
	}
	if s.outer.Since == 0 && s.inner.Since == 0 {
		s.word.clear()
	}
	b := s.point.inForce()
	if !e.panel.Timers.Deaf() {
		s.follow(vs, now)
	}
	believed := slices.ContainsFunc(vs, func(v voice) bool { return v.doubt == "" })
	outer, inner := s.limits()
	clear, _ := s.word.wait(vs, b.ClearDelay)
	for _, one := range [...]struct {
		*timing.Latch
		limit alarms.Limit
		delay time.Duration
	}{{s.inner, inner, b.QuickDelay}, {s.outer, outer, b.Delay}} {
		beyond, sure := s.weigh(vs, one.limit)
		calm := s.calm(vs, one.limit)
		if !beyond && !calm && !believed {
			one.Stand(now) // what is held back says nothing
			continue
		}
		one.Unsure = !one.On && beyond && !sure
		one.Judge(now, beyond, calm, one.delay, clear)
	}
	if s.word.lost && !s.word.told || s.alarm.State.Active() && s.alarm.Deeper() {
		s.sideChanged(e)
	}
}

// calm reports whether pt is well and stays so by what its streams say now:
// nothing of its sides is on or runs, and nothing is doubted or beyond a limit.
func (pt *point) calm(low, high alarms.Limit) bool {
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
	return s.outer.LatchState == (timing.LatchState{}) && s.inner.LatchState == (timing.LatchState{}) &&
		s.word.none() && !s.noted && s.alarm.Condition == alarms.Within && !s.alarm.State.Active()
}

// strictest returns the limit of s that a value passes first.
func (s *side) strictest() alarms.Limit {
	outer, inner := s.limits()
	if !outer.Set || inner.Set && s.sign*inner.Value < s.sign*outer.Value {
		return inner
	}
	return outer
}

// hearOut sees whether a word that s rests on was lost, or is heard again: then
// the time for which all is well begins again.
func (s *side) hearOut(e *Engine) {
	if s.word.turned((*stream).mute) {
		s.outer.Begin()
		s.inner.Begin()
		s.sideChanged(e)
	}
}

// follow notes the furthest value beyond, and whose it is.
func (s *side) follow(vs []voice, now timing.Instant) {
	l := s.outermost()
	known := s.outer.Since != 0 && !s.outer.Unsure || s.inner.Since != 0 && !s.inner.Unsure
	for i := range vs {
		if !s.counts(vs, i, l) {
			continue
		}
		s.word.take(&vs[i])
		if v := vs[i].now; !known || s.sign*v > s.sign*s.alarm.Peak.Value {
			s.alarm.Peak, known = lifecycle.Moment{Value: v, At: now}, true
		}
	}
}

// calm reports whether what vs say is within l by the deadband.
func (s *side) calm(vs []voice, l alarms.Limit) bool {
	return s.word.calm(vs, func(i int) bool { return s.counts(vs, i, l) },
		func(v *voice) bool { return s.back(v.now, l, s.point.inForce().Deadband) })
}

// settle reports that the word s rests on was lost, and forgets it when all is over.
func (s *side) settleSide(e *Engine, now timing.Instant) {
	w := &s.word
	switch {
	case s.outer.Since == 0 && s.inner.Since == 0:
		w.clear()
	case w.lost && !w.told && s.alarm.Condition != alarms.Within:
		var buf [8]voice
		if vs := s.point.voices(buf[:0]); s.missed(vs) {
			w.told = true
			s.alarm.Write(now)
		}
	}
}

func (s *side) missed(vs []voice) bool {
	return s.word.missed(vs, func(i int) bool { return s.counts(vs, i, s.outermost()) })
}

// whose fills in the value that s goes by, and whose it is where that matters.
func (s *side) whose(r *alarms.Reason) {
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
		if _, by := w.wait(vs, 0); by != nil && s.level() == alarms.Within {
			v = by
		}
		r.Lost, r.Probe, r.Fault = w.losses((*stream).mute), v.of[0].probe.plan.ID, ""
	}
	value := v.now
	r.Value = &value
}

// over reports whether v is beyond l; on the limit is within.
func (s *side) over(v float64, l alarms.Limit) bool { return l.Set && s.sign*v > s.sign*l.Value }

// back reports whether v is within l by the deadband.
func (s *side) back(v float64, l alarms.Limit, deadband float64) bool {
	return !l.Set || s.sign*v <= s.sign*l.Value-deadband
}

func (s *side) level() alarms.Level {
	switch {
	case s.inner.On:
		return alarms.Inner
	case s.outer.On:
		return alarms.Outer
	}
	return alarms.Within
}

// limit returns the limit of level, or the other where that is not set.
func (s *side) limit(l alarms.Level) alarms.Limit {
	outer, inner := s.limits()
	if (l == alarms.Inner && inner.Set) || !outer.Set {
		return inner
	}
	return outer
}

func (s *side) why(m alarms.Move, due timing.Instant) alarms.Reason {
	r := alarms.Reason{}
	if m != alarms.Ease {
		r.Rate = s.point.slopeNow(s.alarm.Side)
	}
	s.whose(&r)
	if l := s.limit(s.level()); l.Set {
		r.Limit = &l.Value
	}
	switch {
	case s.level() == alarms.Inner:
		r.Since = s.point.place.house.wall.At(s.inner.Since)
	case s.level() == alarms.Outer:
		r.Since = s.point.place.house.wall.At(s.outer.Since)
	}
	if m == alarms.Return || m == alarms.Release {
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

// Facts are how long the limit may be passed, and on whose word it rests.
func (s *side) Facts(a *lifecycle.Alarm, t *alarms.Transition, f *alarms.Background) {
	s.point.wordFacts(t, f)
	b := s.point.inForce()
	if f.Delay = b.Delay; min(t.Level, max(a.Condition, alarms.Outer)) == alarms.Inner {
		f.Delay = b.QuickDelay
	}
	if !a.Over(t) {
		f.Trials = s.point.place.house.trials()
	}
}

// First is what to look at first.
func (s *side) First(a *lifecycle.Alarm, r *alarms.Reason, f *alarms.First) {
	s.point.place.lookFirst(r, f)
}

// Present is the value that is furthest out.
func (s *side) Present(*lifecycle.Alarm) alarms.Present {
	e := s.point.place.house.e
	p := presentValue(e, s.point, sideOf(s.sign))
	var buf [8]voice
	vs := s.point.voices(buf[:0])
	if i := s.furthest(vs); i >= 0 && vs[i].doubt != "" {
		p.doubted(e, vs[i].of[0], vs[i].now)
	}
	p.bound(s)
	return p.Present
}

// Where a band is narrow, less is much: a step is at most this share of its
// width, but never less than two deadbands, the noise of a day.
const deeperShare = 0.15

// deeperStep is how far beyond the value that was told or acknowledged is worth
// telling again, of a quantity within b.
func deeperStep(b *alarms.Band, q alarms.Quantity) float64 {
	step := q.Facts().Deeper
	if step == 0 { // a supply or a current: a tenth of its limit
		for _, l := range b.All() {
			step = max(step, math.Abs(l.Value)/10)
		}
	}
	for _, pair := range [][2]alarms.Limit{{b.Low, b.High}, {b.LowLow, b.HighHigh}} {
		if pair[0].Set && pair[1].Set {
			step = min(step, (pair[1].Value-pair[0].Value)*deeperShare)
			break
		}
	}
	return max(step, 2*b.Deadband)
}

// Depth is how high, on the low side how low, the furthest value of s is. A
// doubted one is as far out as the two newest readings agree.
func (s *side) Depth() (deepest float64, ok bool) {
	var buf [8]voice
	vs := s.point.voices(buf[:0])
	l := s.outermost()
	for i := range vs {
		v := &vs[i]
		d := s.sign * v.now
		if v.doubt != "" {
			if !v.twice || !s.counts(vs, i, l) {
				continue
			}
			d = min(d, s.sign*v.before)
		}
		if !ok || d > deepest {
			deepest, ok = d, true
		}
	}
	return deepest, ok
}

func (s *side) Value(depth float64) float64 { return s.sign * depth }

func (s *side) Steps() (deeper, better float64) {
	b := s.point.inForce()
	if !s.inner.On && s.inner.Runs() { // the worse limit will be told in a moment
		return math.Inf(1), b.Deadband
	}
	return deeperStep(b, s.point.quantity), b.Deadband
}
