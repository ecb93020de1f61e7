package alarms

import (
	"fmt"
	"slices"
	"time"
)

// The core runs on a time of its own, which only moves forward and never
// stands. Deadlines, delays, waits and the order of what happens go by it
// alone. What clocks on the wall show is that time and Ahead: at the first
// start both are the same, and each ClockStep moves them apart. So a clock
// that is put back by hours or forward by years delays nothing and makes
// nothing happen; it changes what is shown, and where day, night, season and
// midnight lie.

// wallClock is how the wall clock stands to the core's time.
type wallClock struct {
	Ahead time.Duration `json:"ahead,omitempty"` // of the wall clock
	// Before is how far it was ahead before its newest steps, newest last.
	Before []time.Duration `json:"before,omitempty"`
}

// at returns what the wall clock shows at i, the zero time for none.
func (w *wallClock) at(i instant) time.Time {
	if i == 0 {
		return time.Time{}
	}
	return i.add(w.Ahead).utc()
}

// core returns the moment at which the wall clock shows t, 0 for the zero time.
func (w *wallClock) core(t time.Time) instant {
	if t.IsZero() {
		return 0
	}
	return at(t).add(-w.Ahead)
}

// stepsKept is how many steps of the wall clock the clocks of probes are held
// against: one that was right before a step is not wrong after it.
const stepsKept = 4

// measured returns the moment at which a probe's own clock showed t. Which of
// the two clocks is wrong after a step cannot be told, so the probe has the
// benefit of the doubt.
func (e *Engine) measured(t time.Time, now instant) instant {
	best := e.core(t)
	for _, ahead := range e.clock.Before {
		if m := e.clock.with(ahead).core(t); now.since(m).Abs() < now.since(best).Abs() {
			best = m
		}
	}
	return best
}

func (w *wallClock) with(ahead time.Duration) *wallClock { return &wallClock{Ahead: ahead} }

func (e *Engine) wall(i instant) time.Time { return e.clock.at(i) }
func (e *Engine) core(t time.Time) instant { return e.clock.core(t) }

// Wall returns what the wall clock shows at t, a time of the core such as
// Input.At, by the steps that the core has been told of.
func (e *Engine) Wall(t time.Time) time.Time { return e.wall(at(t)) }

// buildClock makes what carries the log of the steps of the wall clock.
func (e *Engine) buildClock() {
	e.stepped = e.newAlarm(&alarm{
		id: "watch/clock", rule: RuleClock, priority: always(Low),
		why: func(Move, instant) Reason { return Reason{Shift: e.stepBy} },
	})
}

// stepTold is how far the wall clock must be stepped for people to hear of it.
const stepTold = time.Minute

// stepClock takes in that the wall clock was put forward by a time, back if
// that is negative. Days begin and end by the new clock at once.
func (e *Engine) stepClock(by time.Duration, now instant) {
	if by == 0 {
		return
	}
	before := e.wall(now)
	if len(e.clock.Before) == stepsKept {
		e.clock.Before = e.clock.Before[1:]
	}
	e.clock.Before = append(slices.Clip(e.clock.Before), e.clock.Ahead)
	e.clock.Ahead += by
	for _, c := range e.calendars {
		e.stepDay(c, before, now)
	}
	e.stepBy = by
	e.note(e.stepped, now)
	e.stepBy = 0
}

// beginNextDay is midnight, which the wall clock has leapt over.
func (e *Engine) beginNextDay(h *house, now instant) {
	if h.midnight.due != 0 {
		e.beginDay(h, now)
	}
	if h.loop != nil && h.loop.midnight.due != 0 {
		e.endLoopDay(h.loop, now)
	}
}

// awaitMidnight sets the deadlines at the end of h's day.
func (e *Engine) awaitMidnight(h *house, midnight instant) {
	if h.midnight.due != 0 {
		e.timers.set(h.midnight, midnight)
	}
	if h.loop != nil && h.loop.midnight.due != 0 {
		e.timers.set(h.loop.midnight, midnight)
	}
}

func (e *Engine) clockSentence(t Transition) string {
	which := "forward"
	if t.Reason.Shift < 0 {
		which = "back"
	}
	w := e.plan.Words
	was := t.Due.Add(-t.Reason.Shift)
	return fmt.Sprintf("The clock was put %s by %s: it showed %s and then showed %s. Nothing that was being watched was lost or delayed by that.",
		which, Span(t.Reason.Shift.Abs()), w.Clock(was, t.Due), w.Clock(t.Due, was))
}
