package say

import (
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// doubts follow "Probe bench-1, which says so, is doubted because it".
var doubts = map[alarms.Fault]tongue.Text{
	alarms.FaultStep: "jumped there at once", alarms.FaultClock: "has a clock that may be wrong",
	alarms.FaultOutlier: "differs from its neighbours", alarms.FaultSpikes: "jumps about",
	alarms.FaultStuck:  "has given the same value for hours",
	alarms.FaultPinned: "has been at the top of its scale for hours",
}

// doubt says why the value is doubted, "" where it is not.
func (n *telling) doubt() string {
	if n.r.Probe == "" || doubts[n.r.Fault] == "" {
		return ""
	}
	return n.say(" Probe %s, which says so, is doubted because it %s.", n.probe(n.r.Probe), n.say(doubts[n.r.Fault]))
}

// lost says that those on whose word an alarm rests are lost, and what others say.
func (n *telling) lost() string {
	r := n.r
	s := n.say("%s, by the word of probe %s.", n.title(n.o), n.losses())
	if r.Probe == "" || r.Value == nil {
		return s + n.say(" It stays on until another probe has been believed there for half an hour.")
	}
	return n.say("%s Probe %s says %s; if it goes on to say that all is well, this ends on its word after %s.",
		s, n.probe(r.Probe), n.said(n.o.Quantity, *r.Value), n.Span(n.f.Speaks))
}

// instead says on whose word an alarm ended, and who raised it, where that is
// not the same.
func (n *telling) instead() (by, raised string) {
	if len(n.r.Lost) == 0 || n.r.Probe == "" {
		return "", ""
	}
	return n.say(", by the word of probe %s", n.probe(n.r.Probe)), n.say(" It was raised by the word of probe %s.", n.losses())
}

// losses names what is lost, to follow "probe".
func (n *telling) losses() string {
	var all []string
	for i := range n.f.Losses {
		if words := n.loss(&n.f.Losses[i]); len(all) == 0 || all[len(all)-1] != words {
			all = append(all, words)
		}
	}
	return strings.Join(all, n.say(", and of probe "))
}

func (n *telling) loss(l *alarms.Ailment) string {
	name := n.probe(l.Probe)
	switch l.How {
	case alarms.AilsUnplanned:
		return n.say("%s, which the plan no longer has", string(l.Probe))
	case alarms.AilsOut:
		return n.say("%s, which has been taken out of service", name)
	case alarms.AilsSilent:
		return n.say("%s, which has fallen silent (last heard %s)", name, n.Clock(l.Since, n.Due))
	case alarms.AilsFault:
		return n.say("%s, which %s", name, n.faulty(l.Why, n.Due))
	case alarms.AilsScarce:
		return n.say("%s, which has said too little of late (last heard %s)", name, n.Clock(l.Since, n.Due))
	}
	return n.say("%s, which was not to be believed for a while", name)
}
