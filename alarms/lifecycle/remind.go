package lifecycle

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/timing"
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

// LongStep is what a step may take before its repeats are told once, at its end:
// time passes in so long steps only where the past is judged again, or nobody could
// be told. Common practice, no source.
const LongStep = 24 * time.Hour

// repeatAfter is how long after it was told the n-th time, from 0, an alarm is
// told again; 0 for never.
func (p *Panel) repeatAfter(of alarms.Priority, n int) time.Duration {
	switch of {
	case alarms.High:
		d := p.Reminders.RepeatHigh
		switch {
		case n == 0:
			return d / 3
		case n > repeatsAtFirst:
			return 2 * d
		}
		return d
	case alarms.Medium:
		return p.Reminders.RepeatMedium
	}
	return 0
}

// holdOf is for how long an acknowledgement holds; 0 for as long as it lasts.
func (p *Panel) holdOf(of alarms.Priority) time.Duration {
	switch of {
	case alarms.High:
		return p.Reminders.High
	case alarms.Medium:
		return p.Reminders.Medium
	}
	return p.Reminders.Low
}

// longestHold bounds what a person may choose when acknowledging, unless the
// plan lets an acknowledgement hold for longer.
const longestHold = 24 * time.Hour

// take lets somebody have a: for as long as they chose, else for as long as an
// acknowledgement of its priority holds.
func (a *Alarm) take(due timing.Instant) {
	a.Hold = a.panel.holdOf(a.PresentPriority())
	if until := a.panel.Actor.Until; until > due {
		a.Hold = min(until.Since(due), max(longestHold, a.Hold))
	}
	a.By, a.Note, a.Until, a.Hand = a.panel.Actor.By, "", 0, nil
	if a.Hold > 0 {
		a.Until = due.Add(a.Hold)
	}
	a.bound(due)
}

// leastHold is for how long an acknowledgement holds at least: one that ends at once
// is none. Common practice, no source.
const leastHold = time.Minute

// bound lets an acknowledgement of a end with the time in hand where that is sooner, and
// reports whether it is.
func (a *Alarm) bound(due timing.Instant) bool {
	h := a.About.InHand(due)
	until := max(h.Until, due.Add(leastHold))
	if h.Until == 0 || a.Until != 0 && a.Until <= until {
		return false
	}
	a.Until, a.Hand = until, &h.Limit
	return true
}

// Hasten lets an acknowledgement of a end sooner where the time in hand has become shorter.
func (a *Alarm) Hasten(now timing.Instant) {
	if a.State == alarms.Acknowledged && a.bound(now) {
		a.panel.Timers.Set(a.timersOf().reminder, a.Until)
	}
}

// handReason says that the time in hand sets when an acknowledgement of a ends; nil where
// it does not.
func (a *Alarm) handReason(eased bool) *alarms.HandReason {
	if a.Hand == nil {
		return nil
	}
	return &alarms.HandReason{Limit: *a.Hand, Eased: eased}
}

// awaitTelling starts, keeps or stops the wait for a to be told again after it
// made t.
func (a *Alarm) awaitTelling(t alarms.Transition, due timing.Instant) {
	next := timing.Instant(0)
	switch {
	case t.To == alarms.Unacknowledged:
		next = a.awaitRepeat(t, due)
	case t.To != alarms.Acknowledged:
		a.Asked, a.Again, a.Lapsed, a.Mark = 0, 0, false, nil
	case t.Move == alarms.Ease:
		return // it stays as it was taken
	default:
		a.mark()
		a.Asked, a.Again = 0, 0
		next = a.Until
	}
	if t.To != alarms.Acknowledged {
		a.Hand = nil
	}
	if t.From == alarms.Acknowledged && (t.To != alarms.Acknowledged && t.To != alarms.Shelved && t.To != alarms.OutOfService) {
		a.By, a.Note, a.Until = "", "", 0
	}
	if next != 0 || a.timers != nil {
		a.panel.Timers.Set(a.timersOf().reminder, next)
	}
}

// awaitRepeat returns when a, which nobody has, is told again; 0 for never. What
// is no news (it became less bad) does not begin the wait again.
func (a *Alarm) awaitRepeat(t alarms.Transition, due timing.Instant) timing.Instant {
	switch {
	case t.Move == alarms.Ease, t.Move == alarms.Chatter:
	case t.Move == alarms.Realarm && t.From == alarms.Unacknowledged:
		a.Again, a.Told = a.Again+1, due
		if !a.Chatters { // else it swings, and was deeper
			a.mark()
		}
	default:
		a.Asked, a.Again, a.Told, a.Lapsed = due, 0, due, a.Lapsed || t.Move == alarms.Realarm
		a.mark()
		if told := a.toldPassed(); a.Chatters && told != nil && (a.Mark == nil || *a.Mark < *told) {
			a.Mark = told // it swings, and was deeper
		}
	}
	if d := a.panel.repeatAfter(t.Priority, a.Again); d > 0 {
		return max(a.Told.Add(d), due)
	}
	return 0
}

