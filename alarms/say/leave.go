package say

import (
	"telltale/alarms"
)

// absent says what is told because somebody is not at hand.
type absent struct{ *telling }

// begunOrEnded says that somebody is not at hand, or is so again, and who is told because
// of it.
func (n absent) begunOrEnded() string {
	l := n.r.Leave
	if l == nil {
		return n.say("Who is at hand has changed.")
	}
	switch l.Ended {
	case alarms.LeaveOver:
		return n.say("The time for which %s was away is over: %s.", l.Person, n.asBefore(l))
	case alarms.LeaveBack:
		return n.say("%s is back: %s.", l.Person, n.asBefore(l))
	}
	s := n.say("%s is away until %s%s.", l.Person, n.Clock(l.Until, n.Due), n.setBy(l))
	if l.StandIn == "" {
		return s + n.say(" Nobody stands in, so everybody is told as before.")
	}
	s += n.say(" Until then %s is told first: whatever %s would be told, and in quiet hours too.", l.StandIn, l.Person)
	if l.Spared {
		return s + n.say(" %s is told only of what nobody has acknowledged within %s.", l.Person, n.Span(alarms.SparedFor))
	}
	return s + n.say(" %s is told as before.", l.Person)
}

// setBy says who set it, where that was somebody else.
func (n absent) setBy(l *alarms.LeaveReason) string {
	if n.r.By == "" || n.r.By == l.Person {
		return ""
	}
	return n.say(", as %s has set it", n.Who(n.r.By))
}

func (n absent) asBefore(l *alarms.LeaveReason) string {
	if l.StandIn == "" {
		return n.say("everybody is told as before")
	}
	return n.say("%s and %s are told as before", l.Person, l.StandIn)
}

// handed says what is on, to whoever stands in for somebody.
func (n absent) handed() string {
	l, took := n.r.Leave, ""
	if l.Took {
		took = n.say(" has acknowledged this, but")
	}
	return n.say("%s %s%s is away until %s, so %s is told.", n.still(), l.Person, took, n.Clock(l.Until, n.Due), l.StandIn)
}
