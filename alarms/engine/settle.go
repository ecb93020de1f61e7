package engine

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// What happens in one instant is judged as one thing: a value that passes two
// limits whose delays end together is raised once, at the worse; two quantities
// of a probe that fall silent together make one silence. So sides, silences and
// places are only noted when something about them changes, and settle looks at
// them when all deadlines of the instant have fired and its input is applied.
// Only what changed is looked at: a message does not cost the house.

// review notes that all of the house must be looked at again.
func (sl *silences) review() {
	for _, n := range sl.nodes {
		n.reviewNode(sl.h.e)
	}
	for _, p := range sl.h.places {
		p.reviewPlace(sl.h.e)
	}
}

// reviewPlace notes that the silences and faults of p, and whether it is
// watched, must be looked at again.
func (p *place) reviewPlace(e *Engine) {
	if !p.noted {
		p.noted = true
		e.news = append(e.news, p)
	}
}

// reviewNode notes that it must be looked at again whether n is told.
func (n *node) reviewNode(e *Engine) {
	if p := n.alarm.place; p != nil {
		p.reviewPlace(e)
	} else if !n.reviewed {
		n.reviewed = true
		e.newsAbove = append(e.newsAbove, n)
	}
}

// reviewBelow is reviewNode for n and all that it speaks for.
func (n *node) reviewBelow(e *Engine) {
	n.reviewNode(e)
	for _, m := range n.children {
		m.reviewBelow(e)
	}
}

// reviewTold notes what of the house has been told, or would be but for another alarm.
func (sl *silences) reviewTold() {
	if sl.silent+sl.dark == 0 && !slices.ContainsFunc(sl.witnessed, func(n *node) bool { return n.Dead }) {
		return
	}
	for _, p := range sl.h.places {
		if len(p.Dark) > 0 || slices.ContainsFunc(p.probes, func(pr *probe) bool { return pr.node.quiet > 0 }) {
			p.reviewPlace(sl.h.e)
		}
	}
	for _, n := range sl.nodes {
		if n.alarm.Condition != alarms.Within {
			n.reviewNode(sl.h.e)
		}
	}
}

// sideChanged notes that a latch of s switched.
func (s *side) sideChanged(e *Engine) {
	if !s.noted {
		s.noted = true
		e.changed = append(e.changed, s)
	}
}

// settle looks at all that was noted, at the end of an instant.
func (e *Engine) settle(now timing.Instant) {
	for len(e.changed)+len(e.deciding)+len(e.news)+len(e.newsAbove)+len(e.restated) > 0 {
		sides := e.changed
		e.changed = nil
		for _, s := range sides {
			s.noted = false
			s.alarm.Apply(s.level(), "", now)
			s.settleSide(e, now)
		}
		for i := 0; i < len(e.deciding); i++ {
			n := e.deciding[i]
			n.queued = false
			n.decide(e, now)
		}
		e.deciding = nil
		for _, m := range e.restated {
			m.Restated = false
			m.Respeak(now)
		}
		e.restated = nil
		places, above := e.news, e.newsAbove
		e.forgetNoted()
		e.reviewPlaces(places, above, now)
	}
}

// forgetNoted forgets what of silences and places was to be looked at.
func (e *Engine) forgetNoted() {
	for _, n := range e.deciding {
		n.queued = false
	}
	for _, p := range e.news {
		p.noted = false
	}
	for _, n := range e.newsAbove {
		n.reviewed = false
	}
	e.deciding, e.news, e.newsAbove = nil, nil, nil
}

// stillAside reports whether somebody put a aside while what it tells of holds.
func (a *alarm) stillAside() bool { return a.State.Aside() && a.Condition != alarms.Within }

// respeakFed is restateAll for what rests on the circuit of n.
func (n *node) respeakFed(e *Engine) {
	if !n.isCircuit() {
		return
	}
	for _, m := range n.alarm.house.thermostats {
		if slices.ContainsFunc(m.Drives(), func(d *alarms.Drive) bool { return n.alarm.house.rests(d, n.alarm.circuit) }) {
			m.Restate()
		}
	}
}

// respokenAll is respoken for what speaks for another and is put aside, as early
// snapshots have it.
func (e *Engine) respokenAll(now timing.Instant) {
	for _, a := range e.order {
		if cause := e.alarms[a.Cause]; a.State == alarms.SuppressedByDesign && cause != nil && cause.State.Aside() {
			cause.of.Aside(&cause.Alarm, now)
		}
	}
}
