package config

import (
	"telltale/alarms"
	"telltale/gateway/page/service"
)

// shapeSite is the form of a house with its table.
type shapeSite struct {
	t *table
	service.Form
	pipes []buried
}

// buried is a pipe of the ground loop.
type buried struct {
	outlet alarms.PlaceID
	depth  float64
}

const (
	roofLeanTo = "lean-to"
	roofRidge  = "ridge"
	// Bounds of a spot beyond the house, m.
	besides  = 5.0
	overRoof = 3.0
	deepest  = 30.0
)

// readForm reads the form of a house, nil where the file gives none that is good.
func readForm(t *table) *shapeSite {
	if !t.seen {
		return nil
	}
	defer t.done()
	s := &shapeSite{t: t}
	roof := need(t, t.oneOf("roof", roofLeanTo, roofRidge), "say \"lean-to\" for a high wall at one side, or \"ridge\" for a roof that falls to both")
	wide := need(t, t.length("width", 0.3, 60, wideHouse), "give how wide the house is in section, from wall to wall, m")
	eaves := need(t, t.length("eaves", 0.1, 15, tallHouse), "give the height of the low wall, m")
	ridge := need(t, t.length("ridge", 0.2, 20, tallHouse), "give the height of the top of the roof, m")
	wall := t.oneOf("high-wall", "left", "right")
	s.Form = service.Form{LeanTo: roof.V == roofLeanTo, Right: wall.V == "right", Width: wide.V, Eaves: eaves.V, Ridge: ridge.V,
		Length: t.length("length", 0.3, 500, longHouse).V}
	if wall.Seen && roof.Set && !s.LeanTo {
		t.problem(wall.at, "is for a lean-to alone: leave it out, or say roof = %q", roofLeanTo)
	}
	if eaves.Set && ridge.Set && ridge.V < eaves.V {
		t.problem(ridge.at, "must not be below eaves (got %s, eaves is %s)", figure(ridge.V), figure(eaves.V))
	}
	for _, b := range t.elements("bench") {
		readBench(b, s, wide, ridge)
	}
	if !roof.Set || !wide.Set || !eaves.Set || !ridge.Set {
		return nil
	}
	return s
}

func readBench(t *table, s *shapeSite, wide, ridge value[float64]) {
	defer t.done()
	from := need(t, t.length("from", 0, 60, wideHouse), "give where it begins, m from the left wall")
	to := need(t, t.length("to", 0, 60, wideHouse), "give where it ends, m from the left wall")
	tall := need(t, t.length("height", 0.05, 15, tallHouse), "give how high its top is, m")
	if !from.Set || !to.Set || !tall.Set {
		return
	}
	switch {
	case to.V <= from.V:
		t.problem(to.at, "must be above from (got %s, from is %s)", figure(to.V), figure(from.V))
	case wide.Set && to.V > wide.V:
		t.problem(to.at, "must be within the house (got %s, its width is %s)", figure(to.V), figure(wide.V))
	case ridge.Set && tall.V >= ridge.V:
		t.problem(tall.at, "must be below the top of the roof (got %s, ridge is %s)", figure(tall.V), figure(ridge.V))
	}
	s.Bench = append(s.Bench, service.Bench{From: from.V, To: to.V, Height: tall.V})
}

// spotSite is where something hangs or sits.
type spotSite struct {
	t    *table
	spot service.Position
	set  bool
	wide value[float64]
	tall value[float64]
}

// readSpot reads where a place or a drive is in the section.
func readSpot(t *table) spotSite {
	s := spotSite{t: t}
	if !t.seen {
		return s
	}
	defer t.done()
	s.wide = need(t, t.length("across", -besides, 60+besides, wideHouse), "give how far from the left wall it is, m; below 0 is outside")
	s.tall = need(t, t.length("height", -deepest, 20+overRoof, tallHouse), "give how high above the ground it is, m; below 0 is in the ground")
	s.spot, s.set = service.Position{Across: s.wide.V, Height: s.tall.V}, s.wide.Set && s.tall.Set
	return s
}

// placed checks a spot against the form of its house.
func (h *houseSite) placed(s spotSite) bool {
	if !s.t.seen || !s.set {
		return false
	}
	if h.form == nil {
		if !h.t.has("form") {
			h.t.problem(s.t.at, "says where it is, but the house has no form to draw it in: add [%s.form], or leave it out", h.t.at.path)
		}
		return false
	}
	f := h.form.Form
	if most := f.Width + besides; s.spot.Across > most {
		h.t.problem(s.wide.at, "must be at most %s m, which is %s m beyond the right wall (got %s)", figure(rounded(most)), figure(besides), figure(s.spot.Across))
		return false
	}
	if most := f.Ridge + overRoof; s.spot.Height > most {
		h.t.problem(s.tall.at, "must be at most %s m, which is %s m above the roof (got %s)", figure(rounded(most)), figure(overRoof), figure(s.spot.Height))
		return false
	}
	return true
}

// forms returns the form of each house, a plain one where the file gives none, with
// everything at its place that has one or can be given one.
func forms(houses []*houseSite) []service.Form {
	var out []service.Form
	for _, h := range houses {
		given := map[*table]bool{}
		for _, p := range h.places {
			given[p.at.t] = h.placed(p.at)
		}
		for _, d := range h.drives {
			given[d.at.t] = h.placed(d.at)
		}
		if h.form != nil {
			out = append(out, h.form.settle(h, given))
		} else {
			out = append(out, plain().settle(h, given))
		}
	}
	return out
}
