package say

import (
	"fmt"

	"telltale/alarms"
)

// absent says what is told because somebody is not at hand.
type absent struct{ *telling }

// begunOrEnded says that somebody is not at hand, or is so again, and who is told because
// of it.
func (n absent) begunOrEnded() string {
	l := n.r.Leave
	if l == nil {
		return "Who is at hand has changed."
	}
	switch l.Ended {
	case alarms.LeaveOver:
		return fmt.Sprintf("The time for which %s was away is over: %s.", l.Person, asBefore(l))
	case alarms.LeaveBack:
		return fmt.Sprintf("%s is back: %s.", l.Person, asBefore(l))
	}
	s := fmt.Sprintf("%s is away until %s%s.", l.Person, n.Clock(l.Until, n.Due), n.setBy(l))
	if l.StandIn == "" {
		return s + " Nobody stands in, so everybody is told as before."
	}
	s += fmt.Sprintf(" Until then %s is told first: whatever %s would be told, and in quiet hours too.", l.StandIn, l.Person)
	if l.Spared {
		return s + fmt.Sprintf(" %s is told only of what nobody has acknowledged within %s.", l.Person, n.Span(alarms.SparedFor))
	}
	return s + fmt.Sprintf(" %s is told as before.", l.Person)
}

// setBy says who set it, where that was somebody else.
func (n absent) setBy(l *alarms.LeaveReason) string {
	if n.r.By == "" || n.r.By == l.Person {
		return ""
	}
	return ", as " + n.r.By + " has set it"
}

func asBefore(l *alarms.LeaveReason) string {
	if l.StandIn == "" {
		return "everybody is told as before"
	}
	return fmt.Sprintf("%s and %s are told as before", l.Person, l.StandIn)
}

// handed says what is on, to whoever stands in for somebody.
func (n absent) handed() string {
	l, took := n.r.Leave, ""
	if l.Took {
		took = " has acknowledged this, but"
	}
	return fmt.Sprintf("%s %s%s is away until %s, so %s is told.", n.still(), l.Person, took, n.Clock(l.Until, n.Due), l.StandIn)
}
