package alarms

import "slices"

// selector checks the i-th selector.
func (f *housed) selector(at Path, i int) {
	s := &f.house.Selectors[i]
	if len(s.Positions) < 2 {
		f.fail(at, "needs two positions or more, for example %s (it has %d)", at.to("position", "summer"), len(s.Positions))
		return
	}
	var names []string
	for j := range s.Positions {
		p := &s.Positions[j]
		at := at.to("position", p.Name)
		if p.Name == "" || slices.Contains(names, p.Name) {
			f.fail(at, "each position of a selector needs a name of its own (got %q)", p.Name)
		}
		names = append(names, p.Name)
		f.position(at, p)
	}
	f.sameDrives(at, s)
	f.covers(at, i)
	f.loopByHand(at, i)
	f.teller(at, s)
	for _, id := range s.Positions[0].drives() {
		if other, taken := f.taken[id]; taken && other != s.ID {
			f.fail(at, "drive %s hangs on selector %s too (%s): let one of them decide", id, other, f.at.to("selector", string(other)))
		}
		f.taken[id] = s.ID
	}
	if s.At != "" && !slices.Contains(names, s.At) {
		f.fail(at.to("starts-at"), "must be a position of this selector: %s (got %q)", Either(names), s.At)
	}
}

// drives are all drives that a position says something of.
func (p *Position) drives() []DriveID { return slices.Concat(p.Follow, p.On, p.Off) }

// says are the lists of drives of p by their names.
func (p *Position) says() []sayings {
	return []sayings{{"follow", p.Follow}, {"on", p.On}, {"off", p.Off}}
}

type sayings struct {
	key string
	ids []DriveID
}

func (f *housed) position(at Path, p *Position) {
	seen := map[DriveID]string{}
	for _, list := range p.says() {
		f.drivesNamed(at, list.key, list.ids)
		for i, id := range list.ids {
			if key := seen[id]; key != "" && key != list.key {
				f.fail(at.nth(list.key, i), "is named under %q too (got %q)", key, id)
			}
			seen[id] = list.key
			if list.key == "follow" && f.house.Drive(id) != nil && !f.follows(id) {
				f.fail(at.nth(list.key, i), "has nothing to follow: no stage, no season and no other drive wants it to run (got %q)", id)
			}
		}
	}
}

// sameDrives demands that the positions of s say of the same drives what becomes of
// them, or something else.
func (f *housed) sameDrives(at Path, s *Selector) {
	var all []DriveID
	var rest []Path
	more := false
	for i := range s.Positions {
		p := &s.Positions[i]
		for _, key := range []string{"follow", "on", "off", "covered", "shut", "flow-per-hour", "direction"} {
			rest = append(rest, at.to("position", p.Name, key))
		}
		more = more || p.setsLoop() || len(p.Covered) > 0
		for _, id := range p.drives() {
			if !slices.Contains(all, id) {
				all = append(all, id)
			}
		}
	}
	if len(all) == 0 && !more {
		f.fail(at, "decides nothing: name drives under follow, on, off or covered of its positions, or say what they set of the ground loop").rests(rest...)
	}
	for i := range s.Positions {
		p := &s.Positions[i]
		at := at.to("position", p.Name)
		for _, id := range all {
			if !slices.Contains(p.drives(), id) {
				f.fail(at, "does not say what becomes of %s, which another position names: put it under follow, on or off", id).
					rests(at.to("follow"), at.to("on"), at.to("off"))
			}
		}
	}
}

// covers checks what the i-th selector says of covers on vents.
func (f *housed) covers(at Path, i int) {
	for _, p := range f.house.Selectors[i].Positions {
		at := at.to("position", p.Name)
		f.drivesNamed(at, "covered", p.Covered)
		for j, id := range p.Covered {
			if d := f.house.Drive(id); d != nil {
				f.cover(at.nth("covered", j), i, d)
			}
		}
	}
}

// cover demands that the vent of d can be covered, that one selector tells its cover,
// and not always the same; and that the covers of what must run with it are told too.
func (f *housed) cover(at Path, i int, d *Drive) {
	s := &f.house.Selectors[i]
	if !slices.Contains(coverable, d.Kind) {
		f.fail(at, "stands in no vent that could be covered: that is for an exhaust-fan or an intake-shutter (got %q, of kind %q)", d.ID, d.Kind).
			rests(f.at.to("drive", string(d.ID), "kind"))
		return
	}
	if !slices.ContainsFunc(s.Positions, func(p Position) bool { return !slices.Contains(p.Covered, d.ID) }) {
		f.fail(at, "is covered in every position: leave it out where the cover is off (got %q)", d.ID)
	}
	for j := range f.house.Selectors[:i] {
		if other := &f.house.Selectors[j]; other.Covers(d.ID) {
			f.fail(at, "selector %s tells of this cover already (%s): let one of them tell it (got %q)", other.ID, f.at.to("selector", string(other.ID)), d.ID)
		}
	}
	for _, with := range d.With {
		told := slices.ContainsFunc(f.house.Selectors, func(o Selector) bool { return o.Covers(with) })
		if o := f.house.Drive(with); o != nil && len(o.Barred) > 0 && !told {
			f.fail(at, "must run with %s, which its season bars (%s) and of whose cover nothing is told: name it too (got %q)", with,
				f.at.to("drive", string(with), "barred"), d.ID)
		}
	}
}

// teller checks what tells the position: a contact, the season or a hand on the page.
func (f *housed) teller(at Path, s *Selector) {
	var closed, bySeason []Path
	for _, p := range s.Positions {
		at := at.to("position", p.Name)
		if p.Closed {
			closed = append(closed, at.to("closed"))
		}
		if len(p.Seasons) > 0 {
			bySeason = append(bySeason, at.to("seasons"))
		}
		f.seasons(at, "seasons", p.Seasons)
	}
	probe := at.to("probe")
	switch {
	case s.Probe != "" && len(bySeason) > 0:
		f.fail(bySeason[0], "is not for a selector with a probe, which tells the position already (%s)", probe)
	case s.Probe != "":
		f.contact(probe, s.Probe, "must measure a contact, which tells the position (got %q)")
		if len(s.Positions) != 2 || len(closed) != 1 {
			f.fail(probe, "a contact tells two positions, one of them with closed = true (this selector has %d, closed = true stands in %d)",
				len(s.Positions), len(closed))
		}
	case len(closed) > 0:
		f.fail(closed[0], "is for a selector with a probe: name the probe whose contact tells the position").rests(probe)
	case len(bySeason) > 0:
		f.bySeason(at, s)
	}
	switch {
	case s.At == "" || s.At == s.Positions[0].Name:
	case s.Probe != "":
		f.fail(at.to("starts-at"), "is for a selector set on the page; this one is told by a probe")
	case len(bySeason) > 0:
		f.fail(at.to("starts-at"), "is for a selector set on the page; this one is told by the season")
	}
}

// bySeason demands that each season has one position.
func (f *housed) bySeason(at Path, s *Selector) {
	for _, season := range Seasons {
		var first *Position
		for i := range s.Positions {
			p := &s.Positions[i]
			switch {
			case !slices.Contains(p.Seasons, season):
			case first == nil:
				first = p
			default:
				f.fail(at.to("position", p.Name, "seasons"), "%s belongs to position %s already (%s)", season, first.Name, at.to("position", first.Name, "seasons"))
			}
		}
		if first == nil {
			f.fail(at, "is told by the season, but has no position for season %q", season)
		}
	}
}
