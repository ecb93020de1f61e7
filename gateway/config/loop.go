package config

import (
	"telltale/alarms"
)

// loopSite is the ground loop of a house with its tables.
type loopSite struct {
	t          *table
	loop       alarms.Loop
	from       value[string]
	fan, power value[string]
	runs       *evidenceSite // nil: not given
	soil       *table        // nil: not given
	pipes      []*pipeSite
}

// pipeSite is one pipe with its table.
type pipeSite struct {
	t      *table
	pipe   alarms.Pipe
	damper *evidenceSite // nil: not given
}

// asksFor reports whether l goes by a probe.
func (l *loopSite) asksFor(probe string) bool {
	for _, p := range l.pipes {
		if p.damper != nil && p.damper.probe.V == probe {
			return true
		}
	}
	return l.power.V == probe || l.runs != nil && l.runs.probe.V == probe
}

const hour = 3600 // s

// loop reads the ground loop of a house, nil where it has none.
func (r *reader) loop(t *table) *loopSite {
	if !t.seen {
		return nil
	}
	defer t.done()
	s := &loopSite{t: t, from: need(t, t.text("air-from"), "name the place whose air enters the pipes, for example \"bench\""),
		fan: t.text("fan"), power: t.text("fan-power")}
	warm, cool := r.houseTemperature(t, "warmth-below"), r.houseTemperature(t, "cooling-above")
	if warm.Set && cool.Set && warm.V > cool.V {
		r.problem(cool.at, "must not be below warmth-below (got %s, warmth-below is %s)", r.sayUnit(alarms.Temperature, cool.V),
			r.sayUnit(alarms.Temperature, warm.V))
	}
	s.loop = alarms.Loop{
		House: alarms.PlaceID(s.from.V), Fan: alarms.DriveID(s.fan.V), FanPower: alarms.ProbeID(s.power.V),
		FanWatts: t.number("fan-watts", 1, 5000, "W").V,
		AtHouse:  t.oneOf("flow-measured", "house", "outlet").V == "house",
		Pressure: 100 * t.number("air-pressure", 500, 1100, "hPa").V,
		// the core knows the defaults
		WarmBelow: limit(warm), CoolAbove: limit(cool), Priority: t.priority("priority"),
	}
	if sub := t.table("running"); sub.seen {
		s.runs = r.evidence(sub)
		s.loop.Runs = s.runs.evidence
	}
	if !s.runs.given() && !s.fan.Seen {
		r.problem(t.at, "does not say what shows that its fan runs: give running = { probe = \"...\", quantity = \"...\", above = ... }, or the drive as fan = \"...\"")
	}
	r.soil(t.table("soil"), s)
	for _, p := range t.children("pipe") {
		s.pipes = append(s.pipes, r.pipe(p))
	}
	if len(s.pipes) == 0 {
		r.problem(t.at, "has no pipe: add one named after the place at its outlet, for example [%s.pipe.loop-outlet]", t.at.path)
	}
	return s
}

func (e *evidenceSite) given() bool { return e != nil }

func (r *reader) houseTemperature(t *table, key string) value[float64] {
	q := alarms.Temperature
	v := t.number(key, r.scale.from(q, -20), r.scale.from(q, 60), r.scale.unit(q))
	if v.Set {
		v.V = r.scale.into(q, v.V)
	}
	return v
}

// soil reads the undisturbed ground. All four figures are needed.
func (r *reader) soil(t *table, s *loopSite) {
	if !t.seen {
		return
	}
	defer t.done()
	s.soil = t
	q := alarms.Temperature
	mean := need(t, t.number("mean", r.scale.from(q, -15), r.scale.from(q, 35), r.scale.unit(q)), "give the yearly mean of the ground, near that of the outside air")
	swing := need(t, r.step(t, "swing", q, 0.1, 40, ""), "give half of the yearly swing at the surface, for example 8.0")
	coldest := need(t, t.number("coldest-day", 1, 365, ""), "give the day of the year on which the surface is coldest, for example 35")
	diffusivity := need(t, t.number("diffusivity", 0.005, 0.3, "m² a day"), "give 0.03 for dry clay, 0.05 for common soil, 0.10 for sand")
	if mean.Set && swing.Set && coldest.Set && diffusivity.Set {
		s.loop.Soil = &alarms.Ground{Mean: r.scale.into(q, mean.V), Swing: swing.V, Coldest: coldest.V, Diffusivity: diffusivity.V}
	}
}

func (r *reader) pipe(t *table) *pipeSite {
	defer t.done()
	p := &pipeSite{t: t}
	flow := need(t, r.flow(t, "flow-per-hour", 1, 20000, muchAir), "give the air that passes in an hour while the fan runs, for example \"170 m³/h\"")
	p.pipe = alarms.Pipe{
		Outlet:        alarms.PlaceID(t.name),
		Depth:         need(t, r.length(t, "depth", 0.1, 30, deepPipe), "give its depth below the surface, for example \"1.5 m\"").V,
		Flow:          rounded(flow.V / hour),
		Effectiveness: t.number("effectiveness", 0.05, 1, "").V,
	}
	if sub := t.table("damper"); sub.seen {
		p.damper = r.evidence(sub)
		p.pipe.Damper = p.damper.evidence
	}
	return p
}

// finishLoop hands over what was read.
func (h *houseSite) finishLoop() {
	if h.loop == nil {
		return
	}
	for _, p := range h.loop.pipes {
		h.loop.loop.Pipes = append(h.loop.loop.Pipes, p.pipe)
	}
	h.house.Loop = &h.loop.loop
}
