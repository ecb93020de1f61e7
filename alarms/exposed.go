package alarms

import (
	"fmt"
	"time"

	"telltale/alarms/exposure"
)

// exposed is an exposure at work.
type exposed struct {
	plan  *Exposure
	place *place
	point *point // of what it counts
	while *point // of what else must hold; nil: nothing
	meter *exposure.Meter
	timer *timer
	alarm *alarm
}

// savedExposure is an exposure in a snapshot. What was counted by another rule
// is of no use.
type savedExposure struct {
	Rule  string         `json:"rule"`
	State exposure.State `json:"state"`
}

// counts reports whether an exposure of p rests on q.
func (p *Place) counts(q Quantity) bool {
	for i := range p.Exposures {
		if x := &p.Exposures[i]; x.Quantity == q || x.While == q {
			return true
		}
	}
	return false
}

func (e *Engine) buildExposures(p *place) {
	for i := range p.plan.Exposures {
		x := &exposed{plan: &p.plan.Exposures[i], place: p}
		x.point = p.point(x.plan.Quantity)
		x.point.exposures = append(x.point.exposures, x)
		if x.plan.While != "" {
			x.while = p.point(x.plan.While)
			x.while.exposures = append(x.while.exposures, x)
		}
		x.meter = exposure.New(x.plan.rule(), func(after int64) int64 { return int64(e.periodEnd(x, instant(after))) })
		x.timer = e.timers.build(func(due instant) { e.expose(x, due) })
		_, sign, _ := x.plan.bound()
		x.alarm = e.newAlarm(&alarm{
			id: p.house.id(p.plan.ID, "exposure-"+string(x.plan.ID)), rule: RuleExposure, house: p.house, place: p,
			quantity: x.plan.Quantity, side: sideOf(sign), priority: always(x.plan.Priority), exposed: x,
			why: func(_ Move, due instant) Reason { return x.why(due) },
		})
		p.exposures = append(p.exposures, x)
	}
}

// periodEnd returns when the day or night of x that holds just after a moment
// ends: at midnight, or at nightfall.
func (e *Engine) periodEnd(x *exposed, after instant) instant {
	if x.plan.Nights > 0 {
		return x.place.house.nightfall(after)
	}
	t := after.time().In(e.plan.Words.Zone)
	for day := 1; day <= 2; day++ {
		if end := at(time.Date(t.Year(), t.Month(), t.Day()+day, 0, 0, 0, 0, t.Location())); end > after {
			return end
		}
	}
	return after.add(24 * time.Hour)
}

// nightfall returns when the next night begins, a day later where none does.
func (h *house) nightfall(after instant) instant {
	t := after.time()
	for range 4 {
		next, ok := h.nextChange(t)
		if !ok {
			break
		}
		if h.daypartAt(at(next)) == Night {
			return at(next)
		}
		t = next
	}
	return after.add(24 * time.Hour)
}

// startExposures begins to count at the first moment ever seen.
func (e *Engine) startExposures(h *house, now instant) {
	for _, p := range h.places {
		for _, x := range p.exposures {
			e.expose(x, now)
		}
	}
}

// expose counts x up to now, tells what that brought about, and looks at what
// holds from now on.
func (e *Engine) expose(x *exposed, now instant) {
	for _, c := range x.meter.Advance(int64(now)) {
		level := Within
		if c.Reached {
			level = Outer
		}
		e.apply(x.alarm, level, nil, instant(c.At))
	}
	c, excess, until := x.sense(now)
	x.meter.Tell(int64(now), c, excess, int64(until))
	e.timers.set(x.timer, instant(x.meter.Due()))
}

// exposeAll is expose for all that rests on pt.
func (e *Engine) exposeAll(pt *point, now instant) {
	for _, x := range pt.exposures {
		e.expose(x, now)
	}
}

// loseSight says that nothing is known of h from a moment on.
func (e *Engine) loseSight(h *house, from instant) {
	for _, p := range h.places {
		for _, x := range p.exposures {
			x.meter.Tell(int64(from), exposure.Unknown, 0, 0)
			e.timers.set(x.timer, instant(x.meter.Due()))
		}
	}
}

// sense finds what holds for x at now, how far beyond its limit, and until
// when that may be taken to hold.
func (x *exposed) sense(now instant) (c exposure.Condition, excess float64, until instant) {
	h := x.place.house
	if b := (Band{When: x.plan.When, Seasons: x.plan.Seasons}); !b.holds(h.Season, h.Daypart) {
		return exposure.Aside, 0, 0
	}
	lo, hi, until, ok := x.point.seen(now, x.plan.Hold)
	if !ok {
		return exposure.Unknown, 0, 0
	}
	if excess, ok = x.plan.excess(lo, hi); !ok {
		return exposure.Within, 0, until
	}
	if x.while == nil {
		return exposure.Beyond, excess, until
	}
	lo, hi, other, ok := x.while.seen(now, x.plan.Hold)
	until = min(until, other)
	switch low, high := x.plan.WhileLow, x.plan.WhileHigh; {
	case !ok:
		return exposure.Unknown, 0, 0
	case low.Set && hi < low.Value, high.Set && lo > high.Value:
		return exposure.Aside, 0, 0 // a wet leaf does not dry because it is cold
	}
	return exposure.Beyond, excess, until
}

// excess returns how far the worse of lo and hi is beyond x's limit, ok false
// where it is not.
func (x *Exposure) excess(lo, hi float64) (by float64, ok bool) {
	l, sign, on := x.bound()
	v := hi
	if sign < 0 {
		v = lo
	}
	by = sign * (v - l.Value)
	return by, by > 0 || on && by == 0
}

// seen returns the lowest and highest usable value that is not older than
// hold, and until when the first of them may stand. ok is false for none.
func (pt *point) seen(now instant, hold time.Duration) (lo, hi float64, until instant, ok bool) {
	if pt.quantity.Derived() {
		t, h := pt.place.pair()
		if !pt.has || t == nil {
			return 0, 0, 0, false
		}
		until = min(t.standsUntil(hold), h.standsUntil(hold))
		return pt.value, pt.value, until, until > now
	}
	for _, st := range pt.streams {
		end := st.standsUntil(hold)
		if !st.usable() || end <= now {
			continue
		}
		if !ok {
			lo, hi, until, ok = st.Value, st.Value, end, true
		}
		lo, hi, until = min(lo, st.Value), max(hi, st.Value), min(until, end)
	}
	return lo, hi, until, ok
}

// standsUntil returns until when st's value stands for what is not known yet.
func (st *stream) standsUntil(hold time.Duration) instant {
	if hold == 0 {
		hold = max(defaultHold, 2*st.interval())
	}
	return st.ValueAt.add(hold)
}

// fingerprint is what makes a count of x comparable with another.
func (x *Exposure) fingerprint() string {
	l, sign, on := x.bound()
	return fmt.Sprint(x.Quantity, l.Value, sign, on, x.When, x.Seasons, x.While, x.WhileLow, x.WhileHigh, x.rule(), x.Nights > 0)
}

func (x *exposed) save() savedExposure {
	return savedExposure{Rule: x.plan.fingerprint(), State: x.meter.Save()}
}

// load takes what was counted, unless by another rule: then x starts anew, and
// an alarm that is on ends by the new one.
func (e *Engine) loadExposure(x *exposed, s savedExposure) {
	if s.Rule == x.plan.fingerprint() {
		x.meter.Load(s.State)
	} else {
		x.meter.Reached = x.alarm.Condition != Within
	}
	e.timers.set(x.timer, instant(x.meter.Due()))
}
