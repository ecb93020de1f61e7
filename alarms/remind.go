package alarms

import (
	"time"

	"telltale/alarms/exposure"
)

// What nobody acknowledges is told again, at a growing distance: the first time
// soon, since the first message may just have been missed. An acknowledgement
// means that somebody is on the way; when its time is up and it is no better,
// that is told again, to the next person too. Either needs the condition to be
// on: what comes and goes is told again when it comes.

// Repeats of an alarm of high priority, with the distance d: after a third of d,
// then repeatsAtFirst times every d, from then on every 2 d. Common practice, no
// source.
const repeatsAtFirst = 8

// longStep is what a step may take before its repeats are told once, at its end:
// time passes in so long steps only where the past is judged again, or nobody could
// be told. Common practice, no source.
const longStep = 24 * time.Hour

// repeatAfter is how long after it was told the n-th time, from 0, an alarm is
// told again; 0 for never.
func (e *Engine) repeatAfter(p Priority, n int) time.Duration {
	switch p {
	case High:
		d := e.plan.Reminders.RepeatHigh
		switch {
		case n == 0:
			return d / 3
		case n > repeatsAtFirst:
			return 2 * d
		}
		return d
	case Medium:
		return e.plan.Reminders.RepeatMedium
	}
	return 0
}

// holdOf is for how long an acknowledgement holds; 0 for as long as it lasts.
func (e *Engine) holdOf(p Priority) time.Duration {
	switch p {
	case High:
		return e.plan.Reminders.High
	case Medium:
		return e.plan.Reminders.Medium
	}
	return e.plan.Reminders.Low
}

// longestHold bounds what a person may choose when acknowledging, unless the
// plan lets an acknowledgement hold for longer.
const longestHold = 24 * time.Hour

// take lets somebody have a: for as long as they chose, else for as long as an
// acknowledgement of its priority holds.
func (e *Engine) take(a *alarm, due instant) {
	a.Hold = e.holdOf(a.presentPriority())
	if until := e.actor.until; until > due {
		a.Hold = min(until.since(due), max(longestHold, a.Hold))
	}
	a.By, a.Note, a.Until = e.actor.by, "", 0
	if a.Hold > 0 {
		a.Until = due.add(a.Hold)
	}
}

// awaitTelling starts, keeps or stops the wait for a to be told again after it
// made t.
func (e *Engine) awaitTelling(a *alarm, t Transition, due instant) {
	next := instant(0)
	switch {
	case t.To == Unacknowledged:
		next = e.awaitRepeat(a, t, due)
	case t.To != Acknowledged:
		a.Asked, a.Again, a.Lapsed, a.Mark = 0, 0, false, nil
	case t.Move == Ease:
		return // it stays as it was taken
	default:
		a.mark()
		a.Asked, a.Again = 0, 0
		next = a.Until
	}
	if t.From == Acknowledged && (t.To != Acknowledged && t.To != Shelved && t.To != OutOfService) {
		a.By, a.Note, a.Until = "", "", 0
	}
	if next != 0 || a.timers != nil {
		e.timers.set(e.timersOf(a).reminder, next)
	}
}

// awaitRepeat returns when a, which nobody has, is told again; 0 for never. What
// is no news (it became less bad) does not begin the wait anew.
func (e *Engine) awaitRepeat(a *alarm, t Transition, due instant) instant {
	switch {
	case t.Move == Ease, t.Move == Chatter:
	case t.Move == Realarm && t.From == Unacknowledged:
		a.Again, a.Told = a.Again+1, due
		if !a.Chatters { // else it swings, and was deeper
			a.mark()
		}
	default:
		a.Asked, a.Again, a.Told, a.Lapsed = due, 0, due, a.Lapsed || t.Move == Realarm
		a.mark()
		if told := a.toldPassed(); a.Chatters && told != nil && (a.Mark == nil || *a.Mark < *told) {
			a.Mark = told // it swings, and was deeper
		}
	}
	if d := e.repeatAfter(t.Priority, a.Again); d > 0 {
		return max(a.Told.add(d), due)
	}
	return 0
}

