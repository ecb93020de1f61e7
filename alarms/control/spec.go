package control

import (
	"errors"
	"fmt"
	"time"
)

// Spec is what a Judge knows of a thermostat and its drives: plain numbers as
// on the dial, and indices. All temperatures are in °C, all differences in K; of a
// stage that feels humidity both are in %.
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
	// called, until evidence shows it; 0: 2 min, 3 min for a shutter.
	Start, Stop time.Duration
	// Effect is how long it may run before the temperature must answer, of misting
	// the humidity; 0: 15 min; negative: no answer is expected. Only exhaust fans,
	// heaters and misting.
	Effect    time.Duration
	With      []int // must run (be open) whenever this one runs
	Without   []int // must not run while this one runs
	MaxStarts int   // an hour; 0: 10
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

// filled returns a copy of s with its defaults.
func (s Spec) filled() Spec {
	stages := append([]StageSpec(nil), s.Stages...)
	for i := range stages {
		if stages[i].Lag == 0 {
			stages[i].Lag = DefaultLag
		}
	}
	drives := append([]DriveSpec(nil), s.Drives...)
	for i := range drives {
		drives[i].fill()
	}
	return Spec{stages, drives, s.Turns}
}

func (d *DriveSpec) fill() {
	grace := 2 * time.Minute
	if d.Kind == IntakeShutter {
		grace = 3 * time.Minute
	}
	d.Start, d.Stop = orElse(d.Start, grace), orElse(d.Stop, grace)
	d.Effect = orElse(d.Effect, 15*time.Minute)
	d.MaxStarts = orElse(d.MaxStarts, 10)
	d.Evidence = append([]EvidenceSpec(nil), d.Evidence...)
	for i := range d.Evidence {
		e := &d.Evidence[i]
		if e.Above == 0 && e.What != Duct {
			e.Above = [...]float64{Contact: 0.5, Current: 0.1, Power: 10, EndSwitch: 0.5, Moving: 5}[e.What]
		}
	}
}

// Check returns all that is wrong with s, joined.
func (s Spec) Check() error {
	var wrong []error
	say := func(format string, args ...any) { wrong = append(wrong, fmt.Errorf(format, args...)) }
	among := func(of string, list []int) {
		for _, d := range list {
			if d < 0 || d >= len(s.Drives) {
				say("%s names drive %d of %d", of, d, len(s.Drives))
			}
		}
	}
	for i, st := range s.Stages {
		among(fmt.Sprintf("stage %d", i), st.Drives)
		if st.Mode.Above() && !(st.On > st.Off) {
			say("cooling or drying stage %d: on at %g must be above off at %g", i, st.On, st.Off)
		}
		if !st.Mode.Above() && !(st.On < st.Off) {
			say("heating or moistening stage %d: on at %g must be below off at %g", i, st.On, st.Off)
		}
		if st.Bulb < 0 || st.Bulb > len(s.Stages) {
			say("stage %d: bulb %d is not among those of %d stages", i, st.Bulb, len(s.Stages))
		}
		if !(st.Tolerance >= 0) || st.Lag < 0 {
			say("stage %d: tolerance %g K and lag %v must not be negative", i, st.Tolerance, st.Lag)
		}
	}
	for _, pair := range s.Turns {
		for _, i := range pair {
			if i < 0 || i >= len(s.Stages) {
				say("a turn names stage %d of %d", i, len(s.Stages))
			}
		}
	}
	for i, d := range s.Drives {
		among(fmt.Sprintf("drive %d", i), d.With)
		among(fmt.Sprintf("drive %d", i), d.Without)
		if d.Start < 0 || d.Stop < 0 || d.MaxStarts < 0 {
			say("drive %d: start %v, stop %v and most starts %d must not be negative", i, d.Start, d.Stop, d.MaxStarts)
		}
	}
	return errors.Join(wrong...)
}

func orElse[T comparable](v, otherwise T) T {
	var zero T
	if v == zero {
		return otherwise
	}
	return v
}
