package alarms

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"telltale/alarms/control"
	"telltale/alarms/walk"
)

// Typed names of what the mechanical control consists of; unique in a house.
type (
	ControlID  string
	DriveID    string
	SelectorID string
)

// Control is a mechanical thermostat or humidistat and what it drives; one drive may
// hang on several, and must run when any of them calls. Telltale reads the
// same temperature with probes of its own and holds what happens against the
// dial. It never switches anything.
type Control struct {
	ID     ControlID
	Name   string  // default the ID
	Place  PlaceID // where its bulb hangs: the temperature or humidity there is judged
	Stages []Stage
}

// Mode says which way a stage works.
type Mode uint8

// Modes.
const (
	Cooling    Mode = iota // calls when it is warmer than the set point
	Heating                // calls when it is colder
	Drying                 // a humidistat's: calls when it is more humid
	Moistening             // calls when it is drier
)

// Modes lists every mode.
var Modes = []Mode{Cooling, Heating, Drying, Moistening}

var modeNames = [...]string{"cooling", "heating", "drying", "moistening"}

// Quantity is what a stage of mode m feels: temperature or humidity.
func (m Mode) Quantity() Quantity {
	if m == Drying || m == Moistening {
		return Humidity
	}
	return Temperature
}

// Above reports whether a stage of mode m calls above its set point.
func (m Mode) Above() bool { return m == Cooling || m == Drying }

func (m Mode) String() string { return name(modeNames[:], int(m)) }

// Stage is one pair of contacts of a thermostat, as set on its dial.
type Stage struct {
	Name     string // default the mode
	Mode     Mode
	SetPoint float64 // °C, of a humidistat %, where it switches on
	// SetPointNight is where it switches on by night, by the day of the house, °C;
	// not set: as by day. Within half an hour of the turn, which the thermostat
	// makes by a clock or a light of its own, nothing is judged by one of the two
	// alone (common practice, no source).
	SetPointNight Limit
	// Differential is how far the temperature must come back before it switches
	// off, K: off at SetPoint minus Differential when cooling, plus when
	// heating. Default 2.8 K (about 5 °F, read in one source), and 5 % of a
	// humidistat (common practice, no source).
	Differential float64
	// Tolerance is of the dial either way, K; default 1.5, and 5 % of a humidistat
	// (common practice, no source: what feels humidity is a strip or hair that ages).
	Tolerance float64
	Drives    []DriveID // what it drives, in the seasons below
	Seasons   []Season  // in which it acts; empty: all
}

// DriveKind is what a drive is.
type DriveKind string

// Kinds of drive.
const (
	ExhaustFan     DriveKind = "exhaust-fan"
	IntakeShutter  DriveKind = "intake-shutter"
	LoopFan        DriveKind = "loop-fan"
	Heater         DriveKind = "heater"
	CirculatingFan DriveKind = "circulating-fan"
	GrowLight      DriveKind = "grow-light"
	Misting        DriveKind = "misting"
)

// DriveKinds lists every kind.
var DriveKinds = []DriveKind{ExhaustFan, IntakeShutter, LoopFan, Heater, CirculatingFan, GrowLight, Misting}

// Drive is something that runs or moves: a fan, a shutter, a heater, a light.
type Drive struct {
	ID       DriveID
	Name     string // default the kind in words
	Kind     DriveKind
	Evidence []Evidence // in order of trust; none: inferred from the temperature, for an exhaust fan
	// Start and Stop are how long it may take after it is called, or no longer
	// called, until the evidence shows it; default 2 min, and 3 min for a
	// shutter, whose motor takes time.
	Start, Stop time.Duration
	// Effect is how long it may run before the temperature must answer, of misting
	// the humidity; default 15 min for an exhaust fan, a heater and misting, none for the others; negative: no
	// answer is expected.
	Effect time.Duration
	// With and Never may name drives of other thermostats.
	With  []DriveID // must run whenever this one runs: a shutter for its fan
	Never []DriveID // must not run while this one runs, nor this one while they do
	Runs  []Run     // what each season wants of it where no thermostat drives it
	// TimerTolerance is by how much a timer of its own, see Run, may be off either
	// way; default 10 min (common practice, no source: clockwork timers are set by
	// pins of a quarter of an hour, and drift); negative: none.
	TimerTolerance time.Duration
	Barred         []Season // in which it must not run: an exhaust fan in winter; see Position.Covered
	// MaxStarts is how many starts an hour are too many; default 10.
	MaxStarts  int
	Priority   Priority  // default Medium; High for an exhaust fan and a heater
	Circuit    CircuitID // that feeds it; empty: not known
	Directions string    // as of a house
}

// Run is what a season wants of a drive that no thermostat drives. Of a season that
// is not named it wants nothing: the drive may run or rest.
type Run struct {
	Season Season
	On     bool // also with intermittent running and with hours; false: it must rest, as if barred
	// Intermittent running by a cycle timer: so long on, so long off.
	OnFor, OffFor time.Duration
	Hours         []Hours // running at hours of the day by a timer; separated by a pause each
}

// Hours is a time of each day: from and to are lengths of time after midnight as
// the clocks of the house show it, to at most 24 h. It goes on over midnight where
// To is before From.
type Hours struct{ From, To time.Duration }

// Showing lists the quantities that can show whether a drive runs: those of a
// contact or end switch, of a meter, and the temperature in its duct.
var Showing = []Quantity{Contact, Current, Power, Speed, Opening, Temperature}