// remind tells a again, unless it is quiet just now or getting better.
func (e *Engine) remind(a *alarm, due instant) {
	switch {
	case !a.State.Active(), a.quiet(due): // see owes
	case a.State == Unacknowledged && due < max(e.awayTo, e.lateTo): // nobody was told: one stands for all
		e.timers.set(a.timers.reminder, max(e.awayTo, e.lateTo))
	case a.State == Acknowledged && a.nearer():
		e.extend(a, due)
	default:
		e.move(a, Realarm, Unacknowledged, due)
	}
}

// quiet reports whether what a tells of does not go on just now: it comes and
// goes, or it is harm that was done and grows no more.
func (a *alarm) quiet(now instant) bool {
	if a.exposed != nil {
		c, _, _ := a.exposed.sense(now)
		return a.Condition == Within || c == exposure.Within || c == exposure.Aside
	}
	return a.Condition == Within
}

// owes reports whether the time to tell a again came while it was quiet.
func (e *Engine) owes(a *alarm) bool {
	switch {
	case !a.State.Active() || a.timers == nil || a.timers.reminder.due != 0:
		return false
	case a.State == Acknowledged:
		return a.Until != 0
	}
	return e.repeatAfter(a.presentPriority(), a.Again) > 0
}

// extend lets an acknowledgement hold for as long again, since it helps.
func (e *Engine) extend(a *alarm, due instant) {
	a.mark()
	a.Until = due.add(a.Hold)
	e.timers.set(a.timers.reminder, a.Until)
	e.actor.note = "it is getting better, so the acknowledgement goes on until " + e.plan.Words.Clock(e.wall(a.Until), e.wall(due))
	e.note(a, due)
	e.actor.note = ""
}

// gauge says how bad an alarm is as a number.
type gauge interface {
	// depth grows as it gets worse; ok is false while it is not known.
	depth() (v float64, ok bool)
	// value turns a depth into a value of the quantity.
	value(depth float64) float64
	// steps are how much deeper is worth telling, and how much less deep is
	// clearly better.
	steps() (deeper, better float64)
}

// mark notes how bad a is as it is told or acknowledged.
func (a *alarm) mark() {
	a.Mark = nil
	if a.gauge != nil {
		if v, ok := a.gauge.depth(); ok {
			a.Mark = &v
		}
	}
}

// deeper reports whether a is worse than when it was last told or acknowledged,
// by so much that it is worth telling.
func (a *alarm) deeper() bool {
	by, ok := a.since()
	if !ok {
		return false
	}
	step, _ := a.gauge.steps()
	return by >= step
}

// nearer reports whether a is clearly better than when it was acknowledged.
func (a *alarm) nearer() bool {
	by, ok := a.since()
	if !ok {
		return false
	}
	_, step := a.gauge.steps()
	return -by >= step
}

// since is by how much a is worse than when it was marked.
func (a *alarm) since() (by float64, ok bool) {
	if a.gauge == nil || a.Mark == nil {
		return 0, false
	}
	v, ok := a.gauge.depth()
	return v - *a.Mark, ok
}

// was is what a's value was when it was told or acknowledged last, nil unless it
// is worth telling how much worse it is now.
func (a *alarm) was() *float64 {
	if !a.deeper() {
		return nil
	}
	v := a.gauge.value(*a.Mark)
	return &v
}

// againReason says for how long somebody was asked to acknowledge a, which is
// told again, or who has and how bad it was then.
func (e *Engine) againReason(a *alarm, r *Reason, due instant) {
	if a.State == Acknowledged {
		r.By, r.Lapsed, r.Asked = a.By, true, e.wall(a.Changed)
		if a.Mark != nil {
			v := a.gauge.value(*a.Mark)
			r.Was = &v
		}
		return
	}
	r.Asked = e.wall(a.Asked)
}
