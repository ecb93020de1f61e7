package lifecycle

import (
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// Panel is what all alarms of an engine share.
type Panel struct {
	Timers timing.Queue
	Clock  timing.Clock   // what clocks on the wall show
	Now    timing.Instant // when what is told is noticed
	Actor  Actor

	Chatter   alarms.ChatterRule
	Reminders alarms.Reminders

	AwayTo   timing.Instant // end of the time away that is being made up for; 0: none
	LateTo   timing.Instant // end of the newest step that is so long that what is told again in it is told once
	Extended timing.Instant // to when an acknowledgement goes on, being noted

	// Counts are the transitions of alarms that the plan does not name any more.
	Counts map[alarms.AlarmID]int

	out []*alarms.Transition
}

// NewPanel returns a panel for alarms of p, which is a filled plan.
func NewPanel(p *alarms.Plan) Panel {
	return Panel{Timers: timing.NewQueue(), Chatter: p.Chatter, Reminders: p.Reminders, Counts: map[alarms.AlarmID]int{}}
}

// Actor is who is behind the input being applied, and until when they are on
// the way; empty for time and readings.
type Actor struct {
	By, Note string
	Until    timing.Instant
}

// Tell adds a transition that no alarm makes.
func (p *Panel) Tell(t *alarms.Transition) { p.out = append(p.out, t) }

// Taken hands over the transitions made so far, in their stated order.
func (p *Panel) Taken() []alarms.Transition {
	if len(p.out) == 0 {
		return nil
	}
	slices.SortStableFunc(p.out, func(a, b *alarms.Transition) int {
		if c := a.Core.Compare(b.Core); c != 0 {
			return c
		}
		return strings.Compare(string(a.Alarm), string(b.Alarm))
	})
	out := make([]alarms.Transition, len(p.out))
	for i, t := range p.out {
		out[i] = *t
	}
	p.out = nil
	return out
}
