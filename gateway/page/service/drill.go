package service

import (
	"context"
	"time"
)

// Drill is the drill at the start of a season. All methods are called from many
// goroutines at once. What cannot be done is a Refusal.
type Drill interface {
	Drill() DrillState
	Begin(ctx context.Context, by string) error
	End(ctx context.Context, by string) error
	// Now is that somebody does a step now. Some need a test message, which send sends,
	// and returns the name of.
	Now(ctx context.Context, step string, send func(context.Context) (test string, err error)) error
	// ByHand ticks a step off by hand, or takes that back.
	ByHand(ctx context.Context, step, by string) error
}

// DrillState is how far a drill is.
type DrillState struct {
	Begun time.Time // zero: none was begun yet
	By    string
	Open  bool
	Steps []DrillStep
	Last  *DrillDone // the newest that was ended
}

// DrillStep is one thing to do.
type DrillStep struct {
	ID    string
	Kind  DrillKind
	Of    string        // a probe, a circuit, a house, by its name
	Place string        // of the probe
	Feels bool          // else it is ticked off by hand alone
	Every time.Duration // of the probe, 0 where it is not known
	Doing bool          // somebody does it now
	At    time.Time     // when it was ticked off; zero: it is not
	Took  time.Duration // until it was felt
	Hand  bool          // ticked off by hand
	By    string
	Late  bool // it was not felt in its time
}

// DrillKind is what a step asks for.
type DrillKind string

// DrillDone is a drill that was ended.
type DrillDone struct {
	At               time.Time
	By               string
	Felt, Hand, Left int
}
