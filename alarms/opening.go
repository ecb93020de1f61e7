package alarms

import (
	"math"
	"time"

	"telltale/alarms/control"
)

// opening is a door, a window or a lid at work. Its contact alone says whether it
// is open; while that is not heard this is not known, and neither begins nor ends
// anything.
type opening struct {
	openingState
	engine *Engine
	house  *house
	plan   *HandOpening
	place  *place
	shows  *stream
	alarm  *alarm // Inner: the low limit is close
	log    *alarm // carries the lines of the log
	moved  *timer // when it has been open, or its contact closed, for as long as counts
	byDay  *timer // when it should be shut, by the clock; off where the sun says it
}

// openingState is what a snapshot keeps of an opening.
type openingState struct {
	Known  bool    `json:"known,omitempty"` // it was ever heard
	Open   bool    `json:"open,omitempty"`
	Since  instant `json:"since,omitempty"`  // as far as was seen
	Closed instant `json:"closed,omitempty"` // while Open: its contact has been closed since
	Was    instant `json:"was,omitempty"`    // since when it had been open, when it was last
	Of     string  `json:"of"`               // what of the plan that rests on
}

// How an opening is judged. All common practice, no source.
const (
	openHolds = 2 * time.Minute  // for which it must be shut: what bangs in the wind is open
	openNear  = 5 * time.Minute  // for which it must have been open, with the low limit close
	openLong  = 10 * time.Minute // and at night: people go in and out
	openNight = 6.0              // K by which it may cool outside in a night
	openBack  = 1.0              // K warmer than where it began to harm, and it harms no more
	openClose = 2.0              // K above the low limit: close to it
	openCold  = 5.0              // °C, the low limit of a place that has none
	openSoon  = time.Hour        // in which the low limit would be reached
	openQuick = 20 * time.Minute // the same, of close
)

// opens reports whether a value of the contact says that o is open.
func (o *HandOpening) opens(v float64) bool { return (v >= closedContact) == o.Inverted }

func (e *Engine) buildOpenings(h *house) {
	for i := range h.plan.Openings {
		plan := &h.plan.Openings[i]
		o := &opening{engine: e, house: h, plan: plan, place: h.place(plan.Place), shows: e.streams[streamKey{plan.Probe, Contact}]}
		o.Of = o.of()
		o.shows.opens = append(o.shows.opens, o)
		o.moved = e.timers.build(func(due instant) {
			e.settleOpening(o, due)
			e.judgeOpening(o, due)
		})
		o.byDay = e.timers.build(func(due instant) { e.dueOpening(o, due) })
		o.alarm = e.newAlarm(&alarm{
			id: h.id(PlaceID(plan.ID), "open"), rule: RuleOpening, house: h, opening: o, quantity: Temperature,
			priority: byLevel(plan.Priority, High), why: func(_ Move, due instant) Reason { return o.why(due) },
		})
		o.log = e.newAlarm(&alarm{
			id: h.id(PlaceID(plan.ID), "moved"), rule: RuleOpening, house: h, opening: o, priority: always(Low),
			why: func(_ Move, due instant) Reason { return o.why(due) },
		})
		h.openings = append(h.openings, o)
	}
}

// of is what of the plan the state of o rests on.
func (o *opening) of() string {
	if o.plan.Inverted {
		return string(o.plan.Probe) + " inverted"
	}
	return string(o.plan.Probe)
}

// known reports whether it is known now whether o is open.
func (o *opening) known() bool { return o.Known && o.engine.seen(o.shows) }

// moveOpening takes what the contact of o says.
func (e *Engine) moveOpening(o *opening, open bool, now instant) {
	switch {
	case !o.Known, open && !o.Open:
		o.Known, o.Open, o.Since, o.Closed = true, open, now, 0
	case open:
		o.Closed = 0
	case o.Open && o.Closed == 0:
		o.Closed = now
	}
	e.settleOpening(o, now)
	e.judgeOpening(o, now)
}

// settleOpening takes o for shut when it has been so for long enough.
func (e *Engine) settleOpening(o *opening, now instant) {
	if o.Open && o.Closed != 0 && o.known() && now.since(o.Closed) >= openHolds {
		o.Open, o.Was, o.Since, o.Closed = false, o.Since, o.Closed, 0
		if o.alarm.Condition == Within { // else its end is told
			e.note(o.log, now)
		}
	}
	e.awaitOpening(o, now)
}

// awaitOpening sets the next moment at which the time that o has been so counts.
func (e *Engine) awaitOpening(o *opening, now instant) {
	next := instant(0)
	for _, due := range [...]instant{o.Closed.add(openHolds), o.Since.add(openNear), o.Since.add(openLong)} {
		if o.Open && due > now && (next == 0 || due < next) {
			next = due
		}
	}
	e.timers.set(o.moved, next)
}

// startOpenings sets the clock times at which those of h should be shut.
func (e *Engine) startOpenings(h *house, now instant) {
	for _, o := range h.openings {
		if o.plan.ShutBy > 0 {
			e.timers.set(o.byDay, e.core(nextOpening(o, e.wall(now))))
		}
	}
}

