package engine

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/localtime"
	"telltale/alarms/timing"
)

// calendar is day and night of all houses where they are the same: what the clock
// does to them is found once.
type calendar struct {
	alarms.Days
	houses  []*house
	change  *timing.Timer // next change between day and night
	settled *timing.Timer // end of the time in which the looser limits hold after one
}

// buildCalendar puts h among the houses that have its days.
func (h *house) buildCalendar(e *Engine) {
	c := e.calendarOf[h.plan.DaysOf()]
	if c == nil {
		c = &calendar{Days: h.plan.DaysOf()}
		c.change = e.panel.Timers.Build(func(due timing.Instant) { c.changeDay(e, due) })
		c.settled = e.panel.Timers.Build(func(due timing.Instant) {
			for _, h := range c.houses {
				h.endSettling(e, due)
			}
		})
		e.calendarOf[c.Days], e.calendars = c, append(e.calendars, c)
	}
	h.calendar, c.houses = c, append(c.houses, h)
}

// startDays finds what part of the day it is at the first moment ever seen.
func (e *Engine) startDays(now timing.Instant) {
	for _, c := range e.calendars {
		part := c.PartAt(e.panel.Clock.At(now))
		c.scheduleDay(e, now)
		for _, h := range c.houses {
			h.Daypart, h.Before, h.SeasonBefore = part, part, h.Season
			h.takeLimits()
		}
	}
}

// changeDay turns day to night or night to day.
func (c *calendar) changeDay(e *Engine, due timing.Instant) {
	at := due
	if from := e.panel.Now.Add(-max(c.Settle, 0)); from.Since(due) >= leapOver && due.Since(e.lateFrom) >= lifecycle.LongStep && c.allUnseen(e, due) {
		at = from // what turned before has settled, and what was on a day before has ended
	}
	part := c.PartAt(e.panel.Clock.At(at))
	c.scheduleDay(e, at)
	settled := timing.Instant(0)
	for _, h := range c.houses {
		if at != due { // the newest of the turns that are leapt over
			if h.Daypart = alarms.Day; part == alarms.Day {
				h.Daypart = alarms.Night
			}
		}
		if part != h.Daypart {
			h.changeLimits(e, h.Season, part, due)
			settled = h.SettledDue // the same of all
		}
	}
	if settled != 0 {
		e.panel.Timers.Set(c.settled, settled)
	}
}

func (c *calendar) allUnseen(e *Engine, due timing.Instant) bool {
	return !slices.ContainsFunc(c.houses, func(h *house) bool { return !h.unseen(e, due) })
}

func (c *calendar) scheduleDay(e *Engine, now timing.Instant) {
	if next, ok := c.NextChange(e.panel.Clock.At(now)); ok {
		e.panel.Timers.Set(c.change, e.panel.Clock.Core(next))
	}
}

// stepDay puts the houses of c, so far at a moment before, into the part of the
// day that the wall clock shows now.
func (c *calendar) stepDay(e *Engine, before time.Time, now timing.Instant) {
	here := e.panel.Clock.At(now)
	part := c.PartAt(here)
	c.scheduleDay(e, now)
	turned, was, lately := c.LastTurn(here, c.Settle)
	settled := timing.Instant(0)
	if lately {
		settled = e.panel.Clock.Core(turned.Add(c.Settle))
	}
	e.panel.Timers.Set(c.settled, settled)
	next := !here.Before(localtime.MidnightIn(before, c.Zone))
	midnight := e.panel.Clock.Core(localtime.MidnightIn(here, c.Zone))
	for _, h := range c.houses {
		h.step(part, was, settled)
		h.owedAll(now)
		h.arrange(now)
		if next {
			h.beginNextDay(now)
		} else {
			h.awaitMidnight(midnight)
		}
		h.judgeAnew(e, now)
		h.doors.start(now)
		h.judgeOpenings(now)
		for _, x := range h.exposures {
			x.expose(e, now)
		}
	}
}

