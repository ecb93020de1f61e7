package config

import (
	"slices"
	"time"

	"telltale/alarms"
)

func (r *reader) checkDrive(h *houseSite, d *driveSite) {
	r.checkDriveNames(h, d.t, "with", d.with)
	r.checkDriveNames(h, d.t, "never-with", d.never)
	r.checkTogether(h, d)
	if d.circuit.Set {
		r.checkCircuit(h, d.circuit.at, d.circuit.V)
	}
	for _, run := range d.runs {
		switch c := h.driver(d.drive.ID, run.run.Season); {
		case run.run.On && slices.Contains(d.drive.Barred, run.run.Season):
			r.problem(run.at, "wants it to run, yet it is barred in %s (line %d)", run.run.Season, d.barred.at.line)
		case c != nil:
			r.problem(run.at, "[%s] drives it in %s already (line %d): give that stage the other seasons, or leave this out",
				c.t.at.path, run.run.Season, c.t.at.line)
		}
	}
	follows := h.follows(d.drive.ID)
	if !follows && !h.switchedOn(d.drive.ID) {
		r.problem(d.t.at, "is driven by nothing: name it in a stage of a control, under \"with\" of another drive, say what the seasons want under runs, or at which hours its timer runs it")
	}
	r.checkTimer(d)
	r.checkSeen(h, d)
	if d.drive.Kind == alarms.ExhaustFan && !d.barred.Seen {
		r.warn(d.t.at, "does not say whether it may run in winter: write barred = [\"winter\"] if its vents are covered then, barred = [] if not")
	}
}

// checkTimer tells hours that are over before it could be told that the drive
// did not start, and a tolerance of no timer.
func (r *reader) checkTimer(d *driveSite) {
	timed, at := false, place{}
	within := d.start.or(2*time.Minute) + d.tolerance.or(10*time.Minute)
	for _, run := range d.runs {
		for _, h := range run.run.Hours {
			timed = true
			if long := (h.To - h.From + day) % day; long <= within && at != run.at {
				at = run.at
				r.warn(run.at, "has hours of %s (%s-%s), too short to tell that the drive did not start: give it a timer-tolerance and start-within that are shorter together (they are %s)",
					span(long), clock(h.From), clock(h.To), span(within))
			}
		}
	}
	if d.tolerance.Set && !timed {
		r.problem(d.tolerance.at, "is of a timer: say at which hours the drive runs, for example hours = [\"05:30-09:00\"]")
	}
}

// checkTogether tells drives bound to themselves or in two ways.
func (r *reader) checkTogether(h *houseSite, d *driveSite) {
	for _, list := range []struct {
		key   string
		names value[[]string]
	}{{"with", d.with}, {"never-with", d.never}} {
		if i := slices.Index(list.names.V, d.t.name); i >= 0 {
			r.problem(d.t.item(list.key, i), "must name another drive (got %q, which is this one)", d.t.name)
		}
	}
	for i, name := range d.with.V {
		other := h.drive(alarms.DriveID(name))
		if other == nil || other == d {
			continue
		}
		at := d.t.item("with", i)
		if slices.Contains(d.never.V, name) || slices.Contains(other.never.V, d.t.name) {
			r.problem(at, "must not be named under never-with too (got %q)", name)
		}
		for _, run := range other.drive.Runs {
			wanted := slices.ContainsFunc(d.drive.Runs, func(own alarms.Run) bool { return own.Season == run.Season && own.On })
			if !run.On && (wanted || h.driver(d.drive.ID, run.Season) != nil) {
				r.problem(at, "%s must rest in %s (runs, line %d), so it could not run with %s then", name, run.Season, other.t.at.line, d.t.name)
			}
		}
		for _, s := range other.drive.Barred {
			if !slices.Contains(d.drive.Barred, s) {
				r.problem(at, "%s is barred in %s (line %d), so it could not run with %s then: bar both or neither", name, s,
					other.barred.at.line, d.t.name)
			}
		}
	}
}

// driver is the first stage that drives a drive in a season.
func (h *houseSite) driver(id alarms.DriveID, in alarms.Season) *stageSite {
	for _, c := range h.controls {
		for _, s := range c.stages {
			if slices.Contains(s.stage.Drives, id) && meet(s.stage.Seasons, []alarms.Season{in}) {
				return s
			}
		}
	}
	return nil
}

