package alarms

import (
	"math"
	"slices"
)

// loop reports what makes the loop of h impossible to judge.
func (c *checker) loop(h *House) {
	l := h.Loop
	if l == nil {
		return
	}
	where := string(h.ID) + ", ground loop"
	if !h.measures(l.House, Temperature) {
		c.fail("%s: no probe measures the temperature at %q, whose air enters the pipes", where, l.House)
	}
	c.loopFan(h, where)
	if len(l.Pipes) == 0 {
		c.fail("%s: it has no pipe: give the outlet, depth and flow of at least one", where)
	}
	if l.Soil != nil {
		if err := l.Soil.Check(); err != nil {
			c.fail("%s: soil: %w", where, err)
		}
	}
	if l.Pressure != 0 && !(l.Pressure >= 50000 && l.Pressure <= 110000) {
		c.fail("%s: the air pressure must be from 50000 to 110000 Pa (got %g)", where, l.Pressure)
	}
	if l.WarmBelow.Set && l.CoolAbove.Set && l.WarmBelow.Value > l.CoolAbove.Value {
		c.fail("%s: it cannot want warmth below %g and cooling above %g", where, l.WarmBelow.Value, l.CoolAbove.Value)
	}
	seen := map[PlaceID]bool{l.House: true}
	for _, p := range l.Pipes {
		c.pipe(h, where, p, seen[p.Outlet])
		seen[p.Outlet] = true
	}
}

func (c *checker) loopFan(h *House, where string) {
	l := h.Loop
	runs := l.Runs
	if !runs.given() {
		runs = h.firstEvidence(l.Fan)
	}
	switch {
	case !runs.given():
		c.fail("%s: nothing shows whether its fan runs: give a probe, or a drive that has evidence (got drive %q)", where, l.Fan)
	default:
		c.evidence(h, where, "fan", runs)
	}
	if l.FanPower != "" && !h.gives(l.FanPower, Power) {
		c.fail("%s: probe %q does not measure the power of its fan", where, l.FanPower)
	}
	if !(l.FanWatts >= 0) || math.IsInf(l.FanWatts, 0) {
		c.fail("%s: the power of its fan must be 0 W or more (got %g)", where, l.FanWatts)
	}
}

// evidence reports what cannot show anything.
func (c *checker) evidence(h *House, where, of string, ev Evidence) {
	switch {
	case !h.gives(ev.Probe, ev.Quantity):
		c.fail("%s: %s: probe %q of this house does not measure %q", where, of, ev.Probe, ev.Quantity)
	case ev.Quantity != Contact && !ev.Above.Set:
		c.fail("%s: %s: it takes a value of %s from which that counts as running", where, of, ev.Quantity)
	}
}

func (c *checker) pipe(h *House, where string, p Pipe, taken bool) {
	switch {
	case taken:
		c.fail("%s: place %q cannot be the outlet of a pipe: it is another's, or the house's air", where, p.Outlet)
	case !h.measures(p.Outlet, Temperature):
		c.fail("%s: no probe measures the temperature at the outlet %q", where, p.Outlet)
	}
	if !(p.Depth > 0 && p.Depth <= 30) {
		c.fail("%s: %s: the depth must be above 0 and at most 30 m (got %g)", where, p.Outlet, p.Depth)
	}
	if !(p.Flow > 0 && p.Flow <= 20) {
		c.fail("%s: %s: the flow must be above 0 and at most 20 m³/s (got %g)", where, p.Outlet, p.Flow)
	}
	if !(p.Effectiveness >= 0 && p.Effectiveness <= 1) {
		c.fail("%s: %s: the effectiveness must be from 0 to 1 (got %g)", where, p.Outlet, p.Effectiveness)
	}
	if p.Damper.given() {
		c.evidence(h, where, "damper of "+string(p.Outlet), p.Damper)
	}
}

// measures reports whether a probe at the place gives q.
func (h *House) measures(id PlaceID, q Quantity) bool {
	for i := range h.Places {
		for j := range h.Places[i].Probes {
			if h.Places[i].ID == id && h.Places[i].Probes[j].gives(q) {
				return true
			}
		}
	}
	return false
}

// gives reports whether a probe of h gives q.
func (h *House) gives(id ProbeID, q Quantity) bool {
	for i := range h.Places {
		for j := range h.Places[i].Probes {
			if p := &h.Places[i].Probes[j]; p.ID == id && p.gives(q) {
				return true
			}
		}
	}
	return false
}

func (p *Probe) gives(q Quantity) bool {
	for _, st := range p.Streams {
		if st.Quantity == q {
			return true
		}
	}
	return false
}

// loopByHand checks what a selector says of the ground loop.
func (f *fitting) loopByHand(who string, s *Selector) {
	for i := range s.Positions {
		p := &s.Positions[i]
		where := who + ", position " + p.Name
		if f.house.Loop == nil && p.setsLoop() {
			f.fail("%s: %s says something of a ground loop, and the house has none", f.where, where)
			return
		}
		for k, outlet := range p.Shut {
			if slices.Contains(p.Shut[:k], outlet) || !slices.ContainsFunc(f.house.Loop.Pipes, func(one Pipe) bool { return one.Outlet == outlet }) {
				f.fail("%s: %s shuts pipe %q, which the loop does not have, or twice", f.where, where, outlet)
			}
		}
		if !(p.Flow >= 0 && p.Flow <= 20) {
			f.fail("%s: %s: the flow must be from 0 to 20 m³/s (got %g)", f.where, where, p.Flow)
		}
		if p.Direction != "" && p.Direction != Down && p.Direction != Up {
			f.fail("%s: %s: air passes %q or %q (got %q)", f.where, where, Down, Up, p.Direction)
		}
	}
	for i := range f.house.Selectors {
		if other := &f.house.Selectors[i]; other.ID < s.ID {
			f.loopOnce(other, s)
		}
	}
}

// loopOnce demands that no two selectors set the same of the loop.
func (f *fitting) loopOnce(a, b *Selector) {
	for _, one := range a.Positions {
		for _, two := range b.Positions {
			twice := one.Flow != 0 && two.Flow != 0 || one.Direction != "" && two.Direction != "" ||
				slices.ContainsFunc(one.Shut, func(id PlaceID) bool { return slices.Contains(two.Shut, id) })
			if twice {
				f.fail("%s: selector %s and selector %s set the same of the ground loop", f.where, a.ID, b.ID)
				return
			}
		}
	}
}

// setsLoop reports whether a selector of h says something of its ground loop.
func (h *House) setsLoop() bool {
	return slices.ContainsFunc(h.Selectors, func(s Selector) bool {
		return slices.ContainsFunc(s.Positions, func(p Position) bool { return p.setsLoop() })
	})
}

// setsLoop reports whether p says something of the ground loop.
func (p *Position) setsLoop() bool { return p.Flow != 0 || p.Direction != "" || len(p.Shut) > 0 }
