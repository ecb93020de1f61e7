package lifecycle

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// Alarm is one alarm: a condition, which its rule reports, and a state after ANSI/ISA-18.2,
// which also depends on people and other alarms.
type Alarm struct {
	Kept
	ID       alarms.AlarmID
	Kind     alarms.Rule
	Quantity alarms.Quantity
	Side     alarms.Side
	Gauge    Gauge // how bad it is; nil: on is all it is
	// Priority of a level; Because writes the reason of a raise, worsen, ease or return.
	Priority func(alarms.Level) alarms.Priority
	Because  func(m alarms.Move, due timing.Instant) alarms.Reason
	About    About
	// Passing: once it is over nothing is left that somebody must know of.
	Passing bool
	// Order is the place of its timers among those that are due together, 0: the next.
	Order int

	panel  *Panel
	timers *alarmTimers // made when first needed, since most alarms never need them
}

// About says of an alarm what it hangs on, and what its rule knows beside the reason.
type About interface {
	// Fill completes a reason with the names of where it is, and how it is there.
	Fill(r *alarms.Reason, due timing.Instant)
	// Directions are the plan's for what it is about.
	Directions() string
	// Background is what the sentence of t needs beside its reason.
	Background(t *alarms.Transition) *alarms.Background
	// Names are what it is about, as it is called now.
	Names() alarms.Names
	// Interval is that of the slowest probe that a swing of it is seen by.
	Interval() time.Duration
	// Rests reports whether what it tells of does not go on just now, though it is not over.
	Rests(now timing.Instant) bool
	// InHand is the time in hand, if what it tells of goes on.
	InHand(now timing.Instant) Hand
	// Moved is told of each transition, once it is made.
	Moved(t *alarms.Transition, due timing.Instant)
}

// TimerCount is how many timers an alarm has.
const TimerCount = 3

type alarmTimers struct{ shelfEnd, reminder, quiet *timing.Timer }

// Kept is what a snapshot keeps of an alarm.
type Kept struct {
	State     alarms.State   `json:"state"`
	Condition alarms.Level   `json:"condition"`         // what the rule reports
	Level     alarms.Level   `json:"level"`             // what has been told
	Worst     alarms.Level   `json:"worst,omitempty"`   // since it was raised
	First     Moment         `json:"first,omitzero"`    // value with which it was raised
	Peak      Moment         `json:"peak,omitzero"`     // worst value, or rate, since it is beyond
	Count     int            `json:"count"`             // transitions so far
	Began     timing.Instant `json:"began,omitempty"`   // the condition
	Raised    timing.Instant `json:"raised,omitempty"`  // since when it is told
	Changed   timing.Instant `json:"changed,omitempty"` // into this state
	Cause     alarms.AlarmID `json:"cause,omitempty"`   // speaks for this one
	Taken     bool           `json:"taken,omitempty"`   // was acknowledged before it was suppressed
	ShelvedAt alarms.Level   `json:"shelved_at,omitempty"`
	Until     timing.Instant `json:"until,omitempty"`
	By        string         `json:"by,omitempty"`     // who acknowledged it, shelved it or took it out of service
	Note      string         `json:"note,omitempty"`   // and why
	Passes    []pass         `json:"passes,omitempty"` // recently, see pass
	Inside    timing.Instant `json:"inside,omitempty"` // when it was last over, told or not
	Chatters  bool           `json:"chatters,omitempty"`
	Sentence  string         `json:"sentence,omitempty"` // of early snapshots, which have no Newest
	Why       *alarms.Reason `json:"why,omitempty"`      // of the newest raise or worsen
	Newest    *alarms.Told   `json:"newest,omitempty"`   // what was told with Why

	// Of telling it again, see Reminders of the plan.
	News   int            `json:"news,omitempty"`   // number of the newest transition that repeats none
	Asked  timing.Instant `json:"asked,omitempty"`  // since when somebody is asked to acknowledge it
	Told   timing.Instant `json:"told,omitempty"`   // told last, while nobody has
	Again  int            `json:"again,omitempty"`  // repeats since it was last news
	Lapsed bool           `json:"lapsed,omitempty"` // an acknowledgement ran out since it was raised
	Hold   time.Duration  `json:"hold,omitempty"`   // of the acknowledgement
	Mark   *float64       `json:"mark,omitempty"`   // how bad it was when told or acknowledged
	Hand   *float64       `json:"hand,omitempty"`   // °C, the limit that may be reached by Until: the time in hand set that
}

