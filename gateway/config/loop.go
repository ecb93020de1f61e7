package config

import (
	"telltale/alarms"
	"telltale/alarms/ground"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
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

// readLoop reads the ground loop of a house, nil where it has none.
func readLoop(t *table) *loopSite {
	if !t.seen {
		return nil
	}
	defer t.done()
	s := &loopSite{t: t, from: need(t, t.text("air-from"), "name the place whose air enters the pipes, for example \"bench\""),
		fan: t.text("fan"), power: t.text("fan-power")}
	q := alarms.Temperature
	warm, cool := t.amount("warmth-below", q, alarms.ColdestWanted, alarms.WarmestWanted), t.amount("cooling-above", q, alarms.ColdestWanted, alarms.WarmestWanted)
	s.loop = alarms.Loop{
		House: alarms.PlaceID(s.from.V), Fan: alarms.DriveID(s.fan.V), FanPower: alarms.ProbeID(s.power.V),
		FanWatts: t.number("fan-watts", 1, 5000, "W").V,
		AtHouse:  t.oneOf("flow-measured", "house", "outlet").V == "house",
		Pressure: 100 * t.number("air-pressure", alarms.LeastPressure/100, alarms.MostPressure/100, "hPa").V,
		// the core knows the defaults
		WarmBelow: limit(warm), CoolAbove: limit(cool), Priority: t.priority("priority"),
	}
	if sub := t.table("running"); sub.seen {
		s.runs = readEvidence(sub)
		s.loop.Runs = s.runs.evidence
	}
	readSoil(t.table("soil"), s)
	s.pipes = walk.Each(t.children("pipe"), readPipe)
	return s
}

// readSoil reads the undisturbed ground. All four figures are needed.
func readSoil(t *table, s *loopSite) {
	if !t.seen {
		return
	}
	defer t.done()
	s.soil = t
	q := alarms.Temperature
	mean := need(t, t.amount("mean", q, ground.ColdestMean, ground.WarmestMean), "give the yearly mean of the ground, near that of the outside air")
	swing := need(t, t.step("swing", q, 0, ground.MostSwing, ""), "give half of the yearly swing at the surface, for example 8.0")
	coldest := need(t, t.number("coldest-day", 1, 365, ""), "give the day of the year on which the surface is coldest, for example 35")
	diffusivity := need(t, t.number("diffusivity", ground.LeastDiffusivity, ground.MostDiffusivity, tongue.Text("m² a day")), "give 0.03 for dry clay, 0.05 for common soil, 0.10 for sand")
	if mean.Set && swing.Set && coldest.Set && diffusivity.Set {
		s.loop.Soil = &alarms.Ground{Mean: mean.V, Swing: swing.V, Coldest: coldest.V, Diffusivity: diffusivity.V}
	}
}

func readPipe(t *table) *pipeSite {
	defer t.done()
	p := &pipeSite{t: t}
	flow := need(t, t.flow("flow-per-hour", 1, alarms.MostFlow*hour, muchAir), "give the air that passes in an hour while the fan runs, for example \"170 m³/h\"")
	p.pipe = alarms.Pipe{
		Outlet:        alarms.PlaceID(t.name),
		Depth:         need(t, t.length("depth", 0.1, alarms.MostDepth, deepPipe), "give its depth below the surface, for example \"1.5 m\"").V,
		Flow:          rounded(flow.V / hour),
		Effectiveness: t.number("effectiveness", alarms.LeastEffectiveness, 1, "").V,
	}
	if sub := t.table("damper"); sub.seen {
		p.damper = readEvidence(sub)
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

// checkLoop warns of what a ground loop can be judged by only in part.
func (h *houseSite) checkLoop() {
	s := h.loop
	if s == nil {
		return
	}
	if s.soil == nil {
		s.t.warn(s.t.at, "has no soil, so its heat can be counted but nothing be held against the ground: add [%s.soil]", s.t.at.path)
	}
	h.checkLoopPace(s.from.at, s.from.V)
	for _, p := range s.pipes {
		if p.t.name != s.from.V {
			h.checkLoopPace(p.t.at, p.t.name)
		}
	}
}

// checkLoopPace warns of probes too slow for what a loop brings.
func (h *houseSite) checkLoopPace(at place, of string) {
	for _, p := range h.places {
		for _, one := range p.probes {
			if _, ok := one.stream(alarms.Temperature); ok && p.t.name == of && one.probe.Every > ground.Holds {
				h.t.warn(at, "probe %s reports every %s, and a value counts for %s: a part of the heat will be missed", one.probe.ID, span(one.probe.Every), span(ground.Holds))
			}
		}
	}
}
