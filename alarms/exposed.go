package alarms

import (
	"fmt"
	"math"
	"slices"
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
	latch *latch // beyond, by word
	word  word
	owed  bool // reached, and told in the morning

	// While it is being told: what else is told with it, or with what it is told.
	telling bool
	also    []string
	with    ExposureID
}

// savedExposure is an exposure in a snapshot. What was counted by another rule
// is of no use.
type savedExposure struct {
	Rule  string         `json:"rule"`
	State exposure.State `json:"state"`
	Word  savedWord      `json:"word,omitzero"`
	Latch latchState     `json:"latch,omitzero"`
	Owed  bool           `json:"owed,omitempty"`
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
		x.timer = e.timers.build(func(due instant) {
			if from := e.now.add(-leapLast); from > due && e.forgets(x, due) {
				e.timers.set(x.timer, from)
				return
			}
			e.expose(x, due)
		})
		x.latch = newLatch(&e.timers, func(due instant) { e.expose(x, due) })
		_, sign, _ := x.plan.bound()
		x.alarm = e.newAlarm(&alarm{
			id: p.house.id(p.plan.ID, "exposure-"+string(x.plan.ID)), rule: RuleExposure, house: p.house, place: p,
			quantity: x.plan.Quantity, side: sideOf(sign), priority: always(x.plan.Priority), exposed: x,
			why: func(_ Move, due instant) Reason { return x.why(due) },
		})
		p.exposures = append(p.exposures, x)
		p.house.exposures = append(p.house.exposures, x)
	}
}

// periodEnd returns when the day or night of x that holds just after a moment
// ends: at midnight, or at nightfall.
func (e *Engine) periodEnd(x *exposed, after instant) instant {
	if x.plan.Nights > 0 {
		return x.place.house.nightfall(after)
	}
	return e.core(midnightIn(e.wall(after), e.plan.Words.Zone))
}

// nightfall returns when the next night begins, a day later where none does.
func (h *house) nightfall(after instant) instant {
	if t, ok := h.nextPart(after, Night); ok {
		return t
	}
	return after.add(24 * time.Hour)
}

// nextPart returns when the next part of that kind begins.
func (h *house) nextPart(after instant, part Daypart) (begins instant, ok bool) {
	t := h.wall.at(after)
	for range 4 {
		next, ok := h.calendar.nextChange(t)
		if !ok {
			break
		}
		if h.calendar.partAt(next) == part {
			return h.wall.core(next), true
		}
		t = next
	}
	return 0, false
}

// startExposures begins to count at the first moment ever seen.
func (e *Engine) startExposures(h *house, now instant) {
	for _, x := range h.exposures {
		e.expose(x, now)
	}
}

// expose counts x up to now, tells what that brought about, and looks at what
// holds from now on.
func (e *Engine) expose(x *exposed, now instant) {
	for _, c := range x.meter.Advance(int64(now)) {
		switch {
		case x.owed, c.Reached && e.waitsForDay(x, instant(c.At)):
			x.owed = true // over before the morning, it has still done its harm
		case c.Reached:
			e.apply(x.alarm, Outer, nil, instant(c.At))
		case !x.unsaid():
			e.apply(x.alarm, Within, nil, instant(c.At))
		}
	}
	c, excess, until := exposure.Aside, 0.0, instant(0)
	if x.inTurn() {
		var buf [8]voice
		vs, stand := x.heard(now, buf[:0])
		e.listen(x, vs, now)
		c, excess, until = x.weigh(vs, stand, now)
	}
	x.meter.Tell(int64(now), c, excess, int64(until))
	e.timers.set(x.timer, instant(x.meter.Due()))
	if x.owed && !e.waitsForDay(x, now) {
		e.tellOwed(x.place, now)
	}
	if !x.meter.Reached && x.alarm.Condition != Within && !x.unsaid() { // it ended while nobody could say so
		e.apply(x.alarm, Within, nil, now)
	}
	if e.owes(x.alarm) {
		e.remind(x.alarm, now)
	}
	x.settle(e, now)
}

// unsaid reports whether it is not known whether what was beyond still is: time
// that goes by is no all-clear.
func (x *exposed) unsaid() bool { return x.latch.On && x.meter.Now == exposure.Unknown }