// Saved is an alarm in a snapshot.
type Saved struct {
	Kept
	Due     alarmDue          `json:"due,omitzero"`
	Of      alarms.Names      `json:"of,omitzero"`     // while it is not normal
	InOrder [3]timing.Instant `json:"timers,omitzero"` // shelf, reminder, quiet: of early snapshots
}

// alarmDue is when the timers of an alarm are due.
type alarmDue struct {
	Shelf    timing.Instant `json:"shelf,omitempty"`
	Reminder timing.Instant `json:"reminder,omitempty"`
	Quiet    timing.Instant `json:"quiet,omitempty"`
}

// Join makes a one of those of p.
func (a *Alarm) Join(p *Panel) {
	if a.panel = p; a.Order == 0 {
		a.Order = p.Timers.Reserve(TimerCount)
	}
}

// GoOn lets the transitions of a be counted on from those that a plan before
// made, so that no ID comes twice.
func (a *Alarm) GoOn() {
	if n, ok := a.panel.Counts[a.ID]; ok {
		a.Count = n
		delete(a.panel.Counts, a.ID)
	}
}

// timersOf makes the timers of a.
func (a *Alarm) timersOf() *alarmTimers {
	if a.timers == nil {
		a.timers = &alarmTimers{
			shelfEnd: timing.NewTimer(a.Order, func(due timing.Instant) { a.Unshelve(due, "", "its time is up") }),
			reminder: timing.NewTimer(a.Order+1+timing.AfterRules, func(due timing.Instant) { a.remind(due) }),
			quiet:    timing.NewTimer(a.Order+2, func(due timing.Instant) { a.rested(due) }),
		}
	}
	return a.timers
}

// calm ends the hold of a.
func (a *Alarm) calm() { a.Chatters = false }

// Save returns what Load goes on from.
func (a *Alarm) Save() Saved {
	s := Saved{Kept: a.Kept}
	s.Passes = append([]pass(nil), a.Passes...)
	if a.State != alarms.Normal {
		s.Of = a.About.Names()
	}
	if t := a.timers; t != nil {
		s.Due = alarmDue{t.shelfEnd.Due, t.reminder.Due, t.quiet.Due}
	}
	return s
}

// Load lets a go on from s.
func (a *Alarm) Load(s Saved) {
	a.Kept = s.Kept
	if old := s.InOrder; old != [3]timing.Instant{} {
		s.Due = alarmDue{old[0], old[1], old[2]}
	}
	if s.Due == (alarmDue{}) {
		return
	}
	t := a.timersOf()
	a.panel.Timers.Set(t.shelfEnd, s.Due.Shelf)
	a.panel.Timers.Set(t.reminder, s.Due.Reminder)
	a.panel.Timers.Set(t.quiet, s.Due.Quiet)
}

// Moment is a value at a moment; At 0 means none.
type Moment struct {
	Value float64        `json:"value"`
	At    timing.Instant `json:"at"`
}

// firstValue is with what value a comes on, where its rule tells of one.
func (a *Alarm) firstValue(due timing.Instant) Moment {
	if a.Kind != alarms.RuleLimit && a.Kind != alarms.RuleRate {
		return Moment{}
	}
	if v := a.Because(alarms.Raise, due).Value; v != nil {
		return Moment{*v, due}
	}
	return Moment{}
}

// LastTold is what was last told of a, nil for nothing.
func (a *Kept) LastTold() *alarms.Told {
	switch {
	case a.Newest != nil && a.Why != nil:
		told := *a.Newest
		told.Reason = a.Why
		return &told
	case a.Sentence != "":
		return &alarms.Told{Sentence: a.Sentence}
	}
	return nil
}

// Over reports whether what a tells of is over with t.
func (a *Alarm) Over(t *alarms.Transition) bool {
	return t.To != alarms.SuppressedByDesign && a.Condition == alarms.Within
}
