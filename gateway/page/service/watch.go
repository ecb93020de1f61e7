package service

import (
	"context"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
)

// Watch is what the page needs of the service behind it. All methods are
// called from many goroutines at once.
type Watch interface {
	// Picture returns the newest picture.
	Picture() alarms.Picture
	// Judged returns, in real time, when the watch last judged something, if
	// only that time went by. Where that is long ago the page says that the
	// watch stands still.
	Judged() time.Time
	// PictureIn is Picture in the locale of one visitor.
	PictureIn(m say.Locale) alarms.Picture
	// Subscribe returns a channel that holds at most one note "there is a newer
	// picture", and what ends the subscription. The sender must never wait.
	Subscribe() (<-chan struct{}, func())
	// Do applies what a person asked for and returns when it has been judged.
	Do(ctx context.Context, in alarms.Input) error
	// History returns at most about maxPoints points of one place, oldest
	// first, with from <= At < to, in the quantity's own unit.
	History(ctx context.Context, house alarms.HouseID, place alarms.PlaceID, quantity alarms.Quantity,
		from, to time.Time, maxPoints int) ([]Point, error)
	// Log returns transitions with Due before the given time, newest first.
	Log(ctx context.Context, of LogOf, before time.Time, limit int) ([]alarms.Transition, error)
	// TestMessage puts a test message on its way to everybody who would be told,
	// or is over one channel, and returns its name. A Refusal says why there is none.
	TestMessage(ctx context.Context, channel string) (id string, err error)
	// Tested returns what has come of a test message so far, one for each person
	// and channel and for each channel that is followed; none: there is no such.
	Tested(ctx context.Context, id string) ([]Telling, error)
	// Now is the watch's own time; every age and clock time shown follows it.
	Now() time.Time
}

// LogOf says which part of the log is meant.
type LogOf string

// Parts of the log.
const (
	LogAll       LogOf = ""
	LogSwitching LogOf = "switching" // what the drives did: alarms.RuleSwitching alone
	LogOther     LogOf = "other"     // all but that
)

// Point is one reading, or all readings of one short span of time.
type Point struct {
	At       time.Time // of the reading, or the middle of the span
	Value    float64   // the reading, or the mean of the span
	Min, Max float64   // of the span; both equal to Value for one reading
}
