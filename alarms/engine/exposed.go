package engine

import (
	"fmt"
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/exposure"
	"telltale/alarms/lifecycle"
	"telltale/alarms/localtime"
	"telltale/alarms/timing"
)

// exposed is an exposure at work.
type exposed struct {
	lifecycle.Plain
	plan  *alarms.Exposure
	place *place
	point *point // of what it counts
	while *point // of what else must hold; nil: nothing
	meter *exposure.Meter
	timer *timing.Timer
	alarm *alarm
	latch *timing.Latch // beyond, by word
	word  word
	owed  bool // reached, and told in the morning

	// While it is being told: what else is told with it, or with what it is told.
	telling bool
	also    []string
	with    alarms.ExposureID
}

// savedExposure is an exposure in a snapshot. What was counted by another rule
// is of no use.
type savedExposure struct {
	Rule  string            `json:"rule"`
	State exposure.State    `json:"state"`
	Word  savedWord         `json:"word,omitzero"`
	Latch timing.LatchState `json:"latch,omitzero"`
	Owed  bool              `json:"owed,omitempty"`
}

// exposes reports whether an exposure of p rests on q.
func exposes(p *alarms.Place, q alarms.Quantity) bool {
	for i := range p.Exposures {
		if x := &p.Exposures[i]; x.Quantity == q || x.While == q {
			return true
		}
	}
	return false
}

func (p *place) buildExposures(e *Engine) {
	for i := range p.plan.Exposures {
		x := &exposed{plan: &p.plan.Exposures[i], place: p}
		x.point = p.point(x.plan.Quantity)
		x.point.exposures = append(x.point.exposures, x)
		if x.plan.While != "" {
			x.while = p.point(x.plan.While)
			x.while.exposures = append(x.while.exposures, x)
		}
		x.meter = exposure.New(x.plan.Rule(), func(after int64) int64 { return int64(x.periodEnd(e, timing.Instant(after))) })
		x.timer = e.panel.Timers.Build(func(due timing.Instant) {
			if from := e.panel.Now.Add(-leapLast); from > due && x.forgets(e, due) {
				e.panel.Timers.Set(x.timer, from)
				return
			}
			x.expose(e, due)
		})
		x.latch = timing.NewLatch(&e.panel.Timers, func(due timing.Instant) { x.expose(e, due) })
		_, sign, _ := x.plan.Bound()
		x.alarm = e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
			ID: p.house.id(p.plan.ID, "exposure-"+string(x.plan.ID)), Kind: alarms.RuleExposure, Quantity: x.plan.Quantity, Side: sideOf(sign),
			Priority: lifecycle.Always(x.plan.Priority), Because: func(_ alarms.Move, due timing.Instant) alarms.Reason { return x.why(due) },
		}, house: p.house, place: p, of: x})
		p.exposures = append(p.exposures, x)
		p.house.exposures = append(p.house.exposures, x)
	}
}

// periodEnd returns when the day or night of x that holds just after a moment
// ends: at midnight, or at nightfall.
func (x *exposed) periodEnd(e *Engine, after timing.Instant) timing.Instant {
	if x.plan.Nights > 0 {
		return x.place.house.nightfall(after)
	}
	return e.panel.Clock.Core(localtime.MidnightIn(e.panel.Clock.At(after), e.plan.Words.Zone))
}

// expose counts x up to now, tells what that brought about, and looks at what
// holds from now on.
func (x *exposed) expose(e *Engine, now timing.Instant) {
	for _, c := range x.meter.Advance(int64(now)) {
		switch {
		case x.owed, c.Reached && x.waitsForDay(e, timing.Instant(c.At)):
			x.owed = true // over before the morning, it has still done its harm
		case c.Reached:
			x.alarm.Apply(alarms.Outer, "", timing.Instant(c.At))
		case !x.unsaid():
			x.alarm.Apply(alarms.Within, "", timing.Instant(c.At))
		}
	}
	c, excess, until := exposure.Aside, 0.0, timing.Instant(0)
	if x.inTurn() {
		var buf [8]voice
		vs, stand := x.heard(now, buf[:0])
		x.listen(e, vs, now)
		c, excess, until = x.weigh(vs, stand, now)
	}
	x.meter.Tell(int64(now), c, excess, int64(until))
	e.panel.Timers.Set(x.timer, timing.Instant(x.meter.Due()))
	if x.owed && !x.waitsForDay(e, now) {
		x.place.tellOwed(e, now)
	}
	if !x.meter.Reached && x.alarm.Condition != alarms.Within && !x.unsaid() { // it ended while nobody could say so
		x.alarm.Apply(alarms.Within, "", now)
	}
	x.alarm.RemindOwed(now)
	x.settle(e, now)
}

