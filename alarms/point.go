package alarms

import "slices"

// point is one quantity of one place at work: what is judged.
type point struct {
	place    *place
	quantity Quantity
	streams  []*stream // that measure it
	banded   bool
	counted  bool       // an exposure rests on it
	band     Band       // in force now, limits merged
	rate     *RateLimit // nil: none
	low      *side
	high     *side
	rising   *pace
	falling  *pace
	differ   *latch // its streams disagree
	disagree *alarm

	exposures []*exposed

	value float64 // of a derived quantity
	has   bool
}

// side is one side of a band: its two limits and the alarm they share.
type side struct {
	point        *point
	alarm        *alarm
	sign         float64 // +1 high, -1 low
	outer, inner *latch
	worst        float64 // furthest value while beyond
	noted        bool    // to be settled
}

// pointState is what a snapshot keeps of a point.
type pointState struct {
	Value   float64      `json:"value,omitempty"`
	Has     bool         `json:"has,omitempty"`
	Worst   [2]float64   `json:"worst"`
	Latches []latchState `json:"latches"`
}

func (e *Engine) buildPoint(p *place, q Quantity) *point {
	pt := &point{place: p, quantity: q}
	for _, pr := range p.probes {
		for _, st := range pr.streams {
			if st.plan.Quantity == q && q != Battery && q != Signal && q != Voltage {
				st.point = pt
				pt.streams = append(pt.streams, st)
			}
		}
	}
	for _, b := range p.plan.Bands {
		pt.banded = pt.banded || b.Quantity == q
	}
	for i := range p.plan.Rates {
		if p.plan.Rates[i].Quantity == q {
			pt.rate = &p.plan.Rates[i]
		}
	}
	pt.counted = p.plan.counts(q)
	if len(pt.streams) == 0 && !pt.banded && !pt.counted {
		return nil
	}
	if pt.banded {
		pt.low, pt.high = e.buildSide(pt, -1), e.buildSide(pt, +1)
	}
	if pt.rate != nil {
		pt.falling, pt.rising = e.buildPace(pt, -1), e.buildPace(pt, +1)
	}
	if len(pt.streams) > 1 {
		e.buildDisagree(pt)
	}
	return pt
}

func (e *Engine) buildSide(pt *point, sign float64) *side {
	s := &side{point: pt, sign: sign}
	changed := func(instant) { e.sideChanged(s) }
	s.outer, s.inner = newLatch(&e.timers, changed), newLatch(&e.timers, changed)
	s.alarm = e.newAlarm(&alarm{
		rule: RuleLimit, house: pt.place.house, place: pt.place, quantity: pt.quantity, side: sideOf(sign),
		id:       pt.place.house.id(pt.place.plan.ID, string(pt.quantity), sideOf(sign).String()),
		priority: func(l Level) Priority { return byLevel(pt.band.Priority, pt.band.Worst)(l) },
		why:      func(m Move, due instant) Reason { return s.why(m, due) },
	})
	return s
}

func sideOf(sign float64) Side {
	if sign < 0 {
		return LowSide
	}
	return HighSide
}

// mustBeWatched reports whether pt is measured and has a limit to keep.
func (pt *point) mustBeWatched() bool {
	return len(pt.streams) > 0 && (pt.banded || pt.rate != nil || pt.counted)
}

// watchSources adds to the watched points those that derived limits rest on.
func (p *place) watchSources() {
	needs := map[Quantity][]Quantity{VPD: {Temperature, Humidity}, DewMargin: {Temperature, Humidity}}
	for _, pt := range p.points {
		for _, q := range needs[pt.quantity] {
			src := p.point(q)
			if (pt.banded || pt.counted) && src != nil && !src.mustBeWatched() && !slices.Contains(p.watched, src) {
				p.watched = append(p.watched, src)
			}
		}
	}
}

func (p *place) point(q Quantity) *point {
	for _, pt := range p.points {
		if pt.quantity == q {
			return pt
		}
	}
	return nil
}