// step puts h into another part of the day. The looser limits hold only if day or
// night would have changed so lately by the wall clock: until then, 0 for not.
func (h *house) step(part, was alarms.Daypart, settled timing.Instant) {
	switch {
	case settled != 0:
		h.SeasonBefore, h.Before, h.Settling, h.SettledDue = h.Season, was, true, settled
	case h.Settling && h.SeasonBefore != h.Season: // by a season that was set lately
		h.Before = part
	default:
		h.Before, h.Settling, h.SettledDue = part, false, 0
	}
	h.Daypart = part
}

// What the calendar alone does to a house of which nothing is known (its days
// and nights, its midnights, what it counts by them) leaves the same behind
// whether all of it happens or only that of the last days. So the days before
// are leapt over: ten years cost what a few days do. Of day and night only what
// has not settled yet is walked through.
const (
	leapOver = 5 * 24 * time.Hour // at least, so that it is worth it
	leapLast = 3 * 24 * time.Hour // not leapt over
)

// leap returns due, or where time that passes reaches far beyond it, and nothing of h is
// known, from when on the calendar matters.
func (h *house) leap(due timing.Instant) timing.Instant {
	if h.e.panel.Now.Since(due) < leapOver || !h.asleep(due) {
		return due
	}
	return h.e.panel.Now.Add(-leapLast)
}

// longDeaf reports whether nothing could be heard for so long that all that is known of
// before has been judged by day and by night.
func (e *Engine) longDeaf(due timing.Instant) bool {
	blind := e.panel.Timers.Hearing.Blind
	return blind != 0 && due.Since(blind) >= leapLast
}

// unseen reports whether nothing of h can be judged by limits, of which some
// hold by day or by night only.
func (h *house) unseen(e *Engine, due timing.Instant) bool {
	if slices.ContainsFunc(h.exposures, func(x *exposed) bool { return x.plan.When != alarms.Always && !x.forgets(e, due) }) ||
		slices.ContainsFunc(h.openings, (*opening).known) {
		return false
	}
	return e.longDeaf(due) || !slices.ContainsFunc(h.wary, func(pt *point) bool {
		_, _, known := pt.extremes()
		return known
	})
}

// forgets reports whether nothing is known that x counts, and time passes so far that
// all of before is forgotten.
func (x *exposed) forgets(e *Engine, due timing.Instant) bool {
	_, _, known := x.point.extremes()
	return (!known || e.longDeaf(due)) && !x.owed && x.meter.Forgets(int64(e.panel.Now.Add(-leapLast)))
}

// asleep reports whether nothing of h is known at all, and its last days hold
// nothing any more.
func (h *house) asleep(due timing.Instant) bool {
	deaf := h.e.longDeaf(due)
	for _, st := range h.streams {
		if st.usable() && !deaf && (st.leaf || st.loop || len(st.evidence)+len(st.opens) > 0) {
			return false
		}
	}
	if h.loop != nil && !h.loop.Idle() {
		return false
	}
	return h.Outdoors.N == 0 && len(h.Outdoors.Days) == 0
}

// daypartOf is the daypart of h at a moment that may have been leapt over.
func (h *house) daypartOf(at timing.Instant) alarms.Daypart {
	if h.e.panel.Now.Since(at) <= h.plan.Day.Settle {
		return h.Daypart
	}
	return h.calendar.PartAt(h.e.panel.Clock.At(at))
}

// inForce returns the band in force of pt. What changes with daypart or season is
// found when it is asked for.
func (pt *point) inForce() *alarms.Band {
	if h := pt.place.house; pt.taken == 0 || pt.turns && pt.taken != h.turned {
		pt.taken = h.turned
		pt.band = pt.merge()
	}
	return &pt.band
}

// takeLimits is when it was found what holds in h.
func (h *house) takeLimits() {
	h.turned++
	for _, pt := range h.wary { // so that a change can be told
		pt.inForce()
	}
}