// unsaid reports whether it is not known whether what was beyond still is: time
// that goes by is no all-clear.
func (x *exposed) unsaid() bool { return x.latch.On && x.meter.Now == exposure.Unknown }

// listen notes on whose word x is beyond, of vs that are heard. The latch is on
// until these say that it is not, or others in place of those that are lost.
func (x *exposed) listen(e *Engine, vs []voice, now timing.Instant) {
	w := &x.word
	if w.turned(x.muteAt(now)) {
		x.latch.Begin()
	}
	if len(vs) == 0 {
		x.latch.Stand(now)
		return
	}
	over := func(i int) bool { return counts(vs, i, x.beyond) }
	beyond := false
	for i := range vs {
		beyond = beyond || over(i)
	}
	if c, _ := x.meanwhile(now); beyond && c == exposure.Aside {
		return
	}
	for i := range vs {
		if over(i) {
			w.take(&vs[i])
		}
	}
	clear, _ := w.wait(vs, 0)
	x.latch.Judge(now, beyond, w.calm(vs, over, func(v *voice) bool { return !x.beyond(v.now) }), 0, clear)
}

// muteAt finds whether a stream, whose word x rests on, says nothing any more.
func (x *exposed) muteAt(now timing.Instant) func(*stream) bool {
	return func(st *stream) bool {
		mute, at := st.mute(), st.ValueAt
		if st.Odd != "" {
			at = st.RawAt
		}
		return mute || st.standsFrom(at, x.plan.Hold) <= now
	}
}

// settle reports that the word x rests on was lost, and forgets it when all is over.
func (x *exposed) settle(e *Engine, now timing.Instant) {
	w := &x.word
	switch {
	case !x.latch.On && (!w.lost || x.alarm.Condition == alarms.Within):
		w.clear()
	case x.latch.On && w.lost && !w.told && x.alarm.Condition != alarms.Within:
		var buf [8]voice
		if vs, _ := x.heard(now, buf[:0]); x.missed(vs) {
			w.told = true
			x.alarm.Write(now)
		}
	}
}

func (x *exposed) missed(vs []voice) bool {
	return x.word.missed(vs, func(i int) bool { return counts(vs, i, x.beyond) })
}

// exposeAll is expose for all that rests on pt.
func (pt *point) exposeAll(e *Engine, now timing.Instant) {
	for _, x := range pt.exposures {
		x.expose(e, now)
	}
}

// inTurn reports whether x counts in this season and at this time of day.
func (x *exposed) inTurn() bool {
	b := alarms.Band{When: x.plan.When, Seasons: x.plan.Seasons}
	return b.Holds(x.place.house.Season, x.place.house.Daypart)
}

// sense finds what holds for x at now, how far beyond its limit, and until
// when that may be taken to hold.
func (x *exposed) sense(now timing.Instant) (c exposure.Condition, excess float64, until timing.Instant) {
	if !x.inTurn() {
		return exposure.Aside, 0, 0
	}
	var buf [8]voice
	vs, until := x.heard(now, buf[:0])
	return x.weigh(vs, until, now)
}

// weigh is sense, by vs that are heard and may all stand until then.
func (x *exposed) weigh(vs []voice, until timing.Instant, now timing.Instant) (exposure.Condition, float64, timing.Instant) {
	v := x.worst(vs)
	switch {
	case v == nil:
		return exposure.Unknown, 0, 0
	case !x.beyond(v.now) && x.latch.On: // whoever said otherwise has not been heard since
		return exposure.Unknown, 0, 0
	case !x.beyond(v.now):
		return exposure.Within, 0, until
	}
	c, other := x.meanwhile(now)
	if c != exposure.Beyond {
		return c, 0, 0
	}
	return c, x.excess(v.now), min(until, other)
}

// heard adds to buf what is said of what x counts: see point.heard.
func (x *exposed) heard(now timing.Instant, buf []voice) (vs []voice, until timing.Instant) {
	return x.point.heard(now, x.plan.Hold, buf, x.beyond)
}

// worst returns which of vs is furthest beyond x's limit, or least far within it,
// of those that count; nil for none.
func (x *exposed) worst(vs []voice) (worst *voice) {
	_, sign, _ := x.plan.Bound()
	for i := range vs {
		if counted := vs[i].doubt == "" || counts(vs, i, x.beyond); counted && (worst == nil || sign*vs[i].now > sign*worst.now) {
			worst = &vs[i]
		}
	}
	return worst
}

