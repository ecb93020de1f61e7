package config

import (
	"cmp"
	"slices"
	"strings"

	"telltale/alarms"
)

// checkMechanics checks how the controls, drives and selectors of a house fit
// together, and to its places and probes.
func (r *reader) checkMechanics(h *houseSite) {
	for _, c := range h.controls {
		r.checkControl(h, c)
	}
	for _, d := range h.drives {
		r.checkDrive(h, d)
		for i, e := range d.evidence {
			r.checkEvidence(h, d, i, e)
		}
	}
	hangs := map[alarms.DriveID]*selectorSite{}
	for _, s := range h.selectors {
		r.checkSelector(h, s, hangs)
	}
	for _, o := range h.openings {
		r.checkOpening(h, o)
	}
}

func (h *houseSite) drive(id alarms.DriveID) *driveSite {
	for _, d := range h.drives {
		if d.drive.ID == id {
			return d
		}
	}
	return nil
}

// checkDriveNames tells names in a list that are no drive of the house.
func (r *reader) checkDriveNames(h *houseSite, t *table, key string, list value[[]string]) {
	var known []string
	for _, d := range h.drives {
		known = append(known, d.t.name)
	}
	for i, name := range list.V {
		switch at := t.item(key, i); {
		case !slices.Contains(known, name):
			hint := meant(name, known)
			if hint == "" {
				hint = "; it has " + listed(known)
			}
			r.problem(at, "is no drive of house %s (got %q)%s", h.house.ID, name, hint)
		case slices.Contains(list.V[:i], name):
			r.problem(at, "is named twice (got %q)", name)
		}
	}
}

func (r *reader) checkControl(h *houseSite, c *controlSite) {
	r.checkBulb(h, c)
	for i, s := range c.stages {
		r.checkDriveNames(h, s.t, "drives", s.drives)
		r.checkMode(h, s)
		if s.night.Set && !h.knowsDay() {
			r.problem(s.night.at, "needs to know when it is night: give the house latitude and longitude, or day-from and day-to")
		}
		for _, before := range c.stages[:i] {
			r.checkCrossed(before, s)
		}
	}
}

// checkBulb tells a place of a thermostat or humidistat that is not there or where
// what it feels is not measured.
func (r *reader) checkBulb(h *houseSite, c *controlSite) {
	if !c.place.Set {
		return
	}
	var known []string
	for _, p := range h.places {
		if p.place.ID == c.control.Place {
			for _, q := range []alarms.Quantity{alarms.Temperature, alarms.Humidity} {
				feels := slices.ContainsFunc(c.stages, func(s *stageSite) bool { return s.mode.Set && s.stage.Mode.Quantity() == q })
				if feels && !p.measures(q) {
					r.problem(c.place.at, "must have a %s probe, or the %s cannot be judged (got %q)", q, dialWord(q), c.place.V)
				}
			}
			return
		}
		known = append(known, p.t.name)
	}
	hint := meant(strings.TrimPrefix(c.place.V, string(h.house.ID)+"/"), known)
	if hint == "" {
		hint = "; the places are " + listed(known)
	}
	r.problem(c.place.at, "must be a place of house %s (got %q)%s", h.house.ID, c.place.V, hint)
}

func dialWord(q alarms.Quantity) string {
	if q == alarms.Humidity {
		return "humidistat"
	}
	return "thermostat"
}

// checkMode tells a heater that cools, and a fan in the wall that heats.
func (r *reader) checkMode(h *houseSite, s *stageSite) {
	for i, name := range s.drives.V {
		d := h.drive(alarms.DriveID(name))
		if d == nil || !s.mode.Set {
			continue
		}
		if slices.Contains(unfit[d.drive.Kind], s.stage.Mode) {
			r.problem(s.t.item("drives", i), "is of kind %s, which a %s stage does not drive (got %q)", d.drive.Kind, s.stage.Mode, name)
		}
	}
}

// unfit are the modes that no stage which drives such a drive is of. Heat dries, and
// mist cools.
var unfit = map[alarms.DriveKind][]alarms.Mode{
	alarms.Heater:        {alarms.Cooling, alarms.Moistening},
	alarms.ExhaustFan:    {alarms.Heating, alarms.Moistening},
	alarms.IntakeShutter: {alarms.Heating, alarms.Moistening},
	alarms.Misting:       {alarms.Heating, alarms.Drying},
}

// differentialOf is the differential in force, K.
func (s *stageSite) differentialOf() float64 {
	if s.stage.Mode.Quantity() == alarms.Humidity {
		return cmp.Or(s.stage.Differential, defaultHumid)
	}
	return cmp.Or(s.stage.Differential, defaultDifferential)
}

const defaultDifferential, defaultHumid = 2.8, 5.0 // K and %, of the core

// checkCrossed tells two stages that would work against each other.
func (r *reader) checkCrossed(a, b *stageSite) {
	q := a.stage.Mode.Quantity()
	if a.stage.Mode == b.stage.Mode || q != b.stage.Mode.Quantity() || !a.setPoint.Set || !b.setPoint.Set || !a.mode.Set || !b.mode.Set ||
		!meet(a.stage.Seasons, b.stage.Seasons) {
		return
	}
	cold, hot := a, b
	if cold.stage.Mode.Above() {
		cold, hot = b, a
	}
	for _, night := range []bool{false, true} {
		from, on, at := cold.stage.At(night), hot.stage.At(night), b.setPoint.at
		if night && b.night.Set {
			at = b.night.at
		}
		if off := from + cold.differentialOf(); off >= on {
			r.problem(at, "crosses: stage %s %s from %s up to %s, yet stage %s %s from %s", cold.t.name,
				cold.stage.Mode.Does(), r.say(q, from), r.sayUnit(q, off), hot.t.name, hot.stage.Mode.Does(), r.sayUnit(q, on))
			return
		}
	}
}

// meet reports whether two lists of seasons, where empty means all, share one.
func meet(a, b []alarms.Season) bool {
	return len(a) == 0 || len(b) == 0 || slices.ContainsFunc(a, func(s alarms.Season) bool { return slices.Contains(b, s) })
}
