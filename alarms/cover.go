package alarms

import (
	"slices"

	"telltale/alarms/control"
)

// A cover on a vent is known where a position of a selector names it: then that is
// the fact, and the season, which only says what is usual, says nothing of it.

// coverOf is what is known of the cover on the vent of a drive.
func (h *house) coverOf(id DriveID) (known, on bool) {
	for i := range h.plan.Selectors {
		if !h.plan.Selectors[i].covers(id) {
			continue
		}
		if pos := h.position(i); pos != nil {
			return true, slices.Contains(pos.Covered, id)
		}
	}
	return false, false
}

// covers reports whether some position of s says that the vent of a drive is covered.
func (s *Selector) covers(id DriveID) bool {
	return slices.ContainsFunc(s.Positions, func(p Position) bool { return slices.Contains(p.Covered, id) })
}

// covers is what is known of all covers of h together: known where they are all on
// or all off.
func (h *house) covers() (known, on bool) {
	n, covered := 0, 0
	for i := range h.plan.Drives {
		if k, on := h.coverOf(h.plan.Drives[i].ID); k {
			n++
			if on {
				covered++
			}
		}
	}
	return n > 0 && (covered == 0 || covered == n), covered > 0
}

// covered reports whether the vents of h are covered: as is known, else as is usual
// in its season.
func (h *house) covered(s Season) bool {
	if known, on := h.covers(); known {
		return on
	}
	return s == SeasonWinter
}

// coverSign is what is known of the cover of d, as a sign of a verdict.
func (h *house) coverSign(d *Drive) control.Sign {
	if known, on := h.coverOf(d.ID); known && on {
		return control.Covered
	}
	return 0
}

// opened reports whether st cools or dries by a vent whose cover is known to be off: then it
// acts in whatever season somebody set.
func (h *house) opened(st *Stage) bool {
	return st.Mode.Above() && slices.ContainsFunc(st.Drives, func(id DriveID) bool {
		known, on := h.coverOf(id)
		return known && !on
	})
}

// coverable are the kinds of drive that stand in a vent.
var coverable = []DriveKind{ExhaustFan, IntakeShutter}

// covered checks what a selector says of covers on vents.
func (f *fitting) covered(who string, s *Selector) {
	for i := range s.Positions {
		p := &s.Positions[i]
		f.known(who+", position "+p.Name, p.Covered...)
		for _, id := range p.Covered {
			d := f.drives[id]
			if d == nil {
				continue
			}
			if !slices.Contains(coverable, d.Kind) {
				f.fail("%s: %s, position %s: drive %s stands in no vent that could be covered: it is of kind %q, want one of %q", f.where, who, p.Name,
					id, d.Kind, coverable)
			}
			f.coveredOnce(who, s, id)
		}
	}
}

// coveredOnce demands that one selector tells the cover of a drive, and not always
// the same; and that the covers of what must run with it are told too.
func (f *fitting) coveredOnce(who string, s *Selector, id DriveID) {
	if !slices.ContainsFunc(s.Positions, func(p Position) bool { return !slices.Contains(p.Covered, id) }) {
		f.fail("%s: %s: the vent of drive %s is covered in every position", f.where, who, id)
	}
	for i := range f.house.Selectors {
		if other := &f.house.Selectors[i]; other.ID < s.ID && other.covers(id) {
			f.fail("%s: the cover of drive %s is told by selector %s and by selector %s", f.where, id, other.ID, s.ID)
		}
	}
	for _, with := range f.drives[id].With {
		told := slices.ContainsFunc(f.house.Selectors, func(o Selector) bool { return o.covers(with) })
		if d := f.drives[with]; d != nil && len(d.Barred) > 0 && !told {
			f.fail("%s: %s tells of the cover of drive %s, and none of that of drive %s, which must run with it and is barred by the season: name both",
				f.where, who, id, with)
		}
	}
}
