package control

import (
	"cmp"
	"slices"
	"time"
)

// Spec is what a Judge knows of a thermostat and its drives: plain numbers as
// on the dial, and indices. All temperatures are in °C, all differences in K; of a
// stage that feels humidity both are in %. It must be whole, as that of a checked plan
// is: indices of what is there, Off on its side of On, nothing below 0 that is not said to.
type Spec struct {
	Stages []StageSpec
	Drives []DriveSpec
	// Turns are pairs of stages that are one pair of contacts, with one set point
	// by day and one by night. While both act, about the turn, nothing is certain
	// but what both say; one that does not act says nothing.
	Turns [][2]int
}

// Mode says which way a stage works.
type Mode uint8

// Modes.
const (
	Cooling    Mode = iota // calls when it is warmer than On
	Heating                // calls when it is colder
	Drying                 // calls when it is more humid
	Moistening             // calls when it is drier
)

// Above reports whether a stage calls above On.
func (m Mode) Above() bool { return m == Cooling || m == Drying }

// Humid reports whether a stage feels the relative humidity, in %.
func (m Mode) Humid() bool { return m == Drying || m == Moistening }

// StageSpec is one pair of contacts of a thermostat.
type StageSpec struct {
	Mode      Mode
	On, Off   float64       // °C on the dial; On above Off when cooling, below when heating
	Tolerance float64       // K either way
	Bulb      int           // what it feels, of the temperatures and humidities that are told
	Lag       time.Duration // by which its bulb follows later than the probe; 0: DefaultLag
	Drives    []int
}

// DefaultLag is how much later than a bare probe the bulb of a mechanical
// thermostat is taken to follow (common practice, no source).
const DefaultLag = 3 * time.Minute

// DriveKind is what a drive is.
type DriveKind uint8

// Kinds of drive.
const (
	ExhaustFan DriveKind = iota
	IntakeShutter
	LoopFan
	Heater
	CirculatingFan
	GrowLight
	Misting
)

// DriveSpec is something that runs or moves. A shutter runs while it is open.
type DriveSpec struct {
	Kind     DriveKind
	Evidence []EvidenceSpec // in order of trust
	// Start and Stop are how long it may take, after it is called and no longer
	// called, until evidence shows it.
	Start, Stop time.Duration
	// Effect is how long it may run before the temperature must answer, of misting
	// the humidity; negative: no answer is expected. Only exhaust fans, heaters and
	// misting.
	Effect    time.Duration
	With      []int // must run (be open) whenever this one runs
	Without   []int // must not run while this one runs
	MaxStarts int   // an hour
}

// What says what kind of reading an evidence is.
type What uint8

// Kinds of evidence.
const (
	Contact   What = iota // 1 closed, 0 open
	Current               // A
	Power                 // W
	EndSwitch             // 1 made, 0 not
	Duct                  // °C in the duct
	Moving                // a speed or how far open, in %: shows running, never a draw
)

func (w What) electric() bool { return w == Current || w == Power }

// EvidenceSpec is a reading that shows whether a drive runs.
type EvidenceSpec struct {
	What     What
	Above    float64 // from which it runs; 0: 0.5 of a contact or end switch, 0.1 A, 10 W
	Inverted bool    // runs below Above instead
	// Every is the time between two readings; 0: not known, or sent on change.
	Every time.Duration
	// UsualLow and UsualHigh bound a current or power while it runs; both 0:
	// learned.
	UsualLow, UsualHigh float64
}

// Defaults of a drive, which alarms.Drive.InForce fills in. Common practice, no source.
const (
	DefaultAnswer  = 2 * time.Minute // until evidence shows it
	DefaultShutter = 3 * time.Minute // of a shutter, whose motor takes time
	DefaultEffect  = 15 * time.Minute
	DefaultStarts  = 10  // an hour
	Closed         = 0.5 // from here a contact is closed
)

// filled returns a copy of s with what is left to default: how its bulbs follow, and
// from where an evidence shows running.
func (s Spec) filled() Spec {
	s.Stages, s.Drives = slices.Clone(s.Stages), slices.Clone(s.Drives)
	for i := range s.Stages {
		s.Stages[i].Lag = cmp.Or(s.Stages[i].Lag, DefaultLag)
	}
	for i := range s.Drives {
		d := &s.Drives[i]
		d.Evidence = slices.Clone(d.Evidence)
		for k := range d.Evidence {
			if e := &d.Evidence[k]; e.What != Duct {
				e.Above = cmp.Or(e.Above, [...]float64{Contact: Closed, Current: 0.1, Power: 10, EndSwitch: Closed, Moving: 5}[e.What])
			}
		}
	}
	return s
}

// lifts reports whether what a drive answers by must rise.
func (d *DriveSpec) lifts() bool { return d.Kind == Heater || d.Kind == Misting }
