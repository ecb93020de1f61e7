package alarms

import (
	"fmt"
	"strings"
)

// doubts follow "Probe bench-1, which says so, is doubted because it".
var doubts = map[Fault]string{
	FaultStep: "jumped there at once", FaultClock: "has a clock that may be wrong",
	FaultOutlier: "differs from its neighbours", FaultSpikes: "jumps about",
	FaultStuck:  "has given the same value for hours",
	FaultPinned: "has been at the top of its scale for hours",
}

// doubtSentence says why the value of r is doubted, "" where it is not.
func (e *Engine) doubtSentence(r Reason) string {
	p := e.probes[r.Probe]
	if p == nil || doubts[r.Fault] == "" {
		return ""
	}
	return fmt.Sprintf(" Probe %s, which says so, is doubted because it %s.", p.plan.Name, doubts[r.Fault])
}

// lostSentence says that those on whose word a rests are lost, and what others say.
func (e *Engine) lostSentence(a *alarm, t Transition, value string) string {
	r := t.Reason
	s := fmt.Sprintf("%s, by the word of probe %s.", a.title(), e.losses(r, t))
	p := e.probes[r.Probe]
	if p == nil || value == "" {
		return s + " It stays on until another probe has been believed there for half an hour."
	}
	return fmt.Sprintf("%s Probe %s says %s; if it goes on to say that all is well, this ends on its word after %s.",
		s, p.plan.Name, value, Span(p.speaksAfter()))
}

// instead says on whose word an alarm ended, and who raised it, where that is
// not the same.
func (e *Engine) instead(r Reason, t Transition) (by, raised string) {
	p := e.probes[r.Probe]
	if len(r.Lost) == 0 || p == nil {
		return "", ""
	}
	return ", by the word of probe " + p.plan.Name, fmt.Sprintf(" It was raised by the word of probe %s.", e.losses(r, t))
}

// losses names what is lost, to follow "probe".
func (e *Engine) losses(r Reason, t Transition) string {
	var all []string
	for _, key := range r.Lost {
		id, q, _ := strings.Cut(key, "/")
		words := id + ", which the plan no longer has"
		if st := e.streams[streamKey{ProbeID(id), Quantity(q)}]; st != nil {
			words = e.lossOf(st, t)
		}
		if len(all) == 0 || all[len(all)-1] != words {
			all = append(all, words)
		}
	}
	return strings.Join(all, ", and of probe ")
}

func (e *Engine) lossOf(st *stream, t Transition) string {
	name, now := st.probe.plan.Name, at(t.Due)
	switch {
	case st.probe.Out:
		return name + ", which has been taken out of service"
	case st.Silent:
		return fmt.Sprintf("%s, which has fallen silent (last heard %s)", name, e.plan.Words.Clock(e.wall(st.Heard), t.Due))
	}
	for _, f := range st.Faults.names() {
		if blinding(f) {
			return fmt.Sprintf("%s, which %s", name, e.faultWords(f, st.probe.whyFault(f, now), now))
		}
	}
	if !st.mute() {
		return fmt.Sprintf("%s, which has said too little of late (last heard %s)", name, e.plan.Words.Clock(e.wall(st.Heard), t.Due))
	}
	return name + ", which was not to be believed for a while"
}
