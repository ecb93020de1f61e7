package engine

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// trend is one direction of a rate limit.
type trend struct {
	lifecycle.Plain
	point *point
	sign  float64 // +1 rising, -1 falling
	alarm *alarm
	latch *timing.Latch
	word  word // whose it is
}

func (pt *point) buildTrend(e *Engine, sign float64) *trend {
	p := &trend{point: pt, sign: sign}
	p.latch = timing.NewLatch(&e.panel.Timers, func(due timing.Instant) {
		level := alarms.Within
		if p.latch.On {
			level = alarms.Outer
		}
		p.alarm.Apply(level, "", due)
		p.settleTrend(e, due)
	})
	word := "rising"
	if sign < 0 {
		word = "falling"
	}
	p.alarm = e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: pt.place.house.id(pt.place.plan.ID, string(pt.quantity), word), Kind: alarms.RuleRate, Quantity: pt.quantity, Side: sideOf(sign),
		Priority: lifecycle.Always(pt.rate.Priority), Because: func(_ alarms.Move, due timing.Instant) alarms.Reason { return p.why() },
	}, of: p, house: pt.place.house, place: pt.place})
	return p
}

// window is over what time pt's slope is taken.
func (pt *point) window() time.Duration {
	if pt.rate != nil {
		return pt.rate.Window
	}
	return alarms.DefaultWindow
}

// longestWindow: where a probe's interval is learned, the window is made as long as
// its least readings take, up to this: what is slower cannot be judged by a rate an
// hour, and that is said. Common practice, no source.
const longestWindow = 2 * time.Hour

// window is over what time st's slope is taken.
func (st *stream) window() time.Duration {
	w := st.point.window()
	if st.point.rate == nil || st.probe.plan.Every > 0 {
		return w
	}
	return max(w, min(alarms.LeastReadings*st.usual.every, longestWindow))
}

// slowRates says of what in h the rate is not judged, and why.
func (h *house) slowRates() []alarms.SlowRate {
	var all []alarms.SlowRate
	for _, p := range h.places {
		for _, pt := range p.points {
			for _, st := range pt.streams {
				if st.tooSlow() {
					all = append(all, *st.slowRate())
				}
			}
		}
	}
	return all
}

// tooSlow reports whether st reports too seldom for the rate limit of its point.
func (st *stream) tooSlow() bool {
	return st.point.rate != nil && alarms.LeastReadings*st.usual.every > st.window()
}

func (st *stream) slowRate() *alarms.SlowRate {
	return &alarms.SlowRate{Place: st.point.place.plan.ID, Probe: st.probe.plan.ID, Quantity: st.point.quantity, Every: st.usual.every, Needs: alarms.LeastReadings, Within: st.window()}
}

// noteSlow writes into the log, once, that a rate limit will never speak.
func (pt *point) noteSlow(e *Engine, now timing.Instant) {
	for _, st := range pt.streams {
		if st.Slow == st.window() || !st.tooSlow() {
			continue
		}
		st.Slow = st.window()
		a := pt.falling.alarm
		if !pt.falling.limit().Set {
			a = pt.rising.alarm
		}
		before := e.panel.Actor
		e.panel.Actor, e.slow = lifecycle.Actor{}, st.slowRate()
		a.Write(now)
		e.panel.Actor, e.slow = before, nil
	}
}

// paceBack is the share of a rate limit below which the alarm may end.
const paceBack = 0.8

// judgeTrend compares the slopes of pt's streams with its rate limits.
func (pt *point) judgeTrend(e *Engine, now timing.Instant) {
	if pt.rate == nil {
		return
	}
	pt.noteSlow(e, now)
	var buf [8]voice
	vs := pt.slopes(buf[:0])
	for _, p := range [...]*trend{pt.rising, pt.falling} {
		p.judgeSlope(e, vs, now)
	}
}

// slopes adds to buf how fast each of pt's streams moves that can tell. What is
// doubted for longer has moved so by the readings before the newest, too; of a
// reading that is doubted by itself there are two in a row.
func (pt *point) slopes(buf []voice) []voice {
	for _, st := range pt.streams {
		if !st.present() {
			continue
		}
		w, doubt := st.window(), st.Faults.doubt()
		if v, ok := st.Course.slope(w); ok && st.Fresh {
			one := voice{of: [3]*stream{st}, now: v, doubt: doubt, course: &st.Course}
			if doubt != "" {
				before := st.Course
				before.N--
				one.before, one.twice = before.slope(w)
			}
			buf = append(buf, one)
		}
		if d := st.Doubted; d != nil && d.Agreed {
			if v, ok := d.slope(w); ok {
				buf = append(buf, voice{of: [3]*stream{st}, now: v, before: v, twice: true, doubt: d.Odd, course: &d.course})
			}
		}
	}
	return buf
}

