package config

import (
	"slices"
	"time"

	"telltale/alarms"
)

// powerHolds is how long a reading stands for what a loop brings.
const powerHolds = 15 * time.Minute

// checkLoop holds a ground loop against the places, probes and drives of its
// house.
func (r *reader) checkLoop(h *houseSite) {
	s := h.loop
	if s == nil {
		return
	}
	r.loopPlace(h, s.from.at, s.from.V)
	r.checkLoopFan(h, s)
	if s.soil == nil {
		r.warn(s.t.at, "has no soil, so its heat can be counted but nothing be held against the ground: add [%s.soil]", s.t.at.path)
	}
	for _, p := range s.pipes {
		if s.from.Set && p.t.name == s.from.V {
			r.problem(p.t.at, "is the place whose air enters the pipes, so it cannot be an outlet too (got %q)", p.t.name)
			continue
		}
		r.loopPlace(h, p.t.at, p.t.name)
		if p.damper != nil {
			r.measured(h, p.damper)
		}
	}
}

// checkByHand checks what a selector says of the ground loop.
func (r *reader) checkByHand(h *houseSite, s *selectorSite) {
	for _, p := range s.positions {
		at, ok := p.setsLoop()
		switch {
		case !ok:
			continue
		case h.loop == nil:
			r.problem(at, "is for a house with a ground loop: add [%s.loop], or leave it out", h.t.at.path)
			continue
		}
		var pipes []string
		for _, one := range h.loop.pipes {
			pipes = append(pipes, one.t.name)
		}
		for i, name := range p.shut.V {
			switch at := p.t.item("shut", i); {
			case !slices.Contains(pipes, name):
				r.problem(at, "is no pipe of the ground loop (got %q); it has %s", name, listed(pipes))
			case slices.Contains(p.shut.V[:i], name):
				r.problem(at, "is named twice (got %q)", name)
			}
		}
		for _, other := range h.selectors[:slices.Index(h.selectors, s)] {
			r.checkSetOnce(other, p)
		}
	}
}

// checkSetOnce tells what two selectors set of the ground loop.
func (r *reader) checkSetOnce(other *selectorSite, p *positionSite) {
	for _, o := range other.positions {
		line := other.t.at.line
		if p.flow.Seen && o.flow.Seen {
			r.problem(p.flow.at, "is set by selector %s already (line %d): let one of them set it", other.t.name, line)
			return
		}
		if p.direction.Seen && o.direction.Seen {
			r.problem(p.direction.at, "is set by selector %s already (line %d): let one of them set it", other.t.name, line)
			return
		}
		for i, name := range p.shut.V {
			if slices.Contains(o.shut.V, name) {
				r.problem(p.t.item("shut", i), "is shut by selector %s already (line %d): let one of them do it (got %q)", other.t.name, line, name)
				return
			}
		}
	}
}

// loopPlace tells a place that is not there, or has no temperature.
func (r *reader) loopPlace(h *houseSite, at place, name string) {
	if name == "" {
		return
	}
	switch p := r.placeOf(h, at, name); {
	case p == nil:
	case !p.measures(alarms.Temperature):
		r.problem(at, "needs a probe that measures temperature at %q", name)
	default:
		for _, one := range p.probes {
			r.checkLoopPace(at, one)
		}
	}
}

// placeOf finds a place of a house by its name; nil for one that is not there,
// which is told.
func (r *reader) placeOf(h *houseSite, at place, name string) *placeSite {
	var known []string
	for _, p := range h.places {
		if string(p.place.ID) == name {
			return p
		}
		known = append(known, string(p.place.ID))
	}
	hint := meant(name, known)
	if hint == "" {
		hint = "; its places are " + listed(known)
	}
	r.problem(at, "is no place of house %s (got %q)%s", h.house.ID, name, hint)
	return nil
}

func (r *reader) checkLoopPace(at place, p *probeSite) {
	if _, ok := p.stream(alarms.Temperature); ok && p.probe.Every > powerHolds {
		r.warn(at, "probe %s reports every %s, and a value counts for %s: a part of the heat will be missed", p.probe.ID, span(p.probe.Every), span(powerHolds))
	}
}

// checkLoopFan tells what cannot show whether the loop fan runs.
func (r *reader) checkLoopFan(h *houseSite, s *loopSite) {
	if s.runs != nil {
		r.measured(h, s.runs)
	}
	if d := h.drive(alarms.DriveID(s.fan.V)); s.fan.Set && s.runs == nil {
		var known []string
		for _, one := range h.drives {
			known = append(known, one.t.name)
		}
		switch {
		case d == nil:
			r.problem(s.fan.at, "is no drive of house %s (got %q); it has %s", h.house.ID, s.fan.V, listed(known))
		case len(d.evidence) == 0:
			r.problem(s.fan.at, "has no evidence, so nothing shows whether it runs: give that drive a probe, or the loop running = { ... } (got %q)", s.fan.V)
		}
	}
	if s.power.Set {
		if p := r.probeOf(h, s.power); p != nil {
			if _, ok := p.stream(alarms.Power); !ok {
				r.problem(s.power.at, "must be a probe that measures power (got %q)", s.power.V)
			}
		}
	}
	if s.power.Set && s.t.has("fan-watts") {
		r.problem(s.t.spot("fan-watts"), "is measured by probe %s: leave one of them out", s.power.V)
	}
}
