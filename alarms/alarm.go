package alarms

import "telltale/alarms/control"

// alarm is one alarm of the plan: a condition, which its rule reports, and a
// state after ANSI/ISA-18.2, which also depends on people and other alarms.
type alarm struct {
	alarmState
	id       AlarmID
	rule     Rule
	house    *house
	place    *place
	probe    *probe
	circuit  *Circuit
	quantity Quantity
	side     Side
	pipe     *pipe              // of a ground loop, that it tells of
	selector *Selector          // whose turns it tells of
	works    *mechanism         // whose verdicts or switchings it tells of
	found    *finding           // the verdict it tells of
	switched *control.Switching // the line of the log being written
	exposed  *exposed           // that it tells of
	// priority of a level; why writes the reason of a raise, worsen, ease or return.
	priority func(Level) Priority
	why      func(m Move, due instant) Reason

	// place of its timers among those that are due together; they are made when
	// first needed, since most alarms never need them
	order  int
	timers *alarmTimers
}

// alarmTimerCount is how many timers an alarm has.
const alarmTimerCount = 3

type alarmTimers struct{ shelfEnd, reminder, quiet *timer }

// alarmState is what a snapshot keeps of an alarm.
type alarmState struct {
	State     State     `json:"state"`
	Condition Level     `json:"condition"`         // what the rule reports
	Level     Level     `json:"level"`             // what has been told
	Worst     Level     `json:"worst,omitempty"`   // since it was raised
	Count     int       `json:"count"`             // transitions so far
	Began     instant   `json:"began,omitempty"`   // the condition
	Raised    instant   `json:"raised,omitempty"`  // since when it is told
	Changed   instant   `json:"changed,omitempty"` // into this state
	Cause     AlarmID   `json:"cause,omitempty"`   // speaks for this one
	Taken     bool      `json:"taken,omitempty"`   // was acknowledged before it was suppressed
	ShelvedAt Level     `json:"shelved_at,omitempty"`
	Until     instant   `json:"until,omitempty"`
	By        string    `json:"by,omitempty"`     // who shelved it or took it out of service
	Note      string    `json:"note,omitempty"`   // and why
	Raises    []instant `json:"raises,omitempty"` // of late, for chatter
	Chatters  bool      `json:"chatters,omitempty"`
	Sentence  string    `json:"sentence,omitempty"`
	Other     string    `json:"other,omitempty"` // Sentence in the other unit of temperature
	Why       *Reason   `json:"why,omitempty"`   // of the newest raise or worsen
}

// savedAlarm is an alarm in a snapshot.
type savedAlarm struct {
	alarmState
	Timers [3]instant `json:"timers,omitzero"`
}

func (e *Engine) newAlarm(a *alarm) *alarm {
	a.order = e.timers.reserve(alarmTimerCount)
	e.alarms[a.id] = a
	e.order = append(e.order, a)
	return a
}

// timersOf makes the timers of a.
func (e *Engine) timersOf(a *alarm) *alarmTimers {
	if a.timers == nil {
		a.timers = &alarmTimers{
			shelfEnd: newTimer(a.order, func(due instant) { e.unshelve(a, due, "", "its time is up") }),
			reminder: newTimer(a.order+1, func(due instant) { e.remind(a, due) }),
			quiet:    newTimer(a.order+2, func(due instant) { e.endChatter(a, due) }),
		}
	}
	return a.timers
}

// apply reports what the rule behind a finds: its level, Within for nothing,
// and the alarm that speaks for it, nil for none.
func (e *Engine) apply(a *alarm, level Level, cause *alarm, due instant) {
	if a.Condition == Within {
		a.Began = due
	}
	a.Condition = level
	a.Cause = ""
	if cause != nil {
		a.Cause = cause.id
	}
	switch a.State {
	case OutOfService:
	case Shelved:
		if a.rule == RuleLimit && level > a.ShelvedAt {
			e.unshelve(a, due, "", "it got worse")
		}
	case SuppressedByDesign:
		e.released(a, due)
	default:
		if level != Within && cause != nil {
			e.suppress(a, due)
			return
		}
		e.follow(a, due)
	}
}

