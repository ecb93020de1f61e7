package alarms

import (
	"time"

	"telltale/alarms/control"
)

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
	opening  *opening           // that it tells of
	works    *mechanism         // whose verdicts or switchings it tells of
	found    *finding           // the verdict it tells of
	switched *control.Switching // the line of the log being written
	exposed  *exposed           // that it tells of
	silence  *node              // that it tells of
	gauge    gauge              // how bad it is; nil: on is all it is
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
	State     State   `json:"state"`
	Condition Level   `json:"condition"`         // what the rule reports
	Level     Level   `json:"level"`             // what has been told
	Worst     Level   `json:"worst,omitempty"`   // since it was raised
	First     moment  `json:"first,omitzero"`    // value with which it was raised
	Peak      moment  `json:"peak,omitzero"`     // worst value, or rate, since it is beyond
	Count     int     `json:"count"`             // transitions so far
	Began     instant `json:"began,omitempty"`   // the condition
	Raised    instant `json:"raised,omitempty"`  // since when it is told
	Changed   instant `json:"changed,omitempty"` // into this state
	Cause     AlarmID `json:"cause,omitempty"`   // speaks for this one
	Taken     bool    `json:"taken,omitempty"`   // was acknowledged before it was suppressed
	ShelvedAt Level   `json:"shelved_at,omitempty"`
	Until     instant `json:"until,omitempty"`
	By        string  `json:"by,omitempty"`     // who acknowledged it, shelved it or took it out of service
	Note      string  `json:"note,omitempty"`   // and why
	Passes    []pass  `json:"passes,omitempty"` // of late, see swing.go
	Inside    instant `json:"inside,omitempty"` // when it was last over, told or not
	Chatters  bool    `json:"chatters,omitempty"`
	Sentence  string  `json:"sentence,omitempty"`
	Other     string  `json:"other,omitempty"` // Sentence in the other unit of temperature
	Why       *Reason `json:"why,omitempty"`   // of the newest raise or worsen

	// Of telling it again, see remind.go.
	News   int           `json:"news,omitempty"`   // number of the newest transition that repeats none
	Asked  instant       `json:"asked,omitempty"`  // since when somebody is asked to acknowledge it
	Told   instant       `json:"told,omitempty"`   // told last, while nobody has
	Again  int           `json:"again,omitempty"`  // repeats since it was last news
	Lapsed bool          `json:"lapsed,omitempty"` // an acknowledgement ran out since it was raised
	Hold   time.Duration `json:"hold,omitempty"`   // of the acknowledgement
	Mark   *float64      `json:"mark,omitempty"`   // how bad it was when told or acknowledged
}

// savedAlarm is an alarm in a snapshot.
type savedAlarm struct {
	alarmState
	Due     alarmDue   `json:"due,omitzero"`
	Of      alarmOf    `json:"of,omitzero"`     // while it is not normal
	InOrder [3]instant `json:"timers,omitzero"` // shelf, reminder, quiet: of early snapshots
}

// alarmDue is when the timers of an alarm are due.
type alarmDue struct {
	Shelf    instant `json:"shelf,omitempty"`
	Reminder instant `json:"reminder,omitempty"`
	Quiet    instant `json:"quiet,omitempty"`
}

func (e *Engine) newAlarm(a *alarm) *alarm {
	a.order = e.timers.reserve(alarmTimerCount)
	e.alarms[a.id] = a
	e.order = append(e.order, a)
	return a
}

// goOn lets the transitions of a be counted on from those that a plan before
// made, so that no ID comes twice.
func (e *Engine) goOn(a *alarm) {
	if n, ok := e.counts[a.id]; ok {
		a.Count = n
		delete(e.counts, a.id)
	}
}

// timersOf makes the timers of a.
func (e *Engine) timersOf(a *alarm) *alarmTimers {
	if a.timers == nil {
		a.timers = &alarmTimers{
			shelfEnd: newTimer(a.order, func(due instant) { e.unshelve(a, due, "", "its time is up") }),
			reminder: newTimer(a.order+1+afterRules, func(due instant) { e.remind(a, due) }),
			quiet:    newTimer(a.order+2, func(due instant) { e.rested(a, due) }),
		}
	}
	return a.timers
}

// apply reports what the rule behind a finds: its level, Within for nothing,
// and the alarm that speaks for it, nil for none.
func (e *Engine) apply(a *alarm, level Level, cause *alarm, due instant) {
	old := a.Condition
	if old == Within {
		a.Began = due
		if level != Within && !a.State.Active() {
			a.First = a.firstValue(due)
		}
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
		held := level > old && e.passed(a, old, due)
		if level == Within && old != Within {
			a.inside(due)
		}
		e.follow(a, due)
		if held {
			e.move(a, Chatter, a.State, due)
		}
	}
}

// follow brings a, neither shelved, suppressed nor out of service, to its condition.
func (e *Engine) follow(a *alarm, due instant) {
	old := a.Level
	switch {
	case a.Condition == Within && old == Within:
	case a.Condition == Within && a.Chatters && !e.stays(a, due):
		e.rest(a, due)
	case a.Condition == Within:
		a.calm()
		e.end(a, due)
	case old == Within:
		e.raise(a, due)
	default:
		switch {
		case a.Condition >= old:
			e.stayNoisy(a)
		case a.Chatters: // what is held keeps its worst for a while
			e.rest(a, due)
		}
		switch {
		case a.Condition > old:
			a.Level = a.Condition
			e.move(a, Worsen, Unacknowledged, due)
		case a.Condition < old && !a.Chatters:
			a.Level = a.Condition
			e.move(a, Ease, a.State, due)
		case a.deeper():
			e.move(a, Worsen, Unacknowledged, due)
		case e.owes(a):
			e.remind(a, due)
		}
	}
}

func (e *Engine) raise(a *alarm, due instant) {
	a.Level, a.Raised = a.Condition, due
	if a.Chatters && a.swings() { // it is no news that it is as bad as before
		a.Level = max(a.Level, a.worstPassed())
	}
	e.move(a, Raise, Unacknowledged, due)
	if a.Condition < a.Level {
		e.rest(a, due)
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

// calm ends the hold of a.
func (a *alarm) calm() { a.Chatters = false }

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
		e.take(a, due)
		e.move(a, m, Acknowledged, due)
	default:
		a.Raised = a.Began
		e.move(a, m, Unacknowledged, due)
	}
}

func (a *alarm) save() savedAlarm {
	s := savedAlarm{alarmState: a.alarmState}
	s.Passes = append([]pass(nil), a.Passes...)
	if a.State != Normal {
		s.Of = a.of()
	}
	if t := a.timers; t != nil {
		s.Due = alarmDue{t.shelfEnd.due, t.reminder.due, t.quiet.due}
	}
	return s
}

func (e *Engine) loadAlarm(a *alarm, s savedAlarm) {
	a.alarmState = s.alarmState
	if old := s.InOrder; old != [3]instant{} {
		s.Due = alarmDue{old[0], old[1], old[2]}
	}
	if s.Due == (alarmDue{}) {
		return
	}
	t := e.timersOf(a)
	e.timers.set(t.shelfEnd, s.Due.Shelf)
	e.timers.set(t.reminder, s.Due.Reminder)
	e.timers.set(t.quiet, s.Due.Quiet)
}
