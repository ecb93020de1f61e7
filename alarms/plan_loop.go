package alarms

import (
	"cmp"
	"math"
	"slices"

	"telltale/alarms/control"
	"telltale/alarms/ground"
	"telltale/alarms/walk"
)

// Loop is air of the house that a fan draws through pipes in the ground: it
// warms the house in winter and cools it in summer. Telltale reads what enters
// and what leaves the pipes, and says what that brings and whether it works.
type Loop struct {
	House PlaceID // the place whose air enters the pipes
	// Runs shows that the loop fan runs. Not given: the first evidence of Fan.
	Runs Evidence
	Fan  DriveID // the loop fan, where it is in the plan
	// FanPower is a probe that measures what the fan draws; not given: the one of
	// Runs where that measures power. FanWatts is taken while the fan runs where
	// no probe tells, W; 0: not known.
	FanPower ProbeID
	FanWatts float64
	// AtHouse says that the flows were measured where house air enters, not at
	// the outlets.
	AtHouse  bool
	Pressure float64 // of the air, Pa; 0: that of sea level
	Pipes    []Pipe
	// Soil is the undisturbed ground. Not known: heat and cold are still counted,
	// but nothing can be held against the ground.
	Soil *Ground
	// WarmBelow and CoolAbove are the house temperatures at which it wants
	// warmth or cooling from the loop, °C; default 12 and 22 (common practice,
	// no source).
	WarmBelow, CoolAbove Limit
	Priority             Priority // of "no flow"; default Medium. The others are low.
}

// Ground is undisturbed ground, from the surface down.
type Ground = ground.Soil

// Pipe is one pipe, or several at one depth that share an outlet.
type Pipe struct {
	Outlet PlaceID // where its air leaves; its probe hangs at the mouth, in the house
	Depth  float64 // m
	Flow   float64 // m³/s while the fan runs
	// Effectiveness is which share of the difference between house and ground
	// it gives to the air, 0 to 1; 0: learned from its first week of running.
	Effectiveness float64
	Damper        Evidence // shows that its damper is open; none: it is always open
}

// given reports whether ev names anything.
func (ev Evidence) given() bool { return ev.Probe != "" }

// Shows reports whether value v says that what ev stands for runs, or is open.
func (ev Evidence) Shows(v float64) bool {
	from := control.Closed
	if ev.Above.Set {
		from = ev.Above.Value
	}
	return (v >= from) != ev.Inverted
}

const (
	defaultWarmBelow = 12.0
	defaultCoolAbove = 22.0
)

// withDefaults returns a copy of l, of house h, in which nothing is left to
// default.
func (l *Loop) withDefaults(h *House) *Loop {
	if l == nil {
		return nil
	}
	c := *l
	c.Priority = cmp.Or(c.Priority, Medium)
	if !c.WarmBelow.Set {
		c.WarmBelow = At(defaultWarmBelow)
		if c.CoolAbove.Set {
			c.WarmBelow.Value = min(c.WarmBelow.Value, c.CoolAbove.Value)
		}
	}
	if !c.CoolAbove.Set {
		c.CoolAbove = At(max(defaultCoolAbove, c.WarmBelow.Value))
	}
	if !c.Runs.given() {
		c.Runs = h.firstEvidence(c.Fan)
	}
	if c.FanPower == "" && c.Runs.Quantity == Power {
		c.FanPower = c.Runs.Probe
	}
	c.Pipes = append([]Pipe(nil), c.Pipes...)
	return &c
}

// firstEvidence returns the evidence of a drive that is trusted most, the zero
// value where there is none.
func (h *House) firstEvidence(id DriveID) Evidence {
	if d := h.Drive(id); d != nil && len(d.Evidence) > 0 {
		return d.Evidence[0]
	}
	return Evidence{}
}

// Bounds of what a ground loop is described by.
const (
	MostDepth                    = 30.0            // m
	MostFlow                     = 20.0            // m³/s
	LeastPressure, MostPressure  = 50000.0, 110000 // Pa
	LeastEffectiveness           = 0.05            // of 1
	ColdestWanted, WarmestWanted = -20.0, 60.0     // °C
)