// follow brings a, neither shelved, suppressed nor out of service, to its condition.
func (e *Engine) follow(a *alarm, due instant) {
	old := a.Level
	switch {
	case a.Condition == Within && old == Within:
	case a.Condition == Within && a.Chatters:
		if quiet := e.timersOf(a).quiet; quiet.due == 0 {
			e.timers.set(quiet, due.add(e.plan.Chatter.Hold))
		}
	case a.Condition == Within:
		e.end(a, due)
	case old == Within:
		e.raise(a, due)
	default:
		e.stayNoisy(a)
		switch {
		case a.Condition > old:
			a.Level = a.Condition
			e.move(a, Worsen, Unacknowledged, due)
		case a.Condition < old && !a.Chatters: // what chatters keeps its worst
			a.Level = a.Condition
			e.move(a, Ease, a.State, due)
		}
	}
}

func (e *Engine) raise(a *alarm, due instant) {
	a.Level, a.Raised = a.Condition, due
	e.move(a, Raise, Unacknowledged, due)
	rule := e.plan.Chatter
	keep := a.Raises[:0]
	for _, t := range a.Raises {
		if due.since(t) < rule.Within {
			keep = append(keep, t)
		}
	}
	a.Raises = append(keep, due)
	if len(a.Raises) >= rule.Raises {
		a.Chatters = true
		e.move(a, Chatter, a.State, due)
	}
}

func (e *Engine) end(a *alarm, due instant) {
	to := Normal
	if a.State == Unacknowledged {
		to = ReturnedUnack
	}
	a.Level = Within
	e.move(a, Return, to, due)
}

func (e *Engine) endChatter(a *alarm, due instant) {
	a.calm()
	if a.State.Active() && a.Condition == Within {
		e.end(a, due)
	}
}

// calm forgets that a chattered.
func (a *alarm) calm() { a.Chatters, a.Raises = false, nil }

func (e *Engine) suppress(a *alarm, due instant) {
	a.Taken = a.State == Acknowledged
	a.Level = a.Condition
	e.move(a, Suppress, SuppressedByDesign, due)
}

// released looks whether a, suppressed, is so no longer.
func (e *Engine) released(a *alarm, due instant) {
	switch {
	case a.Condition == Within:
		a.Level = Within
		e.move(a, Release, Normal, due)
	case a.Cause == "":
		e.wake(a, Release, due, a.Taken && a.Condition <= a.Level)
	}
}

// wake puts a, so far hidden, into the state that its condition asks for.
func (e *Engine) wake(a *alarm, m Move, due instant, taken bool) {
	a.Level = a.Condition
	switch {
	case a.Condition == Within:
		e.move(a, m, Normal, due)
	case a.Cause != "":
		a.Taken = false
		e.move(a, m, SuppressedByDesign, due)
	case taken:
		e.move(a, m, Acknowledged, due)
	default:
		a.Raised = a.Began
		e.move(a, m, Unacknowledged, due)
	}
}

func (e *Engine) remind(a *alarm, due instant) {
	if a.State == Acknowledged {
		e.move(a, Realarm, Unacknowledged, due)
	}
}

func (a *alarm) save() savedAlarm {
	s := savedAlarm{alarmState: a.alarmState}
	s.Raises = append([]instant(nil), a.Raises...)
	if t := a.timers; t != nil {
		s.Timers = [3]instant{t.shelfEnd.due, t.reminder.due, t.quiet.due}
	}
	return s
}

func (e *Engine) loadAlarm(a *alarm, s savedAlarm) {
	a.alarmState = s.alarmState
	if s.Timers == [3]instant{} {
		return
	}
	t := e.timersOf(a)
	for i, one := range []*timer{t.shelfEnd, t.reminder, t.quiet} {
		e.timers.set(one, s.Timers[i])
	}
}
