package reach

import (
	"context"
	"time"

	"telltale/alarms"
)

// Outbox keeps the rows that Route made until they are finished. It is written
// together with the transitions and survives a crash.
type Outbox interface {
	// Due returns the unfinished, uncancelled rows of one channel whose
	// NotBefore is not after until: the earliest NotBefore first, and among
	// equals the one saved first; at most limit rows.
	Due(ctx context.Context, channel string, until time.Time, limit int) ([]Row, error)
	// Attempted records one attempt at each of some rows, all or none of them,
	// in one go: what is told together is written together. Failed, Held and
	// Broken leave the row waiting with Attempt.Next as its new NotBefore; the
	// other outcomes finish it. Failed counts into Row.Tries and sets
	// Row.First, Held and Broken do not. Due must then give Attempt.Next as the
	// row's NotBefore, not the time it was first routed for. A row that was
	// cancelled meanwhile stays so, and one that no longer exists is no error.
	//
	// Attempt.Elsewhere is saved in the same go, unless the row was cancelled: a
	// row over a channel by which its transition goes to the person anyway is
	// only brought forward, if it has not been tried.
	Attempted(ctx context.Context, attempts []Attempt) error
	// Reached reports whether anything was ever delivered to person by channel.
	Reached(ctx context.Context, channel, person string) (bool, error)
}

// Row is an outbox row with what was already tried.
type Row struct {
	Outgoing
	Tries int       // failed attempts so far
	First time.Time // begin of the first failed attempt; zero when there was none
	// Unsaved names the run of the watch whose disk has not taken the row; "": it
	// has. After a crash the next run may give the same ID to something else.
	Unsaved string
}

// Attempt is one try to deliver one row, for the log.
type Attempt struct {
	Row        string // ID of the row
	Telling    string // ID of the message; rows told together share it
	Transition string
	Alarm      alarms.AlarmID
	Channel    string
	Person     string
	Number     int // 1 for the first try
	Began      time.Time
	Ended      time.Time
	Outcome    Outcome
	Detail     string    // for a person: what went wrong and what to check
	Next       time.Time // when the row is due again; zero when it is finished
	// Elsewhere says the same over the person's other channels, at once: what is
	// of high priority does not wait until this channel takes it.
	Elsewhere []Outgoing
}

// Outcome is how an attempt ended.
type Outcome string

// Outcomes.
const (
	Delivered Outcome = "delivered" // the next party has it
	Rehearsed Outcome = "rehearsed" // nothing was sent, nor was it meant to be
	Failed    Outcome = "failed"    // will be tried again
	Refused   Outcome = "refused"   // another try would not help: made badly, or nobody is there
	GivenUp   Outcome = "given-up"  // tried for too long
	Held      Outcome = "held"      // not tried: too many messages in a short time
	Broken    Outcome = "broken"    // cut short because the watch was stopping
	Confirmed Outcome = "confirmed" // not tried: another watch of the garden has told it, or somebody has it in hand
)

// Finishes reports whether a row is done after o.
func (o Outcome) Finishes() bool {
	return o == Delivered || o == Rehearsed || o == Refused || o == GivenUp || o == Confirmed
}