// loop checks the ground loop of the house.
func (f *housed) loop() {
	l, at := f.house.Loop, f.at.to("loop")
	if l == nil {
		return
	}
	f.warm(at.to("air-from"), l.House)
	f.loopFan(at, l)
	if len(l.Pipes) == 0 {
		f.fail(at, "has no pipe: add one named after the place at its outlet, for example %s", at.to("pipe", "loop-outlet"))
	}
	if l.Soil != nil {
		if err := l.Soil.Check(); err != nil {
			f.fail(at.to("soil"), "", err.Error())
		}
	}
	if l.Pressure != 0 {
		f.within(at.to("air-pressure"), Amount{Pressure, l.Pressure, false}, Amount{Pressure, LeastPressure, false}, Amount{Pressure, MostPressure, false})
	}
	coldest, warmest := Amount{Temperature, ColdestWanted, false}, Amount{Temperature, WarmestWanted, false}
	warm, cool := Amount{Temperature, l.WarmBelow.Value, false}, Amount{Temperature, l.CoolAbove.Value, false}
	f.within(at.to("warmth-below"), warm, coldest, warmest)
	f.within(at.to("cooling-above"), cool, coldest, warmest)
	if l.WarmBelow.Set && l.CoolAbove.Set && l.WarmBelow.Value > l.CoolAbove.Value {
		f.fail(at.to("cooling-above"), "must not be below warmth-below (got %s, warmth-below is %s)", cool, warm)
	}
	for i := range l.Pipes {
		f.pipe(at.to("pipe", string(l.Pipes[i].Outlet)), l, i)
	}
}

// loopFan demands that something shows whether the fan of a loop runs.
func (f *housed) loopFan(at Path, l *Loop) {
	d := f.house.Drive(l.Fan)
	switch {
	case l.Runs.given():
		f.evidence(at.to("running"), l.Runs)
	case l.Fan == "":
		f.fail(at, "does not say what shows that its fan runs: give running = { probe = \"...\", quantity = \"...\", above = ... }, or the drive as fan = \"...\"").
			rests(at.to("running"), at.to("fan"))
	case d == nil:
		f.fail(at.to("fan"), "is no drive of house %s (got %q)%s", f.house.ID, l.Fan, choice(l.Fan, f.house.driveIDs()))
	case len(d.Evidence) == 0:
		f.fail(at.to("fan"), "has no evidence, so nothing shows whether it runs: give that drive a probe, or the loop running = { ... } (got %q)", l.Fan)
	}
	power := at.to("fan-power")
	if l.FanPower != "" {
		if pr := f.probeNamed(power, l.FanPower); pr != nil && !pr.Gives(Power) {
			f.fail(power, "must be a probe that measures power (got %q)", l.FanPower)
		}
	}
	if !(l.FanWatts >= 0) || math.IsInf(l.FanWatts, 0) {
		f.fail(at.to("fan-watts"), "must be 0 W or more (got %v)", l.FanWatts)
	}
	if l.FanPower != "" && l.FanPower != l.Runs.Probe && l.FanWatts > 0 {
		f.fail(at.to("fan-watts"), "is measured by probe %s: leave one of them out", l.FanPower).rests(power)
	}
}

func (f *housed) pipe(at Path, l *Loop, i int) {
	p := &l.Pipes[i]
	switch taken := func(o Pipe) bool { return o.Outlet == p.Outlet }; {
	case p.Outlet == l.House:
		f.fail(at, "is the place whose air enters the pipes, so it cannot be an outlet too (got %q)", p.Outlet)
	case slices.ContainsFunc(l.Pipes[:i], taken):
		f.fail(at, "is the outlet of two pipes: each needs a place of its own")
	default:
		f.warm(at, p.Outlet)
	}
	if !(p.Depth > 0 && p.Depth <= MostDepth) {
		f.fail(at.to("depth"), "must be above 0 and at most %v m (got %v)", MostDepth, p.Depth)
	}
	if !(p.Flow > 0 && p.Flow <= MostFlow) {
		f.fail(at.to("flow-per-hour"), "must be above 0 and at most %v m³/s (got %v)", MostFlow, p.Flow)
	}
	if p.Effectiveness != 0 {
		f.between(at.to("effectiveness"), p.Effectiveness, LeastEffectiveness, 1, "")
	}
	if p.Damper.given() {
		f.evidence(at.to("damper"), p.Damper)
	}
}

