package engine

import (
	"math"
	"slices"

	"telltale/alarms"
	"telltale/alarms/control"
)

// A house of which no temperature is believed any more is not watched at all,
// whichever way the last one was lost: silent, sick, unreadable. The alarms that
// speak for the place that was lost last are then at the level Last, which is of
// high priority whatever the plan gives them; those of places that were lost
// before stay as they are, so that one loss is told once. A place called
// "outside" says nothing of the house.

// findTemperatures notes where in the house a temperature is measured.
func (sl *silences) findTemperatures() {
	for _, p := range sl.h.places {
		if pt := p.point(alarms.Temperature); pt != nil && len(pt.streams) > 0 && p != sl.h.outside {
			p.air = pt
			sl.aired = append(sl.aired, p)
		}
	}
	sl.known = len(sl.aired)
	sl.countServing()
}

// countServing counts where nothing in service tells a temperature of h.
func (sl *silences) countServing() {
	sl.unserved = 0
	for _, p := range sl.aired {
		sl.unserved += p.unserved()
	}
}

// unserved is 1 where nothing in service tells the temperature of p, else 0.
func (p *place) unserved() int {
	if p.air == nil || p.missed() {
		return 0
	}
	return 1
}

// loadLosses finds again what is lost of the house, and which was the last by what was
// told of it.
func (sl *silences) loadLosses() {
	sl.known = len(sl.aired)
	sl.countServing()
	sl.lasts = nil
	for _, p := range sl.aired {
		if p.lost = p.air.dark(); p.lost {
			sl.known--
		}
		p.last = p.unwatched.Condition == alarms.Last
		for _, pr := range p.probes {
			p.last = p.last || slices.ContainsFunc(pr.nodes, func(n *node) bool { return n.alarm.Condition == alarms.Last }) ||
				slices.ContainsFunc(pr.faults[:], func(a *alarm) bool { return a != nil && a.Condition == alarms.Last })
		}
		if p.last {
			sl.lasts = append(sl.lasts, p)
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
		h.reviewLast(h.newly)
		h.newly = nil
	}
}

// reviewLast settles which places of the house, if any, were the last to be known: of
// those that are lost now, else of all that were before.
func (sl *silences) reviewLast(newly []*place) {
	switch {
	case sl.known > 0:
		for _, p := range sl.lasts {
			p.setLast(sl.h.e, false)
		}
		sl.lasts = nil
	case slices.ContainsFunc(sl.lasts, (*place).missed):
	default:
		some := newly
		if !slices.ContainsFunc(newly, (*place).missed) {
			some = sl.aired
		}
		for _, p := range some {
			if p.missed() && !p.last {
				sl.lasts = append(sl.lasts, p)
				p.setLast(sl.h.e, true)
			}
		}
	}
}

func (p *place) setLast(e *Engine, last bool) {
	p.last = last
	p.reviewPlace(e)
	for _, st := range p.air.streams {
		for n := st.node; n != nil; n = n.parent {
			n.reviewNode(e)
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
func (p *place) lastOf(level alarms.Level, holds func(*stream) bool) alarms.Level {
	if level == alarms.Within || !p.last || p.house.known > 0 {
		return level
	}
	for _, st := range p.air.streams {
		if !st.probe.Out && holds(st) {
			return alarms.Last
		}
	}
	return level
}

// witness is the probe that tells of the power of the circuit that a is of; nil
// for none.
func (a *alarm) witness() *probe {
	if a.probe != nil || a.circuit == nil {
		return nil
	}
	for _, p := range a.house.places {
		for _, pr := range p.probes {
			if pr.circuit == a.circuit && pr.isWitness() {
				return pr
			}
		}
	}
	return nil
}

// nearLimit is how near a limit a temperature makes the power of a heater or a
// fan urgent, K. Common practice, no source.
const nearLimit = 3.0

// feedLoss says what is lost with the circuit of a, and how warm it is where that
// matters; nil where a is over.
func (a *alarm) feedLoss() *alarms.FeedLoss {
	if a.circuit == nil || a.probe != nil || a.Condition == alarms.Within {
		return nil
	}
	f, n := &alarms.FeedLoss{}, a.house.feeds[a.circuit.ID]
	for i := range a.house.plan.Drives {
		if d := &a.house.plan.Drives[i]; a.house.rests(d, a.circuit) && !a.house.seenRunning(d, n) {
			f.Stand = append(f.Stand, d.ID)
			if a.house.wantedNow(d) {
				f.Wanted = append(f.Wanted, d.ID)
			}
		}
	}
	if len(f.Stand) > 0 {
		f.Cold, f.Hot = a.house.extremes()
	}
	return f
}

// under reports whether p hangs on the circuit of n or on one that it feeds.
func (sl *silences) under(p *probe, n *node) bool {
	return n.alarm.circuit != nil && n.alarm.circuit.Powers(p.circuit)
}

// extremes are how cold and how hot it is in h, where that is near a limit of a
// place or beyond it, or freezes outside; nil where not, or not known.
func (h *house) extremes() (cold, hot *alarms.Extreme) {
	low, high := nearLimit, nearLimit
	for _, p := range h.places {
		pt := p.point(alarms.Temperature)
		if pt == nil || !pt.banded || p == h.outside {
			continue
		}
		lo, hi, ok := pt.extremes()
		if l := pt.low.outermost(); ok && l.Set && lo-l.Value <= low {
			low, cold = lo-l.Value, &alarms.Extreme{Place: p.plan.ID, Value: lo, Limit: l.Value}
		}
		if l := pt.high.outermost(); ok && l.Set && l.Value-hi <= high {
			high, hot = l.Value-hi, &alarms.Extreme{Place: p.plan.ID, Value: hi, Limit: l.Value}
		}
	}
	if t := h.outsideNow(); cold == nil && !math.IsNaN(t) && t < control.Frosty {
		cold = &alarms.Extreme{Value: t}
	}
	return cold, hot
}
