package engine

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// point is one quantity of one place at work: what is judged.
type point struct {
	place     *place
	quantity  alarms.Quantity
	streams   []*stream // that measure it
	banded    bool
	counted   bool              // an exposure rests on it
	turns     bool              // its band changes with daypart or season
	strictest alarms.Limits     // low and high that it may ever have
	wary      int               // its place among those of the house, counted from 1; 0: it is none
	band      alarms.Band       // in force at a time, limits merged; see inForce
	taken     int               // that time, by the count of its house; 0: none yet
	rate      *alarms.RateLimit // nil: none
	low       *side
	high      *side
	rising    *trend
	falling   *trend
	differ    *timing.Latch // its streams disagree
	disagree  *alarm

	exposures []*exposed

	value float64 // of a derived quantity
	has   bool
}

// side is one side of a band: its two limits and the alarm they share.
type side struct {
	lifecycle.Plain
	point        *point
	alarm        *alarm
	sign         float64 // +1 high, -1 low
	outer, inner *timing.Latch
	word         word // whose it is
	noted        bool // to be settled
}

func (p *place) buildPoint(e *Engine, q alarms.Quantity) *point {
	pt := &point{place: p, quantity: q}
	for _, pr := range p.probes {
		for _, st := range pr.streams {
			if st.plan.Quantity == q && q.Facts().Of != alarms.OfProbe {
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
	pt.counted = exposes(p.plan, q)
	if len(pt.streams) == 0 && !pt.banded && !pt.counted {
		return nil
	}
	if pt.banded {
		pt.low, pt.high = pt.buildSide(e, -1), pt.buildSide(e, +1)
		pt.findTurning()
	}
	if pt.rate != nil {
		pt.falling, pt.rising = pt.buildTrend(e, -1), pt.buildTrend(e, +1)
	}
	if len(pt.streams) > 1 {
		pt.buildDisagree(e)
	}
	return pt
}

func (pt *point) buildSide(e *Engine, sign float64) *side {
	s := &side{point: pt, sign: sign}
	changed := func(timing.Instant) { s.sideChanged(e) }
	s.outer, s.inner = timing.NewLatch(&e.panel.Timers, changed), timing.NewLatch(&e.panel.Timers, changed)
	s.alarm = e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		Kind: alarms.RuleLimit, Quantity: pt.quantity, Side: sideOf(sign),
		ID: pt.place.house.id(pt.place.plan.ID, string(pt.quantity), sideOf(sign).String()),
		Priority: func(l alarms.Level) alarms.Priority {
			return lifecycle.ByLevel(pt.inForce().Priority, pt.inForce().Worst)(l)
		},
		Because: func(m alarms.Move, due timing.Instant) alarms.Reason { return s.why(m, due) }, Gauge: s,
	}, of: s, house: pt.place.house, place: pt.place})
	return s
}

func sideOf(sign float64) alarms.Side {
	if sign < 0 {
		return alarms.LowSide
	}
	return alarms.HighSide
}

// mustBeWatched reports whether pt is measured and has a limit to keep.
func (pt *point) mustBeWatched() bool {
	return len(pt.streams) > 0 && (pt.banded || pt.rate != nil || pt.counted)
}

// watchSources adds to the watched points those that derived limits rest on.
func (p *place) watchSources() {
	for _, pt := range p.points {
		for _, q := range pt.quantity.Facts().From {
			src := p.point(q)
			if (pt.banded || pt.counted) && src != nil && !src.mustBeWatched() && !slices.Contains(p.watched, src) {
				p.watched = append(p.watched, src)
			}
		}
	}
}

func (p *place) point(q alarms.Quantity) *point {
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
func (pt *point) judge(e *Engine, now timing.Instant) {
	pt.exposeAll(e, now)
	if pt.banded {
		pt.judgeSides(e, now)
	}
}

// judgeSides compares what pt's streams say with its limits.
func (pt *point) judgeSides(e *Engine, now timing.Instant) {
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
		s.judgeSide(e, vs, now)
	}
}

// slopeNow returns how fast that moves now which stands furthest out on a side,
// for sentences; nil where that is not known.
func (pt *point) slopeNow(side alarms.Side) *float64 {
	st := pt.furthest(side)
	if st == nil || !st.usable() {
		return nil
	}
	if v, ok := st.Course.recent(pt.window()); ok {
		return &v
	}
	return nil
}

// rejudge judges every point of p again, after what is usable changed.
func (p *place) rejudge(e *Engine, now timing.Instant) {
	p.derive(e)
	p.house.countLoop(now)
	for _, pt := range p.points {
		pt.judge(e, now)
		pt.judgeTrend(e, now)
	}
	p.loseControls(e, now)
}
