package alarms

import "slices"

// point is one quantity of one place at work: what is judged.
type point struct {
	place     *place
	quantity  Quantity
	streams   []*stream // that measure it
	banded    bool
	counted   bool       // an exposure rests on it
	turns     bool       // its band changes with daypart or season
	strictest Limits     // low and high that it may ever have
	wary      int        // its place among those of the house, counted from 1; 0: it is none
	band      Band       // in force at a time, limits merged; see inForce
	taken     int        // that time, by the count of its house; 0: none yet
	rate      *RateLimit // nil: none
	low       *side
	high      *side
	rising    *pace
	falling   *pace
	differ    *latch // its streams disagree
	disagree  *alarm

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
	word         word // whose it is
	noted        bool // to be settled
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
		pt.findTurning()
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
		priority: func(l Level) Priority { return byLevel(pt.inForce().Priority, pt.inForce().Worst)(l) },
		why:      func(m Move, due instant) Reason { return s.why(m, due) },
		gauge:    s,
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
	if pt.banded {
		e.judgeSides(pt, now)
	}
}

// judgeSides compares what pt's streams say with its limits.
func (e *Engine) judgeSides(pt *point, now instant) {
	if pt.turns {
		if pt.beWary(!pt.calm(pt.strictest.Low, pt.strictest.High)); pt.wary == 0 {
			return
		}
	}
	if pt.calm(pt.low.strictest(), pt.high.strictest()) {
		return
	}
	var buf [8]voice
	vs := pt.voices(buf[:0])
	for _, s := range [...]*side{pt.low, pt.high} {
		e.judgeSide(s, vs, now)
	}
}

// slopeNow returns how fast that moves now which stands furthest out on a side,
// for sentences; nil where that is not known.
func (pt *point) slopeNow(side Side) *float64 {
	st := pt.furthest(side)
	if st == nil || !st.usable() {
		return nil
	}
	if v, ok := st.Course.recent(pt.window()); ok {
		return &v
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
