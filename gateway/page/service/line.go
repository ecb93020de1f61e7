package service

import (
	"context"
	"slices"

	"telltale/alarms"
)

// Line is who is told of alarms and at hand. All methods are called from many goroutines
// at once.
type Line interface {
	// Line says who is at hand now, and who is away.
	Line() Hands
	// GoAway lets somebody be away, until l.Until, and returns what is said of it. Where
	// l.StandIn is away or "", somebody else stands in. What is wrong is a Refusal.
	GoAway(ctx context.Context, l alarms.Leave, by string) (said string, err error)
	// Back ends the leave of somebody, and returns what is said of it; "" where they were
	// not away.
	Back(ctx context.Context, person, by string) (said string, err error)
}

// Hands are the people who are told of alarms, in the order of the config.
type Hands struct {
	People []string
	AtHand []string
	Away   []alarms.Leave // StandIn is who really stands in now; "": nobody
}

// Known reports whether somebody of that name is told of anything.
func (h Hands) Known(name string) bool { return slices.Contains(h.People, name) }
