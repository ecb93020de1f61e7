package alarms

import (
	"slices"
	"strings"
)

// asideWords names what of h (nil: of the watch itself) somebody put aside and is
// still so, to end a sentence on how things are; "" for nothing. What is not told
// must not be taken for well.
func (e *Engine) asideWords(h *house) string {
	var all []string
	for _, a := range e.order {
		if a.house == h && a.stillAside() {
			all = append(all, e.asideWord(a))
		}
	}
	if len(all) == 0 {
		return ""
	}
	return "Put aside, and still so: " + strings.Join(all, "; ") + "."
}

// stillAside reports whether somebody put a aside while what it tells of holds.
func (a *alarm) stillAside() bool { return a.State.Aside() && a.Condition != Within }

// Aside reports whether somebody put an alarm aside that is in state s. It says
// nothing then, so it speaks for no other alarm: whoever looks for what speaks
// for an alarm passes it over.
func (s State) Aside() bool { return s == Shelved || s == OutOfService }

// respoken lets what a may speak for be looked at anew: a was put aside, or is
// so no longer.
func (e *Engine) respoken(a *alarm, now instant) {
	switch {
	case a == e.link.alarm:
		e.reviewLink(now)
	case a.rule == RuleSwitching:
		e.restateAll(a.works)
	case a.found != nil:
		e.restate(a.found, a.works)
	case a.rule != RuleSilent && a.rule != RuleUnwatched:
	case a.place != nil:
		e.reviewPlace(a.place)
	default:
		e.reviewTold(a.house)
	}
	if a.rule == RuleSilent {
		for _, n := range a.house.nodes {
			n.Mute = n.Mute || n.alarm == a && n.Spare.From != 0
		}
	}
}

// restateAll lets it be looked at anew who speaks for the verdicts of m.
func (e *Engine) restateAll(m *mechanism) {
	if !m.restated {
		m.restated = true
		e.restated = append(e.restated, m)
	}
}

// respeakFed is restateAll for what rests on the circuit of n.
func (e *Engine) respeakFed(n *node) {
	if !n.isCircuit() {
		return
	}
	for _, m := range n.alarm.house.mechanisms {
		if slices.ContainsFunc(m.drives, func(d *Drive) bool { return m.house.rests(d, n.alarm.circuit) }) {
			e.restateAll(m)
		}
	}
}

// respokenAll is respoken for what speaks for another and is put aside, as early
// snapshots have it.
func (e *Engine) respokenAll(now instant) {
	for _, a := range e.order {
		if cause := e.alarms[a.Cause]; a.State == SuppressedByDesign && cause != nil && cause.State.Aside() {
			e.respoken(cause, now)
		}
	}
}

func (e *Engine) asideWord(a *alarm) string {
	var how []string
	if a.gauge != nil {
		if d, ok := a.gauge.depth(); ok {
			how = append(how, e.plan.Words.Value(a.quantity, a.gauge.value(d))+" now")
		}
	}
	switch a.State {
	case Shelved:
		how = append(how, "shelved until "+e.plan.Words.Clock(e.wall(a.Until), e.wall(e.now)))
	default:
		how = append(how, "out of service")
	}
	return a.title() + " (" + strings.Join(how, ", ") + ")"
}