// remind tells a again, unless it is quiet just now or getting better.
func (a *Alarm) remind(due timing.Instant) {
	switch {
	case !a.State.Active(), a.quiet(due): // see owes
	case a.State == alarms.Unacknowledged && due < max(a.panel.AwayTo, a.panel.LateTo): // nobody was told: one stands for all
		a.panel.Timers.Set(a.timersOf().reminder, max(a.panel.AwayTo, a.panel.LateTo))
	case a.State == alarms.Acknowledged && a.nearer():
		a.extend(due)
	default:
		a.Move(alarms.Realarm, alarms.Unacknowledged, due)
	}
}

// quiet reports whether what a tells of does not go on just now: it comes and
// goes, or it is harm that was done and grows no more.
func (a *Alarm) quiet(now timing.Instant) bool {
	return a.Condition == alarms.Within || a.About.Rests(now)
}

// owes reports whether the time to tell a again came while it was quiet. After a
// restart an alarm for which no timer runs has none.
func (a *Alarm) owes() bool {
	switch {
	case !a.State.Active() || a.timers != nil && a.timers.reminder.Due != 0:
		return false
	case a.State == alarms.Acknowledged:
		return a.Until != 0
	}
	return a.panel.repeatAfter(a.PresentPriority(), a.Again) > 0
}

// RemindOwed tells a again where the time for that came while it was quiet.
func (a *Alarm) RemindOwed(due timing.Instant) {
	if a.owes() {
		a.remind(due)
	}
}

// extend lets an acknowledgement hold for as long again, since it helps.
func (a *Alarm) extend(due timing.Instant) {
	a.mark()
	a.Until = due.Add(a.Hold)
	a.panel.Timers.Set(a.timersOf().reminder, a.Until)
	a.panel.Extended = a.Until
	a.Write(due)
	a.panel.Extended = 0
}

// Gauge says how bad an alarm is as a number.
type Gauge interface {
	// depth grows as it gets worse; ok is false while it is not known.
	Depth() (v float64, ok bool)
	// value turns a depth into a value of the quantity.
	Value(depth float64) float64
	// steps are how much deeper is worth telling, and how much less deep is
	// clearly better.
	Steps() (deeper, better float64)
}

// mark notes how bad a is as it is told or acknowledged.
func (a *Alarm) mark() {
	a.Mark = nil
	if a.Gauge != nil {
		if v, ok := a.Gauge.Depth(); ok {
			a.Mark = &v
		}
	}
}

// Deeper reports whether a is worse than when it was last told or acknowledged,
// by so much that it is worth telling.
func (a *Alarm) Deeper() bool {
	by, ok := a.since()
	if !ok {
		return false
	}
	step, _ := a.Gauge.Steps()
	return by >= step
}

// nearer reports whether a is clearly better than when it was acknowledged.
func (a *Alarm) nearer() bool {
	by, ok := a.since()
	if !ok {
		return false
	}
	_, step := a.Gauge.Steps()
	return -by >= step
}

// since is by how much a is worse than when it was marked.
func (a *Alarm) since() (by float64, ok bool) {
	if a.Gauge == nil || a.Mark == nil {
		return 0, false
	}
	v, ok := a.Gauge.Depth()
	return v - *a.Mark, ok
}

// was is what a's value was when it was told or acknowledged last, nil unless it
// is worth telling how much worse it is now.
func (a *Alarm) was() *float64 {
	if !a.Deeper() {
		return nil
	}
	v := a.Gauge.Value(*a.Mark)
	return &v
}

// clearly is what of the time in hand must be left, of which some was expected to be over,
// for it to be news that it is not. Common practice, no source.
const clearly = 5 * time.Minute

// againReason says for how long somebody was asked to acknowledge a, which is
// told again, or who has and how bad it was then.
func (a *Alarm) againReason(r *alarms.Reason, due timing.Instant) {
	if a.State == alarms.Acknowledged {
		r.By, r.Lapsed, r.Asked = a.By, true, a.panel.Clock.At(a.Changed)
		if a.Mark != nil {
			v := a.Gauge.Value(*a.Mark)
			r.Was = &v
		}
		r.InHand = a.handReason(a.About.InHand(due).Until > due.Add(clearly))
		return
	}
	r.Asked = a.panel.Clock.At(a.Asked)
}
