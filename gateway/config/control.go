package config

import (
	"fmt"
	"slices"

	"telltale/alarms"
	"telltale/alarms/walk"
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
	stage alarms.Stage
	night value[float64] // °C, set point by night
}

// checkMechanics looks at what of the controls, drives and openings of a house is about
// the file alone.
func (h *houseSite) checkMechanics() {
	for _, c := range h.controls {
		for _, s := range c.stages {
			if s.night.Set && !h.knowsDay() {
				h.t.problem(s.night.at, "needs to know when it is night: give the house latitude and longitude, or day-from and day-to")
			}
		}
	}
	for _, d := range h.drives {
		h.checkDrive(d)
	}
	for _, o := range h.openings {
		h.checkOpening(o)
	}
	for _, p := range h.places {
		for _, one := range p.probes {
			h.checkMissed(one)
		}
	}
}

// readMechanics reads controls, drives, selectors and openings of a house.
func (h *houseSite) readMechanics() {
	h.controls = walk.Each(h.t.children("control"), readControl)
	h.drives = walk.Each(h.t.children("drive"), readDrive)
	h.selectors = walk.Each(h.t.children("selector"), readSelector)
	h.openings = walk.Each(h.t.children("opening"), readOpening)
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
		h.house.Selectors = append(h.house.Selectors, s.selector)
	}
	for _, o := range h.openings {
		h.house.Openings = append(h.house.Openings, o.opening)
	}
}

func readControl(t *table) *controlSite {
	defer t.done()
	site := &controlSite{t: t, place: need(t, t.text("place"), "say where its bulb hangs, as a place of this house")}
	site.control = alarms.Control{ID: alarms.ControlID(t.name), Name: t.text("name").or(t.name), Place: alarms.PlaceID(site.place.V)}
	site.stages = walk.Each(t.children("stage"), readStage)
	return site
}

// Differentials outside are hardly meant, K.
const finestUsual, coarsestUsual = 0.2, 10

func readStage(t *table) *stageSite {
	defer t.done()
	t.checkID("a stage")
	modes := walk.Each(alarms.Modes, alarms.Mode.String)
	word := need(t, t.oneOf("mode", modes...), "say \"cooling\" or \"heating\", or of a humidistat \"drying\" or \"moistening\"")
	mode := alarms.Modes[max(0, slices.Index(modes, word.V))]
	q := mode.Quantity()
	lo, hi := alarms.SetPoints(q)
	setPoint := need(t, t.amount("set-point", q, lo, hi), "write the figure on the dial at which it switches on")
	night := t.amount("set-point-night", q, lo, hi)
	d := t.step("differential", q, alarms.LeastStep, alarms.MostStep, "")
	tolerance := t.step("tolerance", q, alarms.LeastStep, alarms.MostStep, "")
	drives := need(t, t.texts("drives"), "name what it switches, for example drives = [\"exhaust\"]")
	seasons := t.seasons("seasons", t.texts("seasons"))
	if q == alarms.Temperature && d.Set && (d.V < finestUsual || d.V > coarsestUsual) {
		t.warn(d.at, "is hardly the differential of a mechanical thermostat; usual is %s to %s (got %s)",
			figure(t.r.scale.stepFrom(q, finestUsual)), figure(t.r.scale.stepFrom(q, coarsestUsual))+spaced(t.r.scale.stepUnit(q)),
			figure(t.r.scale.stepFrom(q, d.V)))
	}
	return &stageSite{night: night, stage: alarms.Stage{Name: t.name, Mode: mode, SetPoint: setPoint.V, SetPointNight: limit(night),
		Differential: d.V, Tolerance: tolerance.V, Drives: named[alarms.DriveID](drives.V), Seasons: seasons}}
}

// seasons takes a list for seasons and reports what in it is none.
func (t *table) seasons(key string, v value[[]string]) []alarms.Season {
	for i, s := range v.V {
		if !slices.Contains(alarms.Seasons, alarms.Season(s)) {
			t.problem(t.item(key, i), "must be %s (got %q)%s", alarms.Either(alarms.Seasons), s, Meant(s, alarms.Seasons))
		}
	}
	return named[alarms.Season](v.V)
}

// item is the place of the i-th element of a list.
func (t *table) item(key string, i int) place {
	inner := inner(inner(t.inner, key), fmt.Sprintf("#%d", i))
	return place{t.r.lines.spots[inner].line, shown(inner)}
}