// nextOpening is the next time after t at which o should be shut, by the clock.
func nextOpening(o *opening, t time.Time) time.Time {
	zone := o.house.plan.Day.Zone
	for day := dateIn(t, zone); ; day = day.AddDate(0, 0, 1) {
		if by := reached(day, o.plan.ShutBy, zone); by.After(t) {
			return by
		}
	}
}

func (e *Engine) dueOpening(o *opening, due instant) {
	from := e.leap(due, o.house, e.asleep)
	e.timers.set(o.byDay, e.core(nextOpening(o, e.wall(from))))
	e.judgeOpening(o, due)
}

// by is when o should have been shut on the evening before now.
func (o *opening) by(now instant) time.Time {
	here, zone := o.house.wall.at(now), o.house.plan.Day.Zone
	if o.plan.ShutBy <= 0 {
		turned, _, _ := o.house.calendar.lastTurn(here, 24*time.Hour)
		return turned
	}
	by := reached(dateIn(here, zone), o.plan.ShutBy, zone)
	if by.After(here) {
		by = reached(dateIn(here, zone).AddDate(0, 0, -1), o.plan.ShutBy, zone)
	}
	return by
}

// late reports whether o should be shut at this time of day.
func (o *opening) late(now instant) bool {
	switch by := o.plan.ShutBy; {
	case by < 0:
		return false
	case by == 0:
		return o.house.Daypart == Night
	default:
		local := o.house.wall.at(now).In(o.house.plan.Day.Zone)
		clock := time.Duration(local.Hour())*time.Hour + time.Duration(local.Minute())*time.Minute
		return clock >= by || o.house.Daypart == Night && clock < earliestShutBy
	}
}

// judgeOpenings judges those of h anew.
func (e *Engine) judgeOpenings(h *house, now instant) {
	for _, o := range h.openings {
		e.judgeOpening(o, now)
	}
}

// judgeOpening brings the alarm of o to what is known now.
func (e *Engine) judgeOpening(o *opening, now instant) {
	level := Within
	if !o.shows.probe.Out {
		if !o.known() {
			return
		}
		level = o.level(now)
	}
	if level != o.alarm.Condition {
		e.apply(o.alarm, level, nil, now)
	}
}

// rejudgeOpening judges o by another plan: what rests on another contact ends.
func (e *Engine) rejudgeOpening(o *opening, now instant) {
	if !o.Known && o.alarm.Condition != Within {
		e.apply(o.alarm, Within, nil, now)
	}
	e.judgeOpening(o, now)
}

// level is how much it harms now that o is open.
func (o *opening) level(now instant) Level {
	if !o.Open || o.house.needs()&control.NeedsAir != 0 {
		return Within
	}
	open, on := now.since(o.Since), o.alarm.Condition != Within
	fast := o.cools()
	switch {
	case open >= openNear && (fast == Inner || o.alarm.Condition == Inner && o.near()):
		return Inner
	case open >= openNear && fast == Outer, (open >= openLong || on) && o.late(now) && o.cold():
		return Outer
	}
	return Within
}

// low is the low limit of where o is.
func (o *opening) low() float64 {
	if pt := o.place.point(Temperature); pt != nil && pt.banded {
		for _, l := range [...]Limit{pt.inForce().Low, pt.inForce().LowLow} {
			if l.Set {
				return l.Value
			}
		}
	}
	return openCold
}

// cold reports whether the night may bring the cold in: it does not where it is
// warm outside by more than a night cools. Where nothing is known of the outside
// the temperature inside says it, which an open door brings near to it.
func (o *opening) cold() bool {
	limit := o.low() + openNight
	if o.alarm.Condition != Within {
		limit += openBack
	}
	for _, v := range [...]float64{o.house.outsideNow(), o.place.temperature()} {
		if !math.IsNaN(v) {
			return v < limit
		}
	}
	return true // nobody knows how cold it will be
}

func (o *opening) near() bool { return o.place.temperature() < o.low()+openClose }

// cools reports whether the place of o cools fast towards its low limit, and
// whether that is close. It does not get colder than it is outside.
func (o *opening) cools() Level {
	inside, low := o.place.temperature(), o.low()
	rate, ok := o.rate()
	falls := o.plan.Falls
	if o.alarm.Condition != Within {
		falls /= 2
	}
	if out := o.house.outsideNow(); !ok || math.IsNaN(inside) || -rate < falls || out >= low+openBack {
		return Within
	}
	switch own := o.place.point(Temperature).rate; {
	case inside+rate*openQuick.Hours() < low, o.near():
		return Inner
	case inside < low+openNight && inside+rate*openSoon.Hours() < low && (own == nil || !own.Fall.Set):
		return Outer
	}
	return Within
}

// rate is how fast the temperature at the place of o changes, K an hour.
func (o *opening) rate() (perHour float64, ok bool) {
	pt := o.place.point(Temperature)
	st := pt.furthest(LowSide)
	if st == nil || !st.usable() || !st.charted() {
		return 0, false
	}
	if v, ok := st.Course.recent(pt.window()); ok {
		return v, true
	}
	return st.Course.slope(st.window())
}

// load takes what was saved of o, if its contact is still the same.
func (o *opening) load(s openingState, now instant) {
	if s.Of == o.Of {
		o.openingState = s
	}
	o.engine.awaitOpening(o, now)
}
