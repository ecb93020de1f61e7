package lifecycle

import (
	"cmp"
	"strconv"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// gravity is the level that the priority of a move goes by: whoever was told of
// the worst is told that it is over.
func (a *Alarm) gravity(m alarms.Move) alarms.Level {
	switch m {
	case alarms.Raise, alarms.Suppress, alarms.Release, alarms.ShelveOff, alarms.Back:
		a.Worst = a.Level
	case alarms.Return:
		return max(a.Worst, alarms.Outer)
	}
	a.Worst = max(a.Worst, a.Level)
	return max(a.Level, alarms.Outer)
}

// PresentPriority is that of the state a is in.
func (a *Alarm) PresentPriority() alarms.Priority {
	if a.State == alarms.ReturnedUnack {
		return a.Priority(max(a.Worst, alarms.Outer))
	}
	return a.Priority(max(a.Level, alarms.Outer))
}

// Move makes one transition of a and sets the timers of its new state.
func (a *Alarm) Move(m alarms.Move, to alarms.State, due timing.Instant) {
	from := a.State
	if m == alarms.ShelveOff || m == alarms.Back {
		a.State = to // so that its reason names what it speaks for again
	}
	r := a.Reason(m, due)
	t := alarms.Transition{
		Alarm: a.ID, Move: m, From: from, To: to, Level: a.Level, Priority: a.Priority(a.gravity(m)),
		Due: a.panel.Clock.At(due), Noticed: a.panel.Clock.At(a.panel.Now), Core: due.UTC(), Reason: r,
	}
	a.Count++
	t.ID = TransitionID(a.ID, a.Count)
	if !t.Repeats() && m != alarms.Chatter { // that is no news either: nobody is told of it
		a.News = a.Count
	}
	if from != to {
		a.Changed = due
	}
	a.State = to
	if !to.Active() {
		a.stayNoisy()
		a.Chatters = false
	}
	a.awaitTelling(t, due)
	t.Background = a.About.Background(&t)
	newest := &alarms.Told{Move: m, From: from, To: to, Level: a.Level, Due: t.Due, Noticed: t.Noticed, Background: t.Background}
	switch {
	case m == alarms.Raise, m == alarms.Worsen, m == alarms.Suppress, m == alarms.Ease, m == alarms.Return,
		(m == alarms.Release || m == alarms.ShelveOff || m == alarms.Back) && a.Condition != alarms.Within:
		a.Why, a.Newest, a.Sentence = &r, newest, ""
	}
	a.panel.out = append(a.panel.out, &t)
	a.About.Moved(&t, due)
}

// Write makes a transition that changes nothing.
func (a *Alarm) Write(due timing.Instant) {
	a.Count++
	t := alarms.Transition{
		ID: TransitionID(a.ID, a.Count), Alarm: a.ID, Move: alarms.Note, From: a.State, To: a.State, Level: a.Level,
		Priority: a.PresentPriority(), Due: a.panel.Clock.At(due), Noticed: a.panel.Clock.At(a.panel.Now), Core: due.UTC(), Reason: a.Reason(alarms.Note, due),
	}
	t.Background = a.About.Background(&t)
	a.News = a.Count
	a.panel.out = append(a.panel.out, &t)
}

// HandOver tells a, as t says that it is now, to somebody who is to see to it too. It
// is no news of a.
func (a *Alarm) HandOver(t *alarms.Transition, l alarms.LeaveReason) {
	a.Count++
	t.ID, t.Move, t.From, t.To, t.Level, t.Priority = TransitionID(a.ID, a.Count), alarms.Note, a.State, a.State, a.Level, a.PresentPriority()
	l.Took = a.State == alarms.Acknowledged
	t.Reason.Leave, t.Reason.By = &l, ""
	a.panel.out = append(a.panel.out, t)
}

// stayNoisy stops the wait for a to have been quiet for long enough.
func (a *Alarm) stayNoisy() {
	if a.timers != nil {
		a.panel.Timers.Set(a.timers.quiet, 0)
	}
}

// Reason completes what the rule says with what the alarm knows.
func (a *Alarm) Reason(m alarms.Move, due timing.Instant) alarms.Reason {
	var r alarms.Reason
	switch m {
	case alarms.Ack, alarms.ShelveOn, alarms.Out, alarms.Chatter:
		if a.Why != nil {
			r = *a.Why
		}
		if m == alarms.ShelveOn || m == alarms.Out {
			r.Includes = nil // from now on they speak for themselves
		}
	default:
		r = a.Because(m, due)
	}
	r.Rule, r.Quantity, r.Side = a.Kind, cmp.Or(r.Quantity, a.Quantity), a.Side
	a.About.Fill(&r, due)
	r.Cause = ""
	if m == alarms.Suppress || m == alarms.Release {
		r.Cause = a.Cause
	}
	if m == alarms.Return && a.Raised != 0 {
		r.Lasted = due.Since(a.Raised)
	}
	r.By = a.panel.Actor.By
	if a.panel.Actor != (Actor{}) { // else the rule's own note stays
		r.Note = a.panel.Actor.Note
	}
	r.Lapsed = a.Lapsed
	switch m {
	case alarms.Ack:
		if a.State != alarms.ReturnedUnack {
			r.Until = a.panel.Clock.At(a.Until)
			r.InHand = a.handReason(false)
		}
	case alarms.ShelveOn:
		r.Until = a.panel.Clock.At(a.Until)
	case alarms.Worsen:
		r.Was = a.was()
	}
	switch m {
	case alarms.Raise, alarms.Worsen, alarms.Realarm:
		if r.Swing = nil; a.Chatters && !a.stays(due) {
			r.Swing = a.swing(due)
		}
	}
	switch m {
	case alarms.Realarm:
		a.againReason(&r, due)
	}
	r.Check, r.Directions = "", ""
	switch m {
	case alarms.Raise, alarms.Worsen, alarms.Realarm, alarms.Release, alarms.ShelveOff, alarms.Back:
		if a.Condition != alarms.Within { // else there is nothing to look at
			r.Directions = a.About.Directions()
		}
	}
	return r
}

// TransitionID names the n-th transition of alarm a.
func TransitionID(a alarms.AlarmID, n int) string { return string(a) + "#" + strconv.Itoa(n) }
