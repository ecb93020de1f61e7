package config

import (
	"slices"

	"telltale/alarms"
)

// checkSelector checks a selector; hangs gathers what hangs on which.
func (r *reader) checkSelector(h *houseSite, s *selectorSite, hangs map[alarms.DriveID]*selectorSite) {
	for _, p := range s.positions {
		r.checkPosition(h, p)
	}
	if len(s.positions) < 2 {
		return
	}
	r.checkSameDrives(s)
	r.checkCovers(h, s)
	r.checkByHand(h, s)
	r.checkTeller(h, s)
	for _, id := range s.positions[0].drives() {
		if other := hangs[id]; other != nil && other != s {
			r.problem(s.t.at, "drive %s hangs on selector %s too (line %d): let one of them decide", id, other.t.name, other.t.at.line)
		}
		hangs[id] = s
	}
	if s.starts.Set && !slices.ContainsFunc(s.positions, func(p *positionSite) bool { return p.t.name == s.starts.V }) {
		var known []string
		for _, p := range s.positions {
			known = append(known, p.t.name)
		}
		r.problem(s.starts.at, "must be a position of this selector: %s (got %q)", either(known), s.starts.V)
	}
}

func (r *reader) checkPosition(h *houseSite, p *positionSite) {
	seen := map[string]string{}
	for _, list := range []struct {
		key   string
		names value[[]string]
	}{{"follow", p.follow}, {"on", p.on}, {"off", p.off}} {
		r.checkDriveNames(h, p.t, list.key, list.names)
		for i, name := range list.names.V {
			if key := seen[name]; key != "" && key != list.key {
				r.problem(p.t.item(list.key, i), "is named under %q too (got %q)", key, name)
			}
			seen[name] = list.key
			if id := alarms.DriveID(name); list.key == "follow" && h.drive(id) != nil && !h.follows(id) {
				r.problem(p.t.item(list.key, i), "has nothing to follow: no stage, no season and no other drive wants it to run (got %q)", name)
			}
		}
	}
}

// checkSameDrives tells positions that do not say the same drives' fate.
func (r *reader) checkSameDrives(s *selectorSite) {
	var all []alarms.DriveID
	for _, p := range s.positions {
		for _, id := range p.drives() {
			if !slices.Contains(all, id) {
				all = append(all, id)
			}
		}
	}
	if len(all) == 0 && !s.tellsMore() {
		r.problem(s.t.at, "decides nothing: name drives under follow, on, off or covered of its positions, or say what they set of the ground loop")
	}
	for _, p := range s.positions {
		for _, id := range all {
			if !slices.Contains(p.drives(), id) {
				r.problem(p.t.at, "does not say what becomes of %s, which another position names: put it under follow, on or off", id)
			}
		}
	}
}

// tellsMore reports whether a position of s tells something else than which drives run.
func (s *selectorSite) tellsMore() bool {
	return slices.ContainsFunc(s.positions, func(p *positionSite) bool {
		_, loop := p.setsLoop()
		return loop || p.covered.Seen
	})
}

// covers reports whether some position of s names the vent of a drive as covered.
func (s *selectorSite) covers(name string) bool {
	return slices.ContainsFunc(s.positions, func(p *positionSite) bool { return slices.Contains(p.covered.V, name) })
}

// checkCovers checks what s says of covers on vents.
func (r *reader) checkCovers(h *houseSite, s *selectorSite) {
	for _, p := range s.positions {
		r.checkDriveNames(h, p.t, "covered", p.covered)
		for i, name := range p.covered.V {
			if d := h.drive(alarms.DriveID(name)); d != nil {
				r.checkCover(h, s, d, p.t.item("covered", i))
			}
		}
	}
}

func (r *reader) checkCover(h *houseSite, s *selectorSite, d *driveSite, at place) {
	name := d.t.name
	if k := d.drive.Kind; d.kind.Set && k != alarms.ExhaustFan && k != alarms.IntakeShutter {
		r.problem(at, "stands in no vent that could be covered: that is for an exhaust-fan or an intake-shutter (got %q, of kind %q)", name, k)
		return
	}
	if !slices.ContainsFunc(s.positions, func(p *positionSite) bool { return !slices.Contains(p.covered.V, name) }) {
		r.problem(at, "is covered in every position: leave it out where the cover is off (got %q)", name)
	}
	for _, other := range h.selectors {
		if other.t.at.line < s.t.at.line && other.covers(name) {
			r.problem(at, "selector %s tells of this cover already (line %d): let one of them tell it (got %q)", other.t.name, other.t.at.line, name)
		}
	}
	for _, with := range d.with.V {
		told := slices.ContainsFunc(h.selectors, func(o *selectorSite) bool { return o.covers(with) })
		if o := h.drive(alarms.DriveID(with)); o != nil && len(o.drive.Barred) > 0 && !told {
			r.problem(at, "must run with %s, which its season bars (line %d) and of whose cover nothing is told: name it too (got %q)", with, o.barred.at.line, name)
		}
	}
}

// checkTeller checks what tells the position: a contact, the season or a hand
// on the page.
func (r *reader) checkTeller(h *houseSite, s *selectorSite) {
	var closed, bySeason []*positionSite
	for _, p := range s.positions {
		if p.closed.V {
			closed = append(closed, p)
		}
		if p.seasons.Seen {
			bySeason = append(bySeason, p)
		}
	}
	if s.starts.Seen && (s.probe.Seen || len(bySeason) > 0) {
		r.problem(s.starts.at, "is for a selector set on the page; this one is told by %s",
			map[bool]string{true: "a probe", false: "the season"}[s.probe.Seen])
	}
	switch {
	case s.probe.Seen && len(bySeason) > 0:
		r.problem(bySeason[0].seasons.at, "is not for a selector with a probe, which tells the position already (line %d)", s.probe.at.line)
	case s.probe.Set:
		r.checkContact(h, s, closed)
	case len(closed) > 0:
		r.problem(closed[0].closed.at, "is for a selector with a probe: name the probe whose contact tells the position")
	case len(bySeason) > 0:
		r.checkBySeason(s)
	}
}

func (r *reader) checkContact(h *houseSite, s *selectorSite, closed []*positionSite) {
	if probe := r.probeOf(h, s.probe); probe != nil {
		if _, ok := probe.stream(alarms.Contact); !ok {
			r.problem(s.probe.at, "must measure a contact, which tells the position (got %q)", s.probe.V)
		}
	}
	if len(s.positions) != 2 || len(closed) != 1 {
		r.problem(s.probe.at, "a contact tells two positions, one of them with closed = true (this selector has %d, closed = true stands in %d)",
			len(s.positions), len(closed))
	}
}

// checkBySeason tells a season with no position, or with two.
func (r *reader) checkBySeason(s *selectorSite) {
	for _, season := range alarms.Seasons {
		var first *positionSite
		for _, p := range s.positions {
			switch {
			case !slices.Contains(p.position.Seasons, season):
			case first == nil:
				first = p
			default:
				r.problem(p.seasons.at, "%s belongs to position %s already (line %d)", season, first.t.name, first.seasons.at.line)
			}
		}
		if first == nil {
			r.problem(s.t.at, "is told by the season, but has no position for season %q", season)
		}
	}
}
