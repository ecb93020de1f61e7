package alarms

// gravity is the level that the priority of a move goes by: whoever was told of
// the worst is told that it is over.
func (a *alarm) gravity(m Move) Level {
	switch m {
	case Raise, Suppress, Release, ShelveOff, Back:
		a.Worst = a.Level
	case Return:
		return max(a.Worst, Outer)
	}
	a.Worst = max(a.Worst, a.Level)
	return max(a.Level, Outer)
}

// presentPriority is that of the state a is in.
func (a *alarm) presentPriority() Priority {
	if a.State == ReturnedUnack {
		return a.priority(max(a.Worst, Outer))
	}
	return a.priority(max(a.Level, Outer))
}

// move makes one transition of a and sets the timers of its new state.
func (e *Engine) move(a *alarm, m Move, to State, due instant) {
	from := a.State
	if m == ShelveOff || m == Back {
		a.State = to // so that its reason names what it speaks for again
	}
	r := e.reason(a, m, due)
	t := Transition{
		Alarm: a.id, Move: m, From: from, To: to, Level: a.Level, Priority: a.priority(a.gravity(m)),
		Due: e.wall(due), Noticed: e.wall(e.now), Core: due.utc(), Reason: r,
	}
	a.Count++
	t.ID = transitionID(a.id, a.Count)
	if !t.Repeats() && m != Chatter { // that is no news either: nobody is told of it
		a.News = a.Count
	}
	if from != to {
		a.Changed = due
	}
	a.State = to
	if !to.Active() {
		e.stayNoisy(a)
		a.Chatters = false
	}
	e.awaitTelling(a, t, due)
	t.Sentence, t.Other = e.inBoth(func() string { return e.sentence(a, t) })
	switch m {
	case Raise, Worsen, Suppress, Ease, Return:
		a.Why, a.Sentence, a.Other = &r, t.Sentence, t.Other
	case Release, ShelveOff, Back:
		if a.Condition != Within {
			a.Why = &r
			a.Sentence, a.Other = e.inBoth(func() string { return e.fact(a, t) })
		}
	}
	e.out = append(e.out, &t)
	if from.Aside() != to.Aside() {
		e.respoken(a, due)
	}
}

// note makes a transition that changes nothing.
func (e *Engine) note(a *alarm, due instant) {
	a.Count++
	t := Transition{
		ID: transitionID(a.id, a.Count), Alarm: a.id, Move: Note, From: a.State, To: a.State, Level: a.Level,
		Priority: a.presentPriority(), Due: e.wall(due), Noticed: e.wall(e.now), Core: due.utc(), Reason: e.reason(a, Note, due),
	}
	t.Sentence, t.Other = e.inBoth(func() string { return e.sentence(a, t) })
	a.News = a.Count
	e.out = append(e.out, &t)
}

// stayNoisy stops the wait for a to have been quiet for long enough.
func (e *Engine) stayNoisy(a *alarm) {
	if a.timers != nil {
		e.timers.set(a.timers.quiet, 0)
	}
}

// reason completes what the rule says with what the alarm knows.
func (e *Engine) reason(a *alarm, m Move, due instant) Reason {
	var r Reason
	switch m {
	case Ack, ShelveOn, Out, Chatter:
		if a.Why != nil {
			r = *a.Why
		}
		if m == ShelveOn || m == Out {
			r.Includes = nil // from now on they speak for themselves
		}
	default:
		r = a.why(m, due)
	}
	r.Rule, r.Quantity, r.Side = a.rule, orQuantity(r.Quantity, a.quantity), a.side
	if a.house != nil {
		r.House = a.house.plan.ID
		r.Daypart, r.Season = e.daypartOf(a.house, due), a.house.Season
	}
	if a.place != nil {
		r.Place = a.place.plan.ID
	}
	if a.probe != nil {
		r.Probe = a.probe.plan.ID
	}
	if a.circuit != nil {
		r.Circuit = a.circuit.ID
	}
	r.Cause = ""
	if m == Suppress || m == Release {
		r.Cause = a.Cause
	}
	if m == Return && a.Raised != 0 {
		r.Lasted = due.since(a.Raised)
	}
	r.By = e.actor.by
	if e.actor != (actor{}) { // else the rule's own note stays
		r.Note = e.actor.note
	}
	r.Lapsed = a.Lapsed
	switch m {
	case Ack:
		if a.State != ReturnedUnack {
			r.Until = e.wall(a.Until)
		}
	case ShelveOn:
		r.Until = e.wall(a.Until)
	case Worsen:
		r.Was = a.was()
	}
	switch m {
	case Raise, Worsen, Realarm:
		if r.Swing = nil; a.Chatters && !e.stays(a, due) {
			r.Swing = e.swing(a, due)
		}
	}
	switch m {
	case Realarm:
		e.againReason(a, &r, due)
	}
	r.Check, r.Directions = "", ""
	switch m {
	case Raise, Worsen, Realarm, Release, ShelveOff, Back:
		if a.Condition != Within { // else there is nothing to look at
			r.Check, r.Directions = check(a, r), a.directions()
			if e.insteadOfLink(a) {
				r.Check = check(e.link.alarm, r)
			}
		}
	}
	return r
}

func orQuantity(q, std Quantity) Quantity {
	if q == "" {
		return std
	}
	return q
}
