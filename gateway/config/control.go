package config

import (
	"fmt"
	"slices"

	"telltale/alarms"
)

// controlSite is a thermostat with its tables.
type controlSite struct {
	t       *table
	control alarms.Control
	place   value[string]
	stages  []*stageSite
}

// stageSite is one stage of a thermostat.
type stageSite struct {
	t            *table
	stage        alarms.Stage
	mode         value[string]
	setPoint     value[float64] // °C
	night        value[float64] // °C, set point by night
	differential value[float64] // K
	drives       value[[]string]
	seasons      value[[]string]
}

// mechanics reads controls, drives and selectors of a house. How they fit
// together and to the probes is for checkMechanics.
func (r *reader) mechanics(t *table, h *houseSite) {
	for _, c := range t.children("control") {
		h.controls = append(h.controls, r.control(c))
	}
	for _, d := range t.children("drive") {
		h.drives = append(h.drives, r.drive(d))
	}
	for _, s := range t.children("selector") {
		h.selectors = append(h.selectors, r.selector(s))
	}
	for _, o := range t.children("opening") {
		h.openings = append(h.openings, r.opening(o))
	}
}

// finishMechanics hands over what was read.
func (h *houseSite) finishMechanics() {
	for _, c := range h.controls {
		for _, s := range c.stages {
			c.control.Stages = append(c.control.Stages, s.stage)
		}
		h.house.Controls = append(h.house.Controls, c.control)
	}
	for _, d := range h.drives {
		for _, e := range d.evidence {
			d.drive.Evidence = append(d.drive.Evidence, e.evidence)
		}
		h.house.Drives = append(h.house.Drives, d.drive)
	}
	for _, s := range h.selectors {
		for _, p := range s.positions {
			s.selector.Positions = append(s.selector.Positions, p.position)
		}
		h.house.Selectors = append(h.house.Selectors, s.selector)
	}
	for _, o := range h.openings {
		h.house.Openings = append(h.house.Openings, o.opening)
	}
}

func (r *reader) control(t *table) *controlSite {
	defer t.done()
	r.checkID(t, "control", "season")
	site := &controlSite{t: t, place: need(t, t.text("place"), "say where its bulb hangs, as a place of this house")}
	site.control = alarms.Control{ID: alarms.ControlID(t.name), Name: t.text("name").or(t.name), Place: alarms.PlaceID(site.place.V)}
	for _, s := range t.children("stage") {
		site.stages = append(site.stages, r.stage(s))
	}
	if len(site.stages) == 0 {
		r.problem(t.at, "has no stage: add one, for example [%s.stage.hot]", t.at.path)
	}
	return site
}

// Figures of a thermostat's dial, °C and K.
const (
	coldestSetPoint, hottestSetPoint = -30, 70
	driestSetPoint, dampestSetPoint  = 5, 100 // %, of a humidistat
	leastStep, mostStep              = 0.05, 30
	finestUsual, coarsestUsual       = 0.2, 10 // differentials outside are hardly meant
)

func (r *reader) stage(t *table) *stageSite {
	defer t.done()
	r.checkID(t, "stage")
	site := &stageSite{t: t, mode: need(t, t.oneOf("mode", modeNames()...), "say \"cooling\" or \"heating\", or of a humidistat \"drying\" or \"moistening\"")}
	mode := alarms.Modes[max(0, slices.Index(modeNames(), site.mode.V))]
	q, lo, hi := mode.Quantity(), float64(coldestSetPoint), float64(hottestSetPoint)
	if q == alarms.Humidity {
		lo, hi = driestSetPoint, dampestSetPoint
	}
	site.setPoint = need(t, t.number("set-point", r.scale.from(q, lo), r.scale.from(q, hi), r.scale.unit(q)),
		"write the figure on the dial at which it switches on")
	site.setPoint.V = r.scale.into(q, site.setPoint.V)
	site.night = t.number("set-point-night", r.scale.from(q, lo), r.scale.from(q, hi), r.scale.unit(q))
	if site.night.Set {
		site.night.V = r.scale.into(q, site.night.V)
	}
	site.differential = r.step(t, "differential", q, leastStep, mostStep, "")
	tolerance := r.step(t, "tolerance", q, leastStep, mostStep, "")
	site.drives = need(t, t.texts("drives"), "name what it switches, for example drives = [\"exhaust\"]")
	site.seasons = t.seasons("seasons", t.texts("seasons"))
	if d := site.differential; q == alarms.Temperature && d.Set && (d.V < finestUsual || d.V > coarsestUsual) {
		r.warn(d.at, "is hardly the differential of a mechanical thermostat; usual is %s to %s (got %s)",
			figure(r.scale.stepFrom(q, finestUsual)), figure(r.scale.stepFrom(q, coarsestUsual))+spaced(r.scale.stepUnit(q)),
			figure(r.scale.stepFrom(q, d.V)))
	}
	site.stage = alarms.Stage{Name: t.name, Mode: mode, SetPoint: site.setPoint.V, SetPointNight: limit(site.night), Differential: site.differential.V, Tolerance: tolerance.V,
		Drives: driveIDs(site.drives), Seasons: seasonsOf(site.seasons)}
	return site
}

func modeNames() []string {
	var names []string
	for _, m := range alarms.Modes {
		names = append(names, m.String())
	}
	return names
}

// seasons checks a list of seasons.
func (t *table) seasons(key string, v value[[]string]) value[[]string] {
	for i, s := range v.V {
		switch at := t.item(key, i); {
		case !slices.Contains(seasonNames(), s):
			t.r.problem(at, "must be %s (got %q)%s", either(seasonNames()), s, meant(s, seasonNames()))
		case slices.Contains(v.V[:i], s):
			t.r.problem(at, "is named twice (got %q)", s)
		}
	}
	return v
}

// item is the place of the i-th element of a list.
func (t *table) item(key string, i int) place {
	inner := join(join(t.inner, key), fmt.Sprintf("#%d", i))
	return place{t.r.lines.spots[inner].line, shown(inner)}
}

func seasonsOf(v value[[]string]) []alarms.Season {
	var out []alarms.Season
	for _, s := range v.V {
		out = append(out, alarms.Season(s))
	}
	return out
}

func driveIDs(v value[[]string]) []alarms.DriveID {
	var out []alarms.DriveID
	for _, d := range v.V {
		out = append(out, alarms.DriveID(d))
	}
	return out
}