// listen notes on whose word x is beyond, of vs that are heard. The latch is on
// until these say that it is not, or others in place of those that are lost.
func (e *Engine) listen(x *exposed, vs []voice, now instant) {
	w := &x.word
	if w.turned(x.muteAt(now)) {
		x.latch.begin()
	}
	if len(vs) == 0 {
		x.latch.stand(now)
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
	x.latch.judge(now, beyond, w.calm(vs, over, func(v *voice) bool { return !x.beyond(v.now) }), 0, clear)
}

// muteAt finds whether a stream, whose word x rests on, says nothing any more.
func (x *exposed) muteAt(now instant) func(*stream) bool {
	return func(st *stream) bool {
		mute, at := st.mute(), st.ValueAt
		if st.Odd != "" {
			at = st.RawAt
		}
		return mute || st.standsFrom(at, x.plan.Hold) <= now
	}
}

// settle tells that the word x rests on was lost, and forgets it when all is over.
func (x *exposed) settle(e *Engine, now instant) {
	w := &x.word
	switch {
	case !x.latch.On && (!w.lost || x.alarm.Condition == Within):
		w.clear()
	case x.latch.On && w.lost && !w.told && x.alarm.Condition != Within:
		var buf [8]voice
		if vs, _ := x.heard(now, buf[:0]); x.missed(vs) {
			w.told = true
			e.note(x.alarm, now)
		}
	}
}

func (x *exposed) missed(vs []voice) bool {
	return x.word.missed(vs, func(i int) bool { return counts(vs, i, x.beyond) })
}

// exposeAll is expose for all that rests on pt.
func (e *Engine) exposeAll(pt *point, now instant) {
	for _, x := range pt.exposures {
		e.expose(x, now)
	}
}

// loseSight says that nothing is known of h from a moment on.
func (e *Engine) loseSight(h *house, from instant) {
	for _, x := range h.exposures {
		x.meter.Tell(int64(from), exposure.Unknown, 0, 0)
		e.timers.set(x.timer, instant(x.meter.Due()))
	}
}

// inTurn reports whether x counts in this season and at this time of day.
func (x *exposed) inTurn() bool {
	b := Band{When: x.plan.When, Seasons: x.plan.Seasons}
	return b.holds(x.place.house.Season, x.place.house.Daypart)
}

// sense finds what holds for x at now, how far beyond its limit, and until
// when that may be taken to hold.
func (x *exposed) sense(now instant) (c exposure.Condition, excess float64, until instant) {
	if !x.inTurn() {
		return exposure.Aside, 0, 0
	}
	var buf [8]voice
	vs, until := x.heard(now, buf[:0])
	return x.weigh(vs, until, now)
}

// weigh is sense, by vs that are heard and may all stand until then.
func (x *exposed) weigh(vs []voice, until instant, now instant) (exposure.Condition, float64, instant) {
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
	return c, x.plan.excess(v.now), min(until, other)
}

// heard adds to buf what is said of what x counts: see point.heard.
func (x *exposed) heard(now instant, buf []voice) (vs []voice, until instant) {
	return x.point.heard(now, x.plan.Hold, buf, x.beyond)
}

// worst returns which of vs is furthest beyond x's limit, or least far within it,
// of those that count; nil for none.
func (x *exposed) worst(vs []voice) (worst *voice) {
	_, sign, _ := x.plan.bound()
	for i := range vs {
		if counted := vs[i].doubt == "" || counts(vs, i, x.beyond); counted && (worst == nil || sign*vs[i].now > sign*worst.now) {
			worst = &vs[i]
		}
	}
	return worst
}

// meanwhile finds whether that holds by which x counts, and until when.
func (x *exposed) meanwhile(now instant) (c exposure.Condition, until instant) {
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
	by := x.plan.excess(v)
	_, _, on := x.plan.bound()
	return by > 0 || on && by == 0
}

func (x *Exposure) excess(v float64) float64 {
	l, sign, _ := x.bound()
	return sign * (v - l.Value)
}

// heard adds to buf what is said of pt and not older than hold, and until when
// all that counts may stand: what is believed, and what is doubted and agreed to
// be so.
func (pt *point) heard(now instant, hold time.Duration, buf []voice, so func(float64) bool) (vs []voice, until instant) {
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
func (v *voice) standsUntil(hold time.Duration) instant {
	if st := v.of[0]; v.doubt != "" && v.doubt == st.Odd {
		return st.standsFrom(st.RawAt, hold)
	}
	until := instant(math.MaxInt64)
	for _, st := range v.of[:2] {
		if st != nil {
			until = min(until, st.standsUntil(hold))
		}
	}
	return until
}

// standsUntil returns until when st's value stands for what is not known yet.
func (st *stream) standsUntil(hold time.Duration) instant { return st.standsFrom(st.ValueAt, hold) }

func (st *stream) standsFrom(at instant, hold time.Duration) instant {
	if hold == 0 {
		hold = max(defaultHold, 2*st.interval())
	}
	return at.add(hold)
}

// fingerprint is what makes a count of x comparable with another.
func (x *Exposure) fingerprint() string {
	l, sign, on := x.bound()
	return fmt.Sprint(x.Quantity, l.Value, sign, on, x.When, x.Seasons, x.While, x.WhileLow, x.WhileHigh, x.rule(), x.Nights > 0)
}

func (x *exposed) save() savedExposure {
	return savedExposure{Rule: x.plan.fingerprint(), State: x.meter.Save(), Word: x.word.save(), Latch: x.latch.save(), Owed: x.owed}
}

// load takes what was counted, unless by another rule: then x starts anew, and
// an alarm that is on ends by the new one.
func (e *Engine) loadExposure(x *exposed, s savedExposure, replanned bool) {
	if s.Rule == x.plan.fingerprint() {
		x.meter.Load(s.State)
		if !replanned || x.point.measured() { // else nobody will ever say that it is over
			x.word = x.place.loadWord(s.Word)
			x.latch.load(s.Latch)
		}
		x.owed = s.Owed
		if replanned && x.meter.End != 0 { // the day may end at another time
			x.meter.End = int64(e.periodEnd(x, instant(x.meter.At)))
		}
	} else {
		x.meter.Reached = x.alarm.Condition != Within
	}
	e.timers.set(x.timer, instant(x.meter.Due()))
}
