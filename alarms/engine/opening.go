package engine

import (
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/lifecycle"
	"telltale/alarms/localtime"
	"telltale/alarms/timing"
)

// doors are what people open and shut by hand in a house.
type doors struct {
	plainPart
	h        *house
	openings []*opening // that people open and shut by hand
}

// opening is a door, a window or a lid at work. Its contact alone says whether it
// is open; while that is not heard this is not known, and neither begins nor ends
// anything.
type opening struct {
	lifecycle.Plain
	openingState
	engine *Engine
	house  *house
	plan   *alarms.HandOpening
	place  *place
	shows  *stream
	alarm  *alarm        // Inner: the low limit is close
	log    *alarm        // carries the lines of the log
	moved  *timing.Timer // when it has been open, or its contact closed, for as long as counts
	byDay  *timing.Timer // when it should be shut, by the clock; off where the sun says it
}

// openingState is what a snapshot keeps of an opening.
type openingState struct {
	Known  bool           `json:"known,omitempty"` // it was ever heard
	Open   bool           `json:"open,omitempty"`
	Since  timing.Instant `json:"since,omitempty"`  // as far as was seen
	Closed timing.Instant `json:"closed,omitempty"` // while Open: its contact has been closed since
	Was    timing.Instant `json:"was,omitempty"`    // since when it had been open, when it was last
	Of     string         `json:"of"`               // what of the plan that rests on
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
func opens(o *alarms.HandOpening, v float64) bool { return (v >= control.Closed) == o.Inverted }

func (ds *doors) buildOpenings() {
	for i := range ds.h.plan.Openings {
		plan := &ds.h.plan.Openings[i]
		o := &opening{engine: ds.h.e, house: ds.h, plan: plan, place: ds.h.place(plan.Place), shows: ds.h.e.streams[streamKey{plan.Probe, alarms.Contact}]}
		o.Of = o.of()
		o.shows.opens = append(o.shows.opens, o)
		o.moved = ds.h.e.panel.Timers.Build(func(due timing.Instant) {
			o.settleOpening(ds.h.e, due)
			o.judgeOpening(ds.h.e, due)
		})
		o.byDay = ds.h.e.panel.Timers.Build(func(due timing.Instant) { o.dueOpening(ds.h.e, due) })
		o.alarm = ds.h.e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
			ID: ds.h.id(alarms.PlaceID(plan.ID), "open"), Kind: alarms.RuleOpening, Quantity: alarms.Temperature,
			Priority: lifecycle.ByLevel(plan.Priority, alarms.High),
			Because:  func(_ alarms.Move, due timing.Instant) alarms.Reason { return o.why(due) },
		}, house: ds.h, of: o})
		o.log = ds.h.e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
			ID: ds.h.id(alarms.PlaceID(plan.ID), "moved"), Kind: alarms.RuleOpening, Priority: lifecycle.Always(alarms.Low),
			Because: func(_ alarms.Move, due timing.Instant) alarms.Reason { return o.why(due) },
		}, house: ds.h, of: o})
		ds.openings = append(ds.openings, o)
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
func (o *opening) known() bool { return o.Known && o.shows.seen(o.engine) }

// moveOpening takes what the contact of o says.
func (o *opening) moveOpening(e *Engine, open bool, now timing.Instant) {
	switch {
	case !o.Known, open && !o.Open:
		o.Known, o.Open, o.Since, o.Closed = true, open, now, 0
	case open:
		o.Closed = 0
	case o.Open && o.Closed == 0:
		o.Closed = now
	}
	o.settleOpening(e, now)
	o.judgeOpening(e, now)
}

// settleOpening takes o for shut when it has been so for long enough.
func (o *opening) settleOpening(e *Engine, now timing.Instant) {
	if o.Open && o.Closed != 0 && o.known() && now.Since(o.Closed) >= openHolds {
		o.Open, o.Was, o.Since, o.Closed = false, o.Since, o.Closed, 0
		if o.alarm.Condition == alarms.Within { // else its end is told
			o.log.Write(now)
		}
	}
	o.awaitOpening(e, now)
}

// awaitOpening sets the next moment at which the time that o has been so counts.
func (o *opening) awaitOpening(e *Engine, now timing.Instant) {
	next := timing.Instant(0)
	for _, due := range [...]timing.Instant{o.Closed.Add(openHolds), o.Since.Add(openNear), o.Since.Add(openLong)} {
		if o.Open && due > now && (next == 0 || due < next) {
			next = due
		}
	}
	e.panel.Timers.Set(o.moved, next)
}

// start sets the clock times at which those of the house should be shut.
func (ds *doors) start(now timing.Instant) {
	for _, o := range ds.openings {
		if o.plan.ShutBy > 0 {
			ds.h.e.panel.Timers.Set(o.byDay, ds.h.e.panel.Clock.Core(nextOpening(o, ds.h.e.panel.Clock.At(now))))
		}
	}
}

// nextOpening is the next time after t at which o should be shut, by the clock.
func nextOpening(o *opening, t time.Time) time.Time {
	zone := o.house.plan.Day.Zone
	for day := localtime.DateIn(t, zone); ; day = day.AddDate(0, 0, 1) {
		if by := localtime.Reached(day, o.plan.ShutBy, zone); by.After(t) {
			return by
		}
	}
}

