package say

import (
	"fmt"
	"strings"

	"telltale/alarms"
)

// doubts follow "Probe bench-1, which says so, is doubted because it".
var doubts = map[alarms.Fault]string{
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
	return fmt.Sprintf(" Probe %s, which says so, is doubted because it %s.", n.probe(n.r.Probe), doubts[n.r.Fault])
}

// lost says that those on whose word an alarm rests are lost, and what others say.
func (n *telling) lost() string {
	r := n.r
	s := fmt.Sprintf("%s, by the word of probe %s.", n.title(n.o), n.losses())
	if r.Probe == "" || r.Value == nil {
		return s + " It stays on until another probe has been believed there for half an hour."
	}
	return fmt.Sprintf("%s Probe %s says %s; if it goes on to say that all is well, this ends on its word after %s.",
		s, n.probe(r.Probe), n.said(n.o.Quantity, *r.Value), n.Span(n.f.Speaks))
}

// instead says on whose word an alarm ended, and who raised it, where that is
// not the same.
func (n *telling) instead() (by, raised string) {
	if len(n.r.Lost) == 0 || n.r.Probe == "" {
		return "", ""
	}
	return ", by the word of probe " + n.probe(n.r.Probe), fmt.Sprintf(" It was raised by the word of probe %s.", n.losses())
}

// losses names what is lost, to follow "probe".
func (n *telling) losses() string {
	var all []string
	for i := range n.f.Losses {
		if words := n.loss(&n.f.Losses[i]); len(all) == 0 || all[len(all)-1] != words {
			all = append(all, words)
		}
	}
	return strings.Join(all, ", and of probe ")
}

func (n *telling) loss(l *alarms.Ailment) string {
	name := n.probe(l.Probe)
	switch l.How {
	case alarms.AilsUnplanned:
		return string(l.Probe) + ", which the plan no longer has"
	case alarms.AilsOut:
		return name + ", which has been taken out of service"
	case alarms.AilsSilent:
		return fmt.Sprintf("%s, which has fallen silent (last heard %s)", name, n.Clock(l.Since, n.Due))
	case alarms.AilsFault:
		return fmt.Sprintf("%s, which %s", name, n.faulty(l.Why, n.Due))
	case alarms.AilsScarce:
		return fmt.Sprintf("%s, which has said too little of late (last heard %s)", name, n.Clock(l.Since, n.Due))
	}
	return name + ", which was not to be believed for a while"
}
