package alarms

import "slices"

// What happens in one instant is judged as one thing: a value that passes two
// limits whose delays end together is raised once, at the worse; two quantities
// of a probe that fall silent together make one silence. So sides, silences and
// places are only noted when something about them changes, and settle looks at
// them when all deadlines of the instant have fired and its input is applied.
// Only what changed is looked at: a message does not cost the house.

// review notes that all of h must be looked at anew.
func (e *Engine) review(h *house) {
	for _, n := range h.nodes {
		e.reviewNode(n)
	}
	for _, p := range h.places {
		e.reviewPlace(p)
	}
}

// reviewPlace notes that the silences and faults of p, and whether it is
// watched, must be looked at anew.
func (e *Engine) reviewPlace(p *place) {
	if !p.noted {
		p.noted = true
		e.news = append(e.news, p)
	}
}

// reviewNode notes that it must be looked at anew whether n is told.
func (e *Engine) reviewNode(n *node) {
	if p := n.alarm.place; p != nil {
		e.reviewPlace(p)
	} else if !n.reviewed {
		n.reviewed = true
		e.newsAbove = append(e.newsAbove, n)
	}
}

// reviewBelow is reviewNode for n and all that it speaks for.
func (e *Engine) reviewBelow(n *node) {
	e.reviewNode(n)
	for _, m := range n.children {
		e.reviewBelow(m)
	}
}

// reviewTold notes what of h has been told, or would be but for another alarm.
func (e *Engine) reviewTold(h *house) {
	if h.silent+h.dark == 0 && !slices.ContainsFunc(h.witnessed, func(n *node) bool { return n.Dead }) {
		return
	}
	for _, p := range h.places {
		if len(p.Dark) > 0 || slices.ContainsFunc(p.probes, func(pr *probe) bool { return pr.node.quiet > 0 }) {
			e.reviewPlace(p)
		}
	}
	for _, n := range h.nodes {
		if n.alarm.Condition != Within {
			e.reviewNode(n)
		}
	}
}

// sideChanged notes that a latch of s switched.
func (e *Engine) sideChanged(s *side) {
	if !s.noted {
		s.noted = true
		e.changed = append(e.changed, s)
	}
}

// settle looks at all that was noted, at the end of an instant.
func (e *Engine) settle(now instant) {
	for len(e.changed)+len(e.deciding)+len(e.news)+len(e.newsAbove)+len(e.restated) > 0 {
		sides := e.changed
		e.changed = nil
		for _, s := range sides {
			s.noted = false
			e.apply(s.alarm, s.level(), nil, now)
			e.settleSide(s, now)
		}
		for i := 0; i < len(e.deciding); i++ {
			n := e.deciding[i]
			n.queued = false
			e.decide(n, now)
		}
		e.deciding = nil
		for _, m := range e.restated {
			m.restated = false
			m.respeak(now)
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