// meanwhile finds whether that holds by which x counts, and until when.
func (x *exposed) meanwhile(now timing.Instant) (c exposure.Condition, until timing.Instant) {
	if x.while == nil {
		return exposure.Beyond, math.MaxInt64
	}
	low, high := x.plan.WhileLow, x.plan.WhileHigh
	fits := func(v float64) bool { return (!low.Set || v >= low.Value) && (!high.Set || v <= high.Value) }
	var buf [8]voice
	vs, until := x.while.heard(now, x.plan.Hold, buf[:0], fits)
	lo, hi, known := 0.0, 0.0, false
	for i := range vs {
		if vs[i].doubt != "" && !counts(vs, i, fits) {
			continue
		}
		if !known {
			lo, hi, known = vs[i].now, vs[i].now, true
		}
		lo, hi = min(lo, vs[i].now), max(hi, vs[i].now)
	}
	switch {
	case !known:
		return exposure.Unknown, 0
	case low.Set && hi < low.Value, high.Set && lo > high.Value:
		return exposure.Aside, 0 // a wet leaf does not dry because it is cold
	}
	return exposure.Beyond, until
}

// beyond reports whether a value counts; excess is how far it is beyond x's limit.
func (x *exposed) beyond(v float64) bool {
	by := x.excess(v)
	_, _, on := x.plan.Bound()
	return by > 0 || on && by == 0
}

func (x *exposed) excess(v float64) float64 {
	l, sign, _ := x.plan.Bound()
	return sign * (v - l.Value)
}

// heard adds to buf what is said of pt and not older than hold, and until when
// all that counts may stand: what is believed, and what is doubted and agreed to
// be so.
func (pt *point) heard(now timing.Instant, hold time.Duration, buf []voice, so func(float64) bool) (vs []voice, until timing.Instant) {
	vs = slices.DeleteFunc(pt.voices(buf), func(v voice) bool { return v.standsUntil(hold) <= now })
	until = math.MaxInt64
	for i := range vs {
		if vs[i].doubt == "" || counts(vs, i, so) {
			until = min(until, vs[i].standsUntil(hold))
		}
	}
	return vs, until
}

// standsUntil returns until when v stands for what is not known yet.
func (v *voice) standsUntil(hold time.Duration) timing.Instant {
	if st := v.of[0]; v.doubt != "" && v.doubt == st.Odd {
		return st.standsFrom(st.RawAt, hold)
	}
	until := timing.Instant(math.MaxInt64)
	for _, st := range v.of[:2] {
		if st != nil {
			until = min(until, st.standsUntil(hold))
		}
	}
	return until
}

// standsUntil returns until when st's value stands for what is not known yet.
func (st *stream) standsUntil(hold time.Duration) timing.Instant {
	return st.standsFrom(st.ValueAt, hold)
}

func (st *stream) standsFrom(at timing.Instant, hold time.Duration) timing.Instant {
	if hold == 0 {
		hold = max(alarms.DefaultHold, 2*st.interval())
	}
	return at.Add(hold)
}

// fingerprint is what makes a count of x comparable with another.
func (x *exposed) fingerprint() string {
	p := x.plan
	l, sign, on := p.Bound()
	return fmt.Sprint(p.Quantity, l.Value, sign, on, p.When, p.Seasons, p.While, p.WhileLow, p.WhileHigh, p.Rule(), p.Nights > 0)
}

func (x *exposed) save() savedExposure {
	return savedExposure{Rule: x.fingerprint(), State: x.meter.Save(), Word: x.word.save(), Latch: x.latch.Save(), Owed: x.owed}
}

// load takes what was counted, unless by another rule: then x starts again, and
// an alarm that is on ends by the new one.
func (x *exposed) loadExposure(e *Engine, s savedExposure, replanned bool) {
	if s.Rule == x.fingerprint() {
		x.meter.Load(s.State)
		if !replanned || x.point.measured() { // else nobody will ever say that it is over
			x.word = x.place.loadWord(s.Word)
			x.latch.Load(s.Latch)
		}
		x.owed = s.Owed
		if replanned && x.meter.End != 0 { // the day may end at another time
			x.meter.End = int64(x.periodEnd(e, timing.Instant(x.meter.At)))
		}
	} else {
		x.meter.Reached = x.alarm.Condition != alarms.Within
	}
	e.panel.Timers.Set(x.timer, timing.Instant(x.meter.Due()))
}
