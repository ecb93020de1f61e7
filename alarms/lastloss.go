package alarms

import "slices"

// A house of which no temperature is believed any more is not watched at all,
// whichever way the last one was lost: silent, sick, unreadable. The alarms that
// speak for the place that was lost last are then at the level Last, which is of
// high priority whatever the plan gives them; those of places that were lost
// before stay as they are, so that one loss is told once. A place called
// "outside" says nothing of the house.

// findTemperatures notes where in h a temperature is measured.
func (h *house) findTemperatures() {
	for _, p := range h.places {
		if pt := p.point(Temperature); pt != nil && len(pt.streams) > 0 && p != h.outside {
			p.air = pt
			h.aired = append(h.aired, p)
		}
	}
	h.known = len(h.aired)
	h.countServing()
}

// countServing counts where nothing in service tells a temperature of h.
func (h *house) countServing() {
	h.unserved = 0
	for _, p := range h.aired {
		h.unserved += p.unserved()
	}
}

// unserved is 1 where nothing in service tells the temperature of p, else 0.
func (p *place) unserved() int {
	if p.air == nil || p.missed() {
		return 0
	}
	return 1
}

// loadLosses finds anew what is lost of h, and which was the last by what was
// told of it.
func (h *house) loadLosses() {
	h.known = len(h.aired)
	h.countServing()
	h.lasts = nil
	for _, p := range h.aired {
		if p.lost = p.air.dark(); p.lost {
			h.known--
		}
		p.last = p.unwatched.Condition == Last
		for _, pr := range p.probes {
			p.last = p.last || slices.ContainsFunc(pr.nodes, func(n *node) bool { return n.alarm.Condition == Last }) ||
				slices.ContainsFunc(pr.faults[:], func(a *alarm) bool { return a != nil && a.Condition == Last })
		}
		if p.last {
			h.lasts = append(h.lasts, p)
		}
	}
}

// reviewLosses finds which of the places that are looked at have lost their
// temperature, or have it back, and whether it was the last of their house.
func (e *Engine) reviewLosses(places []*place) {
	var houses []*house
	for _, p := range places {
		if p.air == nil {
			continue
		}
		if was := p.lost; was != p.air.dark() {
			if p.lost = !was; p.lost {
				p.house.known--
				p.house.newly = append(p.house.newly, p)
			} else {
				p.house.known++
			}
		}
		if h := p.house; len(houses) == 0 || houses[len(houses)-1] != h {
			houses = append(houses, h)
		}
	}
	for _, h := range houses {
		e.reviewLast(h, h.newly)
		h.newly = nil
	}
}

// reviewLast settles which places of h, if any, were the last to be known: of
// those that are lost now, else of all that were before.
func (e *Engine) reviewLast(h *house, newly []*place) {
	switch {
	case h.known > 0:
		for _, p := range h.lasts {
			e.setLast(p, false)
		}
		h.lasts = nil
	case slices.ContainsFunc(h.lasts, (*place).missed):
	default:
		some := newly
		if !slices.ContainsFunc(newly, (*place).missed) {
			some = h.aired
		}
		for _, p := range some {
			if p.missed() && !p.last {
				h.lasts = append(h.lasts, p)
				e.setLast(p, true)
			}
		}
	}
}

func (e *Engine) setLast(p *place, last bool) {
	p.last = last
	e.reviewPlace(p)
	for _, st := range p.air.streams {
		for n := st.node; n != nil; n = n.parent {
			e.reviewNode(n)
		}
	}
}

// missed reports whether something in service should tell the temperature of
// p: what a person took out is no alarm.
func (p *place) missed() bool {
	return slices.ContainsFunc(p.air.streams, func(st *stream) bool { return !st.probe.Out })
}

// lastOf is Last for a probe alarm of p, on for a reason that holds for some of
// p's temperatures, where p was the last to be known; else level.
func (p *place) lastOf(level Level, holds func(*stream) bool) Level {
	if level == Within || !p.last || p.house.known > 0 {
		return level
	}
	for _, st := range p.air.streams {
		if !st.probe.Out && holds(st) {
			return Last
		}
	}
	return level
}

// lastWords says of an alarm at the level Last what that means.
func (a *alarm) lastWords() string {
	of := a.house.plan.Name
	if a.house.unserved > 0 {
		return " No temperature of " + of + " is known now."
	}
	places := a.house.aired
	if a.place != nil {
		places = []*place{a.place}
	}
	last, heard := 0, false
	for _, p := range places {
		if p.last {
			last++
			heard = heard || slices.ContainsFunc(p.air.streams, func(st *stream) bool { return st.Has })
		}
	}
	switch {
	case a.place == nil && a.circuit == nil:
		return "" // that the whole house is silent says it
	case !heard:
		return " No temperature of " + of + " is known."
	case last > 1:
		return " They were the last temperatures known of " + of + "."
	}
	return " It was the last temperature known of " + of + "."
}