// extremes returns the lowest and highest usable value, ok false for none.
func (pt *point) extremes() (lo, hi float64, ok bool) {
	if pt.quantity.Derived() {
		return pt.value, pt.value, pt.has
	}
	for _, st := range pt.streams {
		if !st.usable() {
			continue
		}
		if !ok {
			lo, hi, ok = st.Value, st.Value, true
		}
		lo, hi = min(lo, st.Value), max(hi, st.Value)
	}
	return lo, hi, ok
}

// judge compares what pt's streams say with the limits in force.
func (e *Engine) judge(pt *point, now instant) {
	e.exposeAll(pt, now)
	if !pt.banded {
		return
	}
	lo, hi, ok := pt.extremes()
	if !ok {
		for _, s := range []*side{pt.low, pt.high} {
			s.outer.forget()
			s.inner.forget()
		}
		return
	}
	pt.low.judge(lo, pt.band.Low, pt.band.LowLow, &pt.band, now)
	pt.high.judge(hi, pt.band.High, pt.band.HighHigh, &pt.band, now)
}

func (s *side) judge(v float64, outer, inner Limit, b *Band, now instant) {
	beyond := s.over(v, outer) || s.over(v, inner)
	if known := s.outer.Since != 0 || s.inner.Since != 0; beyond && (!known || s.sign*v > s.sign*s.worst) {
		s.worst = v
	}
	s.inner.judge(now, s.over(v, inner), s.back(v, inner, b.Deadband), b.QuickDelay, b.ClearDelay)
	s.outer.judge(now, s.over(v, outer), s.back(v, outer, b.Deadband), b.Delay, b.ClearDelay)
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
	outer, inner := s.point.band.High, s.point.band.HighHigh
	if s.sign < 0 {
		outer, inner = s.point.band.Low, s.point.band.LowLow
	}
	if (l == Inner && inner.Set) || !outer.Set {
		return inner
	}
	return outer
}

func (s *side) why(m Move, due instant) Reason {
	lo, hi, ok := s.point.extremes()
	v := hi
	if s.sign < 0 {
		v = lo
	}
	r := Reason{}
	if m != Ease {
		r.Rate = s.point.slopeNow()
	}
	if ok {
		r.Value = &v
	}
	if l := s.limit(s.level()); l.Set {
		r.Limit = &l.Value
	}
	switch {
	case s.level() == Inner:
		r.Since = s.inner.Since.time()
	case s.level() == Outer:
		r.Since = s.outer.Since.time()
	}
	if m == Return || m == Release {
		worst := s.worst
		r.Peak = &worst
	}
	return r
}

// slopeNow returns how fast the first stream that can tell moves now, for sentences.
func (pt *point) slopeNow() *float64 {
	for _, st := range pt.streams {
		if st.usable() {
			if v, ok := st.Course.recent(pt.window()); ok {
				return &v
			}
		}
	}
	return nil
}

// rejudge judges every point of p anew, after what is usable changed.
func (e *Engine) rejudge(p *place, now instant) {
	e.derive(p)
	e.countLoop(p.house, now)
	for _, pt := range p.points {
		e.judge(pt, now)
		e.judgePace(pt, now)
	}
	e.loseWorks(p, now)
}

func (pt *point) latches() []*latch {
	var all []*latch
	if pt.banded {
		all = append(all, pt.low.outer, pt.low.inner, pt.high.outer, pt.high.inner)
	}
	if pt.rate != nil {
		all = append(all, pt.falling.latch, pt.rising.latch)
	}
	if pt.differ != nil {
		all = append(all, pt.differ)
	}
	return all
}

func (pt *point) save() pointState {
	s := pointState{Value: pt.value, Has: pt.has}
	if pt.banded {
		s.Worst = [2]float64{pt.low.worst, pt.high.worst}
	}
	for _, l := range pt.latches() {
		s.Latches = append(s.Latches, l.save())
	}
	return s
}

func (pt *point) load(s pointState) {
	pt.value, pt.has = s.Value, s.Has
	if pt.banded {
		pt.low.worst, pt.high.worst = s.Worst[0], s.Worst[1]
	}
	all := pt.latches()
	if len(all) != len(s.Latches) {
		return // the plan of this point changed: it starts anew
	}
	for i, l := range all {
		l.load(s.Latches[i])
	}
}