// merge returns the band in force of pt.
func (pt *point) merge() alarms.Band {
	p, h := pt.place, pt.place.house
	b, ok := p.plan.InForce(pt.quantity, h.Season, h.Daypart)
	if !ok || h.Settling {
		old, had := p.plan.InForce(pt.quantity, h.SeasonBefore, h.Before)
		switch {
		case !ok: // what held before lends its delays for the way back
			old.Limits = alarms.Limits{}
			b = old
		case had:
			b.Limits = alarms.Looser(b.Limits, old.Limits)
		}
	}
	return b
}

// findTurning notes whether the band of pt changes with daypart or season, and
// the strictest limits that it may ever have.
func (pt *point) findTurning() {
	s := &pt.strictest
	for i := range pt.place.plan.Bands {
		b := &pt.place.plan.Bands[i]
		if b.Quantity != pt.quantity {
			continue
		}
		pt.turns = pt.turns || b.Turns()
		for _, l := range [...]alarms.Limit{b.Low, b.LowLow} {
			if l.Set && (!s.Low.Set || l.Value > s.Low.Value) {
				s.Low = l
			}
		}
		for _, l := range [...]alarms.Limit{b.High, b.HighHigh} {
			if l.Set && (!s.High.Set || l.Value < s.High.Value) {
				s.High = l
			}
		}
	}
	if pt.turns {
		pt.beWary(true)
	}
}

// beWary notes whether pt must be looked at when its limits change: it would not
// be calm by the strictest of them. So a change is the business of few.
func (pt *point) beWary(on bool) {
	h := pt.place.house
	switch {
	case on && pt.wary == 0:
		h.wary = append(h.wary, pt)
		pt.wary = len(h.wary)
	case !on && pt.wary != 0:
		last := h.wary[len(h.wary)-1]
		h.wary[pt.wary-1], last.wary = last, pt.wary
		h.wary, pt.wary = h.wary[:len(h.wary)-1], 0
	}
}

// changeLimits lets season and daypart of h be others from now on.
func (h *house) changeLimits(e *Engine, season alarms.Season, part alarms.Daypart, now timing.Instant) {
	h.SeasonBefore, h.Before = h.Season, h.Daypart
	h.Season, h.Daypart = season, part
	if h.Settling = h.calendar.Settle > 0; h.Settling {
		h.SettledDue = now.Add(h.calendar.Settle)
	}
	h.judgeAnew(e, now)
	h.owedAll(now)
	h.arrange(now)
	h.judgeOpenings(now)
}

// endSettling ends the time in which the looser limits hold in h, unless another
// change has made it longer.
func (h *house) endSettling(e *Engine, due timing.Instant) {
	if h.Settling && h.SettledDue <= due {
		h.Settling, h.SettledDue = false, 0
		h.judgeAnew(e, due)
		h.judgeOpenings(due)
	}
}

// judgeAnew judges in h by the limits now in force where that changes anything.
func (h *house) judgeAnew(e *Engine, now timing.Instant) {
	h.turned++
	for i := len(h.wary) - 1; i >= 0; i-- { // of which judging may take one out
		pt := h.wary[i]
		if was := pt.band; !pt.inForce().JudgesAs(&was) {
			pt.judgeSides(e, now)
		}
	}
	for _, x := range h.exposures {
		if x.plan.Turns() {
			x.expose(e, now)
		}
	}
}

func (e *Engine) setSeason(id alarms.HouseID, s alarms.Season, now timing.Instant) {
	for _, h := range e.houses {
		if h.plan.ID != id || h.Season == s || !slices.Contains(alarms.Seasons, s) {
			continue
		}
		h.changeLimits(e, s, h.Daypart, now)
		e.panel.Timers.Set(h.settled, h.SettledDue)
		h.Outdoors.Inside = nil // of vents as they were
		h.Proposed = h.proposal(now)
		h.showProposal(now)
		h.season.Write(now)
	}
}