// dumb reports whether st, whose word a rate alarm rests on, cannot say that its
// value is steady: it is mute, or has not been heard for long enough.
func (st *stream) dumb() bool {
	mute, w, d := st.mute(), st.window(), st.Doubted
	return mute || !st.Course.enough(w) && (d == nil || !d.Agreed || !d.enough(w))
}

// over reports whether the i-th of vs is too fast for p.
func (p *trend) over(vs []voice, i int) bool {
	l := p.limit()
	return l.Set && counts(vs, i, func(v float64) bool { return p.sign*v > l.Value })
}

func (p *trend) judgeSlope(e *Engine, vs []voice, now timing.Instant) {
	w := &p.word
	if p.latch.Since == 0 {
		w.clear()
	}
	if w.turned((*stream).dumb) {
		p.latch.Begin()
	}
	if len(vs) == 0 {
		p.latch.Stand(now)
		return
	}
	beyond := false
	for i := range vs {
		if !p.over(vs, i) {
			continue
		}
		if v := p.sign * vs[i].now; p.latch.Since == 0 && !beyond || v > p.alarm.Peak.Value {
			p.alarm.Peak = lifecycle.Moment{Value: v, At: now}
		}
		beyond = true
		w.take(&vs[i])
	}
	clear, _ := w.wait(vs, p.point.rate.ClearDelay)
	p.latch.Judge(now, beyond, p.calm(vs), 0, clear)
	p.settleTrend(e, now)
}

// calm reports whether what vs say is well below the limit.
func (p *trend) calm(vs []voice) bool {
	l := p.limit()
	return p.word.calm(vs, func(i int) bool { return p.over(vs, i) },
		func(v *voice) bool { return !l.Set || p.sign*v.now <= l.Value*paceBack })
}

// settleTrend reports that the word p rests on was lost, and forgets it when all is over.
func (p *trend) settleTrend(e *Engine, now timing.Instant) {
	w := &p.word
	switch {
	case p.latch.Since == 0:
		w.clear()
	case w.lost && !w.told && p.alarm.Condition != alarms.Within:
		var buf [8]voice
		if p.missed(p.point.slopes(buf[:0])) {
			w.told = true
			p.alarm.Write(now)
		}
	}
}

func (p *trend) missed(vs []voice) bool {
	return p.word.missed(vs, func(i int) bool { return p.over(vs, i) })
}

func (p *trend) limit() alarms.Limit {
	if p.sign < 0 {
		return p.point.rate.Fall
	}
	return p.point.rate.Rise
}

// steepest returns which of vs, what p's streams say, p goes by: that which moves
// fastest in p's direction of those that count beyond the limit, else of those
// that are believed; nil for none. Where the one by whose word it was too fast is
// lost, it is the one that speaks in its place.
func (p *trend) steepest(vs []voice) *voice {
	if p.missed(vs) {
		_, by := p.word.wait(vs, 0)
		return by
	}
	var best *voice
	beyond := false
	for i := range vs {
		over := p.over(vs, i)
		if !over && vs[i].doubt != "" {
			continue
		}
		if best == nil || over && !beyond || over == beyond && p.sign*vs[i].now > p.sign*best.now {
			best, beyond = &vs[i], over
		}
	}
	return best
}

func (p *trend) why() alarms.Reason {
	var r alarms.Reason
	var buf [8]voice
	vs := p.point.slopes(buf[:0])
	if v := p.steepest(vs); v != nil {
		c, st, rate := v.course, v.of[0], v.now
		value := c.V[c.N-1]
		if v.doubt == "" {
			value = st.Value
			if len(p.point.streams) > 1 {
				r.Probe = st.probe.plan.ID
			}
		} else {
			r.Fault, r.Probe = v.doubt, st.probe.plan.ID
		}
		r.Rate, r.Value = &rate, &value
		r.Since = p.point.place.house.wall.At(c.T[0])
		if p.missed(vs) {
			r.Lost, r.Probe = p.word.losses((*stream).dumb), st.probe.plan.ID
		}
	}
	if l := p.limit(); l.Set {
		r.Limit = &l.Value
	}
	return r
}

// Facts are on whose word it rests, and who tries something.
func (p *trend) Facts(a *lifecycle.Alarm, t *alarms.Transition, f *alarms.Background) {
	p.point.wordFacts(t, f)
	if !a.Over(t) {
		f.Trials = p.point.place.house.trials()
	}
}

// First is what to look at first.
func (p *trend) First(a *lifecycle.Alarm, r *alarms.Reason, f *alarms.First) {
	p.point.place.lookFirst(r, f)
}

// Present is how fast the value that moves fastest moves now.
func (p *trend) Present(*lifecycle.Alarm) alarms.Present {
	return presentTrend(p.point.place.house.e, p).Present
}