func (o *opening) dueOpening(e *Engine, due timing.Instant) {
	from := o.house.leap(due)
	e.panel.Timers.Set(o.byDay, e.panel.Clock.Core(nextOpening(o, e.panel.Clock.At(from))))
	o.judgeOpening(e, due)
}

// by is when o should have been shut on the evening before now.
func (o *opening) by(now timing.Instant) time.Time {
	here, zone := o.house.wall.At(now), o.house.plan.Day.Zone
	if o.plan.ShutBy <= 0 {
		turned, _, _ := o.house.calendar.LastTurn(here, 24*time.Hour)
		return turned
	}
	by := localtime.Reached(localtime.DateIn(here, zone), o.plan.ShutBy, zone)
	if by.After(here) {
		by = localtime.Reached(localtime.DateIn(here, zone).AddDate(0, 0, -1), o.plan.ShutBy, zone)
	}
	return by
}

// late reports whether o should be shut at this time of day.
func (o *opening) late(now timing.Instant) bool {
	switch by := o.plan.ShutBy; {
	case by < 0:
		return false
	case by == 0:
		return o.house.Daypart == alarms.Night
	default:
		local := o.house.wall.At(now).In(o.house.plan.Day.Zone)
		clock := time.Duration(local.Hour())*time.Hour + time.Duration(local.Minute())*time.Minute
		return clock >= by || o.house.Daypart == alarms.Night && clock < alarms.EarliestShutBy
	}
}

// judgeOpenings judges those of the house again.
func (ds *doors) judgeOpenings(now timing.Instant) {
	for _, o := range ds.openings {
		o.judgeOpening(ds.h.e, now)
	}
}

// judgeOpening brings the alarm of o to what is known now.
func (o *opening) judgeOpening(e *Engine, now timing.Instant) {
	level := alarms.Within
	if !o.shows.probe.Out {
		if !o.known() {
			return
		}
		level = o.level(now)
	}
	if level != o.alarm.Condition {
		o.alarm.Apply(level, "", now)
	}
}

// rejudgeOpening judges o by another plan: what rests on another contact ends.
func (o *opening) rejudgeOpening(e *Engine, now timing.Instant) {
	if !o.Known && o.alarm.Condition != alarms.Within {
		o.alarm.Apply(alarms.Within, "", now)
	}
	o.judgeOpening(e, now)
}

// level is how much it harms now that o is open.
func (o *opening) level(now timing.Instant) alarms.Level {
	if !o.Open || o.house.needs()&control.NeedsAir != 0 {
		return alarms.Within
	}
	open, on := now.Since(o.Since), o.alarm.Condition != alarms.Within
	fast := o.cools()
	switch {
	case open >= openNear && (fast == alarms.Inner || o.alarm.Condition == alarms.Inner && o.near()):
		return alarms.Inner
	case open >= openNear && fast == alarms.Outer, (open >= openLong || on) && o.late(now) && o.cold():
		return alarms.Outer
	}
	return alarms.Within
}

// low is the low limit of where o is.
func (o *opening) low() float64 {
	if pt := o.place.point(alarms.Temperature); pt != nil && pt.banded {
		for _, l := range [...]alarms.Limit{pt.inForce().Low, pt.inForce().LowLow} {
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
	if o.alarm.Condition != alarms.Within {
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
func (o *opening) cools() alarms.Level {
	inside, low := o.place.temperature(), o.low()
	rate, ok := o.rate()
	falls := o.plan.Falls
	if o.alarm.Condition != alarms.Within {
		falls /= 2
	}
	if out := o.house.outsideNow(); !ok || math.IsNaN(inside) || -rate < falls || out >= low+openBack {
		return alarms.Within
	}
	switch own := o.place.point(alarms.Temperature).rate; {
	case inside+rate*openQuick.Hours() < low, o.near():
		return alarms.Inner
	case inside < low+openNight && inside+rate*openSoon.Hours() < low && (own == nil || !own.Fall.Set):
		return alarms.Outer
	}
	return alarms.Within
}

// rate is how fast the temperature at the place of o changes, K an hour.
func (o *opening) rate() (perHour float64, ok bool) {
	pt := o.place.point(alarms.Temperature)
	st := pt.furthest(alarms.LowSide)
	if st == nil || !st.usable() || !st.charted() {
		return 0, false
	}
	if v, ok := st.Course.recent(pt.window()); ok {
		return v, true
	}
	return st.Course.slope(st.window())
}

// load takes what was saved of o, if its contact is still the same.
func (o *opening) load(s openingState, now timing.Instant) {
	if s.Of == o.Of {
		o.openingState = s
	}
	o.awaitOpening(o.engine, now)
}

func (ds *doors) save(s *snapshot) {
	for _, o := range ds.openings {
		s.Openings[o.alarm.ID] = o.openingState
	}
}

func (ds *doors) load(s *snapshot, _ bool) {
	for _, o := range ds.openings {
		o.load(s.Openings[o.alarm.ID], s.Now)
	}
}

func (ds *doors) replan(due timing.Instant) {
	for _, o := range ds.openings {
		o.rejudgeOpening(ds.h.e, due)
	}
}
