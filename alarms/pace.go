package alarms

import "time"

// pace is one direction of a rate limit.
type pace struct {
	point *point
	sign  float64 // +1 rising, -1 falling
	alarm *alarm
	latch *latch
}

func (e *Engine) buildPace(pt *point, sign float64) *pace {
	p := &pace{point: pt, sign: sign}
	p.latch = newLatch(&e.timers, func(due instant) {
		level := Within
		if p.latch.On {
			level = Outer
		}
		e.apply(p.alarm, level, nil, due)
	})
	word := "rising"
	if sign < 0 {
		word = "falling"
	}
	p.alarm = e.newAlarm(&alarm{
		id:   pt.place.house.id(pt.place.plan.ID, string(pt.quantity), word),
		rule: RuleRate, house: pt.place.house, place: pt.place, quantity: pt.quantity, side: sideOf(sign),
		priority: always(pt.rate.Priority),
		why:      func(_ Move, due instant) Reason { return p.why() },
	})
	return p
}

// window is over what time pt's slope is taken.
func (pt *point) window() time.Duration {
	if pt.rate != nil {
		return pt.rate.Window
	}
	return defaultWindow
}

// paceBack is the share of a rate limit below which the alarm may end.
const paceBack = 0.8

// judgePace compares the steepest slope of pt's streams with its rate limits.
func (e *Engine) judgePace(pt *point, now instant) {
	if pt.rate == nil {
		return
	}
	known := false
	rise, fall := 0.0, 0.0
	for _, st := range pt.streams {
		if !st.usable() {
			continue
		}
		if v, ok := st.Course.slope(pt.window()); ok {
			known = true
			rise, fall = max(rise, v), max(fall, -v)
		}
	}
	if !known {
		pt.rising.latch.forget()
		pt.falling.latch.forget()
		return
	}
	pt.rising.judge(rise, pt.rate.Rise, pt.rate.ClearDelay, now)
	pt.falling.judge(fall, pt.rate.Fall, pt.rate.ClearDelay, now)
}

func (p *pace) judge(v float64, l Limit, clear time.Duration, now instant) {
	p.latch.judge(now, l.Set && v > l.Value, !l.Set || v <= l.Value*paceBack, 0, clear)
}

func (p *pace) limit() Limit {
	if p.sign < 0 {
		return p.point.rate.Fall
	}
	return p.point.rate.Rise
}

func (p *pace) why() Reason {
	var r Reason
	for _, st := range p.point.streams {
		if !st.usable() {
			continue
		}
		if v, ok := st.Course.slope(p.point.window()); ok && (r.Rate == nil || p.sign*v > p.sign**r.Rate) {
			value := st.Value
			r.Rate, r.Value = &v, &value
			r.Since = st.Course.T[0].time()
		}
	}
	if l := p.limit(); l.Set {
		r.Limit = &l.Value
	}
	return r
}
