package service

import (
	"context"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// Tending is what the pages of probes, tellings, log and loop need beyond
// Watch. All methods are called from many goroutines at once.
type Tending interface {
	// Deliveries says how each probe has reported recently.
	Deliveries(ctx context.Context) (map[alarms.ProbeID]Delivery, error)
	// Readings returns what one probe sent, oldest first, with all corrections
	// that counted at the time; also while it is out of service.
	Readings(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, from, to time.Time) ([]Point, error)
	// Calibrate does what Watch.Do does for an input of alarms.Calibrate. What
	// the core refuses is a Refusal.
	Calibrate(ctx context.Context, in alarms.Input) error
	// Hearers names the people who can be told, and the channels.
	Hearers() (people, channels []string)
	// Tellings returns who was to be told what, newest first.
	Tellings(ctx context.Context, q ToldQuery) ([]Telling, error)
	// Search looks through the log, newest first, in pieces that are bounded.
	Search(ctx context.Context, q LogQuery) (LogFound, error)
	// AlarmLog returns the newest transitions of one alarm, newest first.
	AlarmLog(ctx context.Context, id alarms.AlarmID, limit int) ([]alarms.Transition, error)
	// LoopDays returns what the ground loop of a house brought on each whole day
	// since from, oldest first.
	LoopDays(ctx context.Context, house alarms.HouseID, from time.Time) ([]LoopDay, error)
}

// Refusal is an error of something that a person asked for and that was not
// done; it says why.
type Refusal struct{ tongue.Saying }

// Refuse makes a Refusal.
func Refuse(x tongue.Text, args ...any) Refusal { return Refusal{tongue.Put(x, args...)} }

// Delivery is how a probe has reported.
type Delivery struct {
	Day, Week   Received
	Kept        time.Duration // between its readings, in the middle of the last day; 0: not known
	Longest     time.Duration // it was not heard for, within the last week
	LongestFrom time.Time
	Since       time.Time     // counted from, where that is less than a week ago
	Away        time.Duration // of the week, in which the watch itself was away
}

// Received is how many readings came of those that should have.
type Received struct{ Got, Want int }

// ToldQuery says which tellings are wanted. Zero fields ask for all.
type ToldQuery struct {
	Person, Channel string
	Transitions     []string // IDs
	Before          int64    // Seq of the last telling of the page before
	Limit           int
}

// Telling is one thing that was to be told to one person over one channel.
type Telling struct {
	Seq             int64 // in the order of saving
	Person, Channel string
	Kind            string            // of the channel, as the config names it; "": not known any more
	Of              alarms.Transition // zero for a test message
	Test            bool
	Letter          bool      // a letter, or a trial: Of has its headline
	Planned         time.Time // when it was to be told
	Outcome         ToldOutcome
	At              time.Time // of the newest try; zero: none yet
	Tries           int
	Next            time.Time // of the next try, while it waits
	Waits           ToldWait  // for what, where it was not tried yet
	Why             string    // what the channel said when it failed
}

// ToldOutcome is what came of a telling.
type ToldOutcome string

// Outcomes of a telling.
const (
	ToldWaiting     ToldOutcome = "waiting"     // for its time, or an answer
	ToldFailed      ToldOutcome = "failed"      // and will be tried again
	ToldHandedOver  ToldOutcome = "handed-over" // to the next party
	ToldDelivered   ToldOutcome = "delivered"   // which says that it arrived
	ToldUndelivered ToldOutcome = "undelivered" // which says that it did not
	ToldGivenUp     ToldOutcome = "given-up"
	ToldNotNeeded   ToldOutcome = "not-needed" // somebody took the alarm, or it was over, before its time came
	ToldRehearsed   ToldOutcome = "rehearsed"  // the channel only rehearses: nothing was sent
)

// Went reports whether the next party took it, and does not say it was lost.
func (o ToldOutcome) Went() bool { return o == ToldHandedOver || o == ToldDelivered }

// ToldWait is what a telling waits for that was put off from the beginning.
type ToldWait string

// What a telling waits for.
const (
	WaitsNot    ToldWait = ""
	WaitsQuiet  ToldWait = "quiet"  // the end of the person's quiet hours
	WaitsAnswer ToldWait = "answer" // somebody else to acknowledge; then it is not needed
)

// LogQuery says what is looked for in the log. Zero fields ask for all.
type LogQuery struct {
	From     LogMark // looks at what is older
	House    alarms.HouseID
	Kind     LogKind
	Priority alarms.Priority
	Words    []string // each stands in the sentence
	Limit    int
}

// LogMark is a place in the log. The zero one is before the newest line.
type LogMark struct{ Due, Seq int64 }

// LogKind parts the log by what its lines are about.
type LogKind string

// Kinds of lines.
const (
	LogAny    LogKind = ""
	LogAlarms LogKind = "alarms"
	LogPeople LogKind = "people"
	LogDrives LogKind = "switching"
	LogWatch  LogKind = "watch"
)

// LogFound is what a search found.
type LogFound struct {
	Lines []alarms.Transition // newest first
	More  bool                // there is older that was not looked at
	Next  LogMark             // from where to go on
	Back  time.Time           // how far back this search looked
}

// LoopDay is one whole day of a ground loop.
type LoopDay struct {
	From, To time.Time
	alarms.LoopDay
}

// Share of the readings that came; ok is false where it is not known how many
// should have.
func (r Received) Share() (share float64, ok bool) {
	if r.Want <= 0 {
		return 0, false
	}
	return min(float64(r.Got)/float64(r.Want), 1), true
}
