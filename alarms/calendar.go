package alarms

import (
	"slices"
	"time"

	"telltale/alarms/sun"
)

// calendar is day and night of all houses where they are the same: what the clock
// does to them is found once.
type calendar struct {
	days
	houses  []*house
	change  *timer // next change between day and night
	settled *timer // end of the time in which the looser limits hold after one
}

// days is when it is day, and when night.
type days struct {
	DayRule
	latitude, longitude float64
}

func (h *House) days() days {
	d := days{h.Day, h.Latitude, h.Longitude}
	if d.Fixed {
		d.latitude, d.longitude = 0, 0
	}
	return d
}

// buildCalendar puts h among the houses that have its days.
func (e *Engine) buildCalendar(h *house) {
	c := e.calendarOf[h.plan.days()]
	if c == nil {
		c = &calendar{days: h.plan.days()}
		c.change = e.timers.build(func(due instant) { e.changeDay(c, due) })
		c.settled = e.timers.build(func(due instant) {
			for _, h := range c.houses {
				e.endSettling(h, due)
			}
		})
		e.calendarOf[c.days], e.calendars = c, append(e.calendars, c)
	}
	h.calendar, c.houses = c, append(c.houses, h)
}

// startDays finds what part of the day it is at the first moment ever seen.
func (e *Engine) startDays(now instant) {
	for _, c := range e.calendars {
		part := c.partAt(e.wall(now))
		e.scheduleDay(c, now)
		for _, h := range c.houses {
			h.Daypart, h.Before, h.SeasonBefore = part, part, h.Season
			h.takeLimits()
		}
	}
}

// changeDay turns day to night or night to day.
func (e *Engine) changeDay(c *calendar, due instant) {
	at := due
	if from := e.now.add(-max(c.Settle, 0)); from.since(due) >= leapOver && due.since(e.lateFrom) >= longStep && e.allUnseen(c, due) {
		at = from // what turned before has settled, and what was on a day before has ended
	}
	part := c.partAt(e.wall(at))
	e.scheduleDay(c, at)
	settled := instant(0)
	for _, h := range c.houses {
		if at != due { // the newest of the turns that are leapt over
			if h.Daypart = Day; part == Day {
				h.Daypart = Night
			}
		}
		if part != h.Daypart {
			e.changeLimits(h, h.Season, part, due)
			settled = h.SettledDue // the same of all
		}
	}
	if settled != 0 {
		e.timers.set(c.settled, settled)
	}
}

func (e *Engine) allUnseen(c *calendar, due instant) bool {
	return !slices.ContainsFunc(c.houses, func(h *house) bool { return !e.unseen(h, due) })
}

func (e *Engine) scheduleDay(c *calendar, now instant) {
	if next, ok := c.nextChange(e.wall(now)); ok {
		e.timers.set(c.change, e.core(next))
	}
}

// stepDay puts the houses of c, so far at a moment before, into the part of the
// day that the wall clock shows now.
func (e *Engine) stepDay(c *calendar, before time.Time, now instant) {
	here := e.wall(now)
	part := c.partAt(here)
	e.scheduleDay(c, now)
	turned, was, lately := c.lastTurn(here, c.Settle)
	settled := instant(0)
	if lately {
		settled = e.core(turned.Add(c.Settle))
	}
	e.timers.set(c.settled, settled)
	next := !here.Before(midnightIn(before, c.Zone))
	midnight := e.core(midnightIn(here, c.Zone))
	for _, h := range c.houses {
		h.step(part, was, settled)
		e.owedAll(h, now)
		e.arrange(h, now)
		if next {
			e.beginNextDay(h, now)
		} else {
			e.awaitMidnight(h, midnight)
		}
		e.judgeAnew(h, now)
		e.startOpenings(h, now)
		e.judgeOpenings(h, now)
		for _, x := range h.exposures {
			e.expose(x, now)
		}
	}
}

// step puts h into another part of the day. The looser limits hold only if day or
// night would have changed so lately by the wall clock: until then, 0 for not.
func (h *house) step(part, was Daypart, settled instant) {
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

// lastTurn returns when the daypart changed last before t, and from what, if
// that is not longer ago than within.
func (d *days) lastTurn(t time.Time, within time.Duration) (turned time.Time, before Daypart, ok bool) {
	from := t.Add(-within)
	for part := d.partAt(from); ; {
		next, more := d.nextChange(from)
		if !more || next.After(t) {
			return turned, before, ok
		}
		if now := d.partAt(next); now != part {
			turned, before, ok, part = next, part, true, now
		}
		from = next
	}
}

// partAt returns day from sunrise to sunset, or between the fixed hours.
func (d *days) partAt(now time.Time) Daypart {
	if d.Fixed {
		part, _, _ := d.fixedAt(now)
		return part
	}
	if sun.IsDay(d.latitude, d.longitude, now) {
		return Day
	}
	return Night
}

// nextChange returns the next moment at which the daypart may change.
func (d *days) nextChange(now time.Time) (time.Time, bool) {
	if d.Fixed {
		_, next, ok := d.fixedAt(now)
		return next, ok
	}
	return sun.NextChange(d.latitude, d.longitude, now)
}