// Evidence is a reading that shows whether a drive runs.
type Evidence struct {
	Probe    ProbeID
	Quantity Quantity
	// Above is the value from which the drive runs; for a contact not set: it
	// runs when the contact is closed.
	Above Limit
	// Usual bounds the value of a meter while it runs; not set: learned from the
	// first runs.
	UsualLow, UsualHigh Limit
	Inverted            bool // runs below Above, or with the contact open
}

// Selector is a plain switch by hand whose position decides which drives
// follow the thermostat. A contact tells the position, or the season does, or
// it is set by hand with SetSelector. Every position says of the same drives
// what becomes of them, and no drive hangs on two selectors.
//
// People set it at the watch itself, where they have signed in, or the contact tells
// it: what makes another thing right is never taken from a message whose sender could
// be forged.
type Selector struct {
	ID        SelectorID
	Name      string // default the ID
	Positions []Position
	At        string  // position at first start; default the first
	Probe     ProbeID // tells the position by a contact
}

// Position is one position of a selector.
type Position struct {
	Name   string
	Follow []DriveID // follow the thermostat, their season or the drive they run with
	On     []DriveID // run always
	Off    []DriveID // never run
	// Covered are exhaust fans and intake shutters over whose vents a cover lies. Of
	// those that some position names this is what counts, and no season that bars
	// them: covered they must not run, else they and what cools or dries by them act in
	// every season.
	Covered []DriveID
	// Shut are pipes of the ground loop that are shut off, by their outlets: no air
	// passes, and nothing is made of that. Flow is what passes through all pipes
	// together while none is shut, m³/s, at this position of the fan's speed knob; each
	// has the share of it that it has of the flows of the plan; 0: as the plan has them.
	// Direction is Down or Up; empty: Down.
	Shut      []PlaceID
	Flow      float64
	Direction Direction
	Closed    bool // with a probe: this position when its contact is closed
	// Seasons in which it is in this position, where the season tells it; each
	// season then has one position.
	Seasons []Season
}

// Defaults of what the mechanical control consists of; common practice, no
// source, where Stage and Drive name none.
const (
	defaultDifferential = 2.8 // K
	defaultTolerance    = 1.5 // K
	defaultHumid        = 5.0 // %, both of a humidistat
	defaultTimer        = 10 * time.Minute
)

// controlDefaults leaves nothing of the controls of h to default.
func (h *House) controlDefaults() {
	h.Controls = walk.Each(h.Controls, Control.withDefaults)
	alike := map[DriveKind]int{}
	for _, d := range h.Drives {
		alike[d.Kind]++
	}
	h.Drives = walk.Each(h.Drives, func(d Drive) Drive { return d.withDefaults(alike[d.Kind] == 1) })
	h.Selectors = walk.Each(h.Selectors, func(s Selector) Selector {
		s.Name = cmp.Or(s.Name, string(s.ID))
		if s.At == "" && len(s.Positions) > 0 {
			s.At = s.Positions[0].Name
		}
		return s
	})
}

func (c Control) withDefaults() Control {
	c.Name = cmp.Or(c.Name, string(c.ID))
	c.Stages = walk.Each(c.Stages, func(s Stage) Stage {
		s.Name = cmp.Or(s.Name, s.Mode.String())
		s.Differential = s.differential()
		if s.Mode.Quantity() == Humidity {
			s.Tolerance = cmp.Or(s.Tolerance, defaultHumid)
		}
		s.Tolerance = cmp.Or(s.Tolerance, defaultTolerance)
		return s
	})
	return c
}

// differential is the differential in force.
func (s *Stage) differential() float64 {
	if s.Mode.Quantity() == Humidity {
		return cmp.Or(s.Differential, defaultHumid)
	}
	return cmp.Or(s.Differential, defaultDifferential)
}

// withDefaults names a drive after its kind when it is the only one of it.
func (d Drive) withDefaults(only bool) Drive {
	if only {
		d.Name = cmp.Or(d.Name, strings.ReplaceAll(string(d.Kind), "-", " "))
	}
	d.Name = cmp.Or(d.Name, string(d.ID))
	return d.InForce()
}

// InForce is d with nothing but its name left to default.
func (d Drive) InForce() Drive {
	answer, effect, priority := control.DefaultAnswer, time.Duration(-1), Medium
	switch d.Kind {
	case IntakeShutter:
		answer = control.DefaultShutter
	case Misting:
		effect = control.DefaultEffect
	case ExhaustFan, Heater:
		effect, priority = control.DefaultEffect, High
	}
	d.Start, d.Stop = cmp.Or(d.Start, answer), cmp.Or(d.Stop, answer)
	d.Effect = cmp.Or(d.Effect, effect) // stays negative where none is expected
	d.TimerTolerance = cmp.Or(d.TimerTolerance, defaultTimer)
	d.MaxStarts = cmp.Or(d.MaxStarts, control.DefaultStarts)
	d.Priority = cmp.Or(d.Priority, priority)
	d.Evidence = slices.Clone(d.Evidence)
	for i := range d.Evidence {
		if e := &d.Evidence[i]; e.Quantity == Contact && !e.Above.Set {
			e.Above = At(control.Closed)
		}
	}
	return d
}

// Covers reports whether some position of s says that the vent of a drive is covered.
func (s *Selector) Covers(id DriveID) bool {
	return slices.ContainsFunc(s.Positions, func(p Position) bool { return slices.Contains(p.Covered, id) })
}

// coverable are the kinds of drive that stand in a vent.
var coverable = []DriveKind{ExhaustFan, IntakeShutter}