// loopByHand checks what the i-th selector says of the ground loop.
func (f *housed) loopByHand(at Path, i int) {
	var pipes []PlaceID
	if f.house.Loop != nil {
		pipes = walk.Each(f.house.Loop.Pipes, func(p Pipe) PlaceID { return p.Outlet })
	}
	for _, p := range f.house.Selectors[i].Positions {
		at := at.to("position", p.Name)
		if !p.setsLoop() {
			continue
		}
		if f.house.Loop == nil {
			f.fail(at.to(p.ofLoop()[0]), "is for a house with a ground loop: add %s, or leave it out", f.at.to("loop"))
			continue
		}
		for j, outlet := range p.Shut {
			switch at := at.nth("shut", j); {
			case !slices.Contains(pipes, outlet):
				f.fail(at, "is no pipe of the ground loop (got %q)%s", outlet, choice(outlet, pipes))
			case slices.Contains(p.Shut[:j], outlet):
				f.fail(at, "is named twice (got %q)", outlet)
			}
		}
		f.between(at.to("flow-per-hour"), p.Flow, 0, MostFlow, " m³/s")
		if p.Direction != "" {
			oneOf(f.checker, at.to("direction"), p.Direction, []Direction{Down, Up})
		}
		for _, other := range f.house.Selectors[:i] {
			f.setOnce(at, other, p)
		}
	}
}

// setOnce demands that no other selector sets the same of the loop as p.
func (f *housed) setOnce(at Path, other Selector, p Position) {
	beside := f.at.to("selector", string(other.ID))
	for _, o := range other.Positions {
		if o.Flow != 0 && p.Flow != 0 {
			f.fail(at.to("flow-per-hour"), "is set by selector %s already (%s): let one of them set it", other.ID, beside)
			return
		}
		if o.Direction != "" && p.Direction != "" {
			f.fail(at.to("direction"), "is set by selector %s already (%s): let one of them set it", other.ID, beside)
			return
		}
		for i, id := range p.Shut {
			if slices.Contains(o.Shut, id) {
				f.fail(at.nth("shut", i), "is shut by selector %s already (%s): let one of them do it (got %q)", other.ID, beside, id)
				return
			}
		}
	}
}

// ofLoop are the words of what p sets of the ground loop.
func (p *Position) ofLoop() (words []string) {
	if len(p.Shut) > 0 {
		words = append(words, "shut")
	}
	if p.Flow != 0 {
		words = append(words, "flow-per-hour")
	}
	if p.Direction != "" {
		words = append(words, "direction")
	}
	return words
}

// SetsLoop reports whether a selector of h says something of its ground loop.
func (h *House) SetsLoop() bool {
	return slices.ContainsFunc(h.Selectors, func(s Selector) bool {
		return slices.ContainsFunc(s.Positions, func(p Position) bool { return p.setsLoop() })
	})
}

// setsLoop reports whether p says something of the ground loop.
func (p *Position) setsLoop() bool { return len(p.ofLoop()) > 0 }

// Direction is which way air passes through the pipes.
type Direction string

// Directions.
const (
	// Down is as the plan describes a loop: the fan blows air of the place that the
	// loop is from down into the pipes, and it leaves at their outlets, into the house.
	Down Direction = "down"
	// Up is the other way round: air of the house enters where the pipes have their
	// outlets, and the fan draws it up and lets it out at the place that the loop is
	// from, whose probe must hang in that air. There the air of all pipes is mixed:
	// what they bring together is known, and one of them is judged only while air
	// passes through no other.
	Up Direction = "up"
)
