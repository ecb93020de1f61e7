package alarms

import (
	"slices"
	"time"
)

// What the calendar alone does to a house of which nothing is known (its days
// and nights, its midnights, what it counts by them) leaves the same behind
// whether all of it happens or only that of the last days. So the days before
// are leapt over: ten years cost what a few days do. Of day and night only what
// has not settled yet is walked through.
const (
	leapOver = 5 * 24 * time.Hour // at least, so that it is worth it
	leapLast = 3 * 24 * time.Hour // not leapt over
)

// leap returns due, or where time that passes reaches far beyond it and idle
// says that nothing is known, from when on the calendar matters.
func (e *Engine) leap(due instant, h *house, idle func(*house, instant) bool) instant {
	if e.now.since(due) < leapOver || !idle(h, due) {
		return due
	}
	return e.now.add(-leapLast)
}

// longDeaf reports whether nothing could be heard for so long that all that is known of
// before has been judged by day and by night.
func (e *Engine) longDeaf(due instant) bool {
	blind := e.timers.hearing.Blind
	return blind != 0 && due.since(blind) >= leapLast
}

// unseen reports whether nothing of h can be judged by limits, of which some
// hold by day or by night only.
func (e *Engine) unseen(h *house, due instant) bool {
	if slices.ContainsFunc(h.exposures, func(x *exposed) bool { return x.plan.When != Always && !e.forgets(x, due) }) ||
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
func (e *Engine) forgets(x *exposed, due instant) bool {
	_, _, known := x.point.extremes()
	return (!known || e.longDeaf(due)) && !x.owed && x.meter.Forgets(int64(e.now.add(-leapLast)))
}

// asleep reports whether nothing of h is known at all, and its last days hold
// nothing any more.
func (e *Engine) asleep(h *house, due instant) bool {
	deaf := e.longDeaf(due)
	for _, st := range h.streams {
		if st.usable() && !deaf && (st.leaf || st.loop || len(st.evidence)+len(st.opens) > 0) {
			return false
		}
	}
	if h.loop != nil {
		if d := &h.loop.Day; d.Run != 0 || d.Watched != 0 { // which goes into the log
			return false
		}
		for _, p := range h.loop.pipes {
			if p.Decline.Days != 0 {
				return false
			}
		}
	}
	return h.Outdoors.N == 0 && len(h.Outdoors.Days) == 0
}

// daypartOf is the daypart of h at a moment that may have been leapt over.
func (e *Engine) daypartOf(h *house, at instant) Daypart {
	if e.now.since(at) <= h.plan.Day.Settle {
		return h.Daypart
	}
	return h.calendar.partAt(e.wall(at))
}
