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
	r.checkApart(h)
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
		for _, before := range c.stages[:i] {
			r.checkCrossed(before, s)
		}
	}
}

// checkApart tells drives that hang on two thermostats, themselves or by what
// they run with: it could not be told which of them called.
func (r *reader) checkApart(h *houseSite) {
	on := map[alarms.DriveID]*controlSite{}
	for _, c := range h.controls {
		for _, s := range c.stages {
			for i, id := range s.stage.Drives {
				ids := []alarms.DriveID{id}
				if d := h.drive(id); d != nil {
					ids = append(ids, d.drive.With...)
				}
				for _, one := range ids {
					if other := on[one]; other != nil && other != c {
						r.problem(s.t.item("drives", i), "%s hangs on control %s already (line %d): a drive follows one thermostat, which may have more stages",
							one, other.t.name, other.t.at.line)
						continue
					}
					on[one] = c
				}
			}
		}
	}
}

// checkBulb tells a place of a thermostat that is not there or not measured.
func (r *reader) checkBulb(h *houseSite, c *controlSite) {
	if !c.place.Set {
		return
	}
	var known []string
	for _, p := range h.places {
		if p.place.ID == c.control.Place {
			if !p.measures(alarms.Temperature) {
				r.problem(c.place.at, "must have a temperature probe, or the thermostat cannot be judged (got %q)", c.place.V)
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

// checkMode tells a heater that cools, and a fan in the wall that heats.
func (r *reader) checkMode(h *houseSite, s *stageSite) {
	for i, name := range s.drives.V {
		d := h.drive(alarms.DriveID(name))
		if d == nil || !s.mode.Set {
			continue
		}
		heats := d.drive.Kind == alarms.Heater
		cools := d.drive.Kind == alarms.ExhaustFan || d.drive.Kind == alarms.IntakeShutter
		if heats && s.stage.Mode == alarms.Cooling || cools && s.stage.Mode == alarms.Heating {
			r.problem(s.t.item("drives", i), "is of kind %s, which a %s stage does not drive (got %q)", d.drive.Kind, s.stage.Mode, name)
		}
	}
}

// differentialOf is the differential in force, K.
func (s *stageSite) differentialOf() float64 {
	return cmp.Or(s.stage.Differential, defaultDifferential)
}

const defaultDifferential = 2.8 // K, of the core

// checkCrossed tells two stages that would work against each other.
func (r *reader) checkCrossed(a, b *stageSite) {
	if a.stage.Mode == b.stage.Mode || !a.setPoint.Set || !b.setPoint.Set || !a.mode.Set || !b.mode.Set ||
		!meet(a.stage.Seasons, b.stage.Seasons) {
		return
	}
	q := alarms.Temperature
	cold, hot := a, b
	if cold.stage.Mode == alarms.Cooling {
		cold, hot = b, a
	}
	if off := cold.setPoint.V + cold.differentialOf(); off >= hot.setPoint.V {
		r.problem(b.setPoint.at, "crosses: stage %s heats from %s up to %s, yet stage %s cools from %s", cold.t.name,
			r.say(q, cold.setPoint.V), r.sayUnit(q, off), hot.t.name, r.sayUnit(q, hot.setPoint.V))
	}
}

// meet reports whether two lists of seasons, where empty means all, share one.
func meet(a, b []alarms.Season) bool {
	return len(a) == 0 || len(b) == 0 || slices.ContainsFunc(a, func(s alarms.Season) bool { return slices.Contains(b, s) })
}
