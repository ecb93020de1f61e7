package alarms

import "time"

// What an exposure reaches after noon or by night is told in the morning, as one.

// waitsForDay reports whether what x has reached at a moment is not told before
// the next morning: by night, and in the afternoon, of which the night is a part.
// Where no day begins for long, as in a polar night, it is told.
func (e *Engine) waitsForDay(x *exposed, at instant) bool {
	h := x.place.house
	if !x.plan.Morning {
		return false
	}
	begins, ok := h.nextPart(at, Day)
	if !ok || begins.since(at) > 24*time.Hour {
		return false
	}
	if h.Daypart == Night {
		return true
	}
	began, _, ok := h.calendar.lastTurn(e.wall(at), 24*time.Hour)
	ends, sure := h.nextPart(at, Night)
	return ok && sure && ends.since(at) < e.wall(at).Sub(began)
}

// owedAll tells what is owed in h, whose day has begun.
func (e *Engine) owedAll(h *house, now instant) {
	for _, x := range h.exposures {
		if x.owed && !e.waitsForDay(x, now) {
			e.tellOwed(x.place, now)
		}
	}
}

// tellOwed tells all that is owed at p as one: the damp night is one cause. Of
// what is told together the one of the highest priority speaks, the first in the
// plan of equals, and names the others.
func (e *Engine) tellOwed(p *place, now instant) {
	var speaker *exposed
	var owed []*exposed
	for _, x := range p.exposures {
		if !x.owed {
			continue
		}
		owed = append(owed, x)
		if !x.alarm.State.Aside() && (speaker == nil || x.plan.Priority > speaker.plan.Priority) {
			speaker = x
		}
	}
	for _, x := range owed {
		x.owed, x.telling = false, true
		if x != speaker && speaker != nil {
			x.with = speaker.plan.ID
			if !x.alarm.State.Aside() {
				speaker.also = append(speaker.also, x.plan.Says)
			}
		}
	}
	for _, x := range owed {
		e.apply(x.alarm, Outer, nil, now)
	}
	for _, x := range owed {
		x.telling, x.also, x.with = false, nil, ""
		if !x.meter.Reached && !x.unsaid() {
			e.apply(x.alarm, Within, nil, now)
		}
	}
}
