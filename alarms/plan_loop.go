package alarms

import "telltale/alarms/ground"

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

// shows reports whether value v says that what ev stands for runs, or is open.
func (ev Evidence) shows(v float64) bool {
	from := 0.5
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
	c.Priority = orPriority(c.Priority, Medium)
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
	for i := range h.Drives {
		if d := &h.Drives[i]; d.ID == id && len(d.Evidence) > 0 {
			return d.Evidence[0]
		}
	}
	return Evidence{}
}