// follows reports whether a thermostat, another drive or a season wants a
// drive to run.
func (h *houseSite) follows(id alarms.DriveID) bool {
	for _, s := range alarms.Seasons {
		if h.driver(id, s) != nil {
			return true
		}
	}
	for _, d := range h.drives {
		if slices.Contains(d.drive.With, id) {
			return true
		}
		if d.drive.ID == id && slices.ContainsFunc(d.drive.Runs, func(r alarms.Run) bool { return r.On }) {
			return true
		}
	}
	return false
}

// switchedOn reports whether a selector can switch a drive on.
func (h *houseSite) switchedOn(id alarms.DriveID) bool {
	for _, s := range h.selectors {
		for _, p := range s.positions {
			if slices.Contains(p.position.On, id) {
				return true
			}
		}
	}
	return false
}

// checkSeen tells a drive of which nothing could be said.
func (r *reader) checkSeen(h *houseSite, d *driveSite) {
	if d.t.has("evidence") || !d.kind.Set {
		return
	}
	stage := false
	for _, s := range alarms.Seasons {
		stage = stage || h.driver(d.drive.ID, s) != nil
	}
	switch {
	case d.drive.Kind != alarms.ExhaustFan:
		r.warn(d.t.at, "has no evidence, so nobody can tell whether it runs: name a probe that shows it, evidence = [{ probe = \"...\", quantity = \"...\" }]")
	case !stage:
		r.warn(d.t.at, "has no evidence, and no thermostat from whose temperature it could be told whether it runs")
	}
}

// checkEvidence tells evidence of a probe or quantity that is not there, and a
// probe too slow to show a start in time.
func (r *reader) checkEvidence(h *houseSite, d *driveSite, i int, e *evidenceSite) {
	probe, q := r.measured(h, e), alarms.Quantity(e.quantity.V)
	if probe == nil {
		return
	}
	for _, before := range d.evidence[:i] {
		if before.probe.V == e.probe.V && before.quantity.V == e.quantity.V {
			r.problem(e.t.at, "%s of probe %s is evidence of this drive already (line %d)", q, probe.probe.ID, before.t.at.line)
		}
	}
	if i == 0 && q != alarms.Contact { // a contact reports when it moves
		r.checkPace(d, e, probe)
	}
}

// measured finds the probe of evidence, or tells that it is not there or does
// not measure that.
func (r *reader) measured(h *houseSite, e *evidenceSite) *probeSite {
	if !e.probe.Set || !e.quantity.Set {
		return nil
	}
	probe := r.probeOf(h, e.probe)
	if probe == nil {
		return nil
	}
	q := alarms.Quantity(e.quantity.V)
	if _, ok := probe.stream(q); ok {
		return probe
	}
	var measured []string
	for _, s := range probe.probe.Streams {
		measured = append(measured, string(s.Quantity))
	}
	r.problem(e.quantity.at, "is not measured by probe %s (got %q); it measures %s", probe.probe.ID, q, listed(measured))
	return nil
}

// checkPace tells a probe that reports too seldom for the times allowed.
func (r *reader) checkPace(d *driveSite, e *evidenceSite, probe *probeSite) {
	byDefault := 2 * time.Minute
	if d.drive.Kind == alarms.IntakeShutter {
		byDefault = 3 * time.Minute
	}
	every := probe.probe.Every
	for _, one := range []struct {
		key string
		v   value[time.Duration]
	}{{"start-within", d.start}, {"stop-within", d.stop}} {
		at, what, by, within := one.v.at, "", "", one.v.V
		if !one.v.Set {
			at, what, by, within = e.t.at, one.key+" ", " by default", byDefault
		}
		if within < 2*every {
			r.warn(at, "%sshould be two intervals of probe %s or more, or the drive may be told as late when it was not (got %s%s, the interval is %s)",
				what, probe.probe.ID, span(within), by, span(every))
		}
	}
}

// probeOf finds a probe of the house by its name, or tells that there is none.
func (r *reader) probeOf(h *houseSite, name value[string]) *probeSite {
	var known []string
	for _, p := range h.places {
		for _, one := range p.probes {
			if one.t.name == name.V {
				return one
			}
			known = append(known, one.t.name)
		}
	}
	hint := meant(name.V, known)
	if hint == "" {
		hint = "; it has " + listed(known)
	}
	r.problem(name.at, "is no probe of house %s (got %q)%s", h.house.ID, name.V, hint)
	return nil
}
