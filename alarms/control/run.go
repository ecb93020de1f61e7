package control

import (
	"time"

	"telltale/alarms/timing"
)

// A run that was not called and lasts this long is taken as a test by hand.
const (
	handTestLeast = 30 * time.Second
	handTestMost  = 10 * time.Minute
)

// calledLately is how long after the dial was passed a start can still be its
// answer, unless it was told to be late.
const calledLately = 30 * time.Minute

// openRun is the run that goes on.
type openRun struct {
	Since     timing.Instant `json:"since,omitempty"`   // known to run since
	Started   timing.Instant `json:"started,omitempty"` // 0: not seen
	Call      call           `json:"call"`
	Temp      float64        `json:"temp,omitempty"`
	TempKnown bool           `json:"tempKnown,omitempty"`
	Before    float64        `json:"before,omitempty"` // °C, median of the readings at the start
	Lift      float64        `json:"lift,omitempty"`   // K, by which that was above outside
	LiftKnown bool           `json:"liftKnown,omitempty"`
	Wish      Wish           `json:"wish,omitempty"`
	Uncalled  bool           `json:"uncalled,omitempty"` // began while not called, and was not called since
	Asked     bool           `json:"asked,omitempty"`    // barred, and the dial asked for it
	Mistaken  bool           `json:"mistaken,omitempty"` // began while not called
	Test      bool           `json:"test,omitempty"`     // announced
	Spoilt    bool           `json:"spoilt,omitempty"`   // a verdict fell on it
	Late      bool           `json:"late,omitempty"`     // it was told that it had not started
	Checked   bool           `json:"checked,omitempty"`  // its effect was looked for
	Leapt     bool           `json:"leapt,omitempty"`    // the wall clock was set in it

	Blur time.Duration `json:"blur,omitempty"` // by which its start may have been seen late
}

// line is the line of the log about a run that has not stopped.
func (r *openRun) line(d int, by By) Switching {
	l := Switching{Drive: d, Stage: r.Call.Stage, By: by, Called: r.Call.Called, CalledTemp: r.Call.CalledT,
		Ran: r.Started, RanTemp: r.Temp, RanTempKnown: r.TempKnown}
	if l.Called != 0 && l.Ran != 0 {
		l.RanAfter = l.Ran.Since(l.Called)
	}
	if l.RanAfter > calledLately && !r.Late { // the dial was passed long before: not of this start
		l.Called, l.CalledTemp, l.RanAfter = 0, 0, 0
	}
	return l
}

// by says who made a run.
func (r *openRun) by(now timing.Instant, seen bool) By {
	switch length := now.Since(r.Started); {
	case r.Started == 0:
		return ByNobody
	case r.Test:
		return ByTest
	case r.Asked:
		return ByNobody
	case r.Mistaken && seen && length >= handTestLeast && length <= handTestMost:
		return ByHand
	case r.Wish == Rest, r.Wish == Barred, r.Mistaken:
		return ByMistake
	case r.Wish == Run, r.Wish == ByTurns, r.Wish == ByHours:
		return ByWish
	case r.Wish == Follow:
		return ByThermostat
	}
	return ByNobody
}

const (
	risesStill = 0.5 // K above the start, where it is well above outside
	answersBy  = 0.5 // K that ends NoEffect
	risesBy    = 1.0 // K above the start, where outside is not known
	chillsBy   = 0.3 // K below the start, under a heater
)

// wellAbove is by how many kelvin a house must be warmer than outside that a
// running exhaust fan must show in its temperature.
const wellAbove = 6.0

// answered reports whether the air has answered to a run of a drive after all.
func (r *openRun) answered(spec *DriveSpec, felt *series, now timing.Instant) bool {
	t, ok := felt.median(now, recent)
	ok = ok && r.Started != 0
	if spec.lifts() {
		return ok && t > r.Before+answersBy
	}
	return ok && t < r.Before-answersBy
}

// vain reports whether a run of a drive has changed nothing by the time that it
// should have.
func (r *openRun) vain(spec *DriveSpec, felt *series, around *air) bool {
	t, ok := felt.mildest(around.now, recent, spec.lifts())
	out, outside := around.outside.at(around.now)
	switch {
	case !ok:
		return false
	case spec.Kind == Misting:
		return t <= r.Before
	case spec.Kind == Heater:
		colder := outside && r.LiftKnown && t-out >= r.Lift // it warms, and the night is too cold for it
		return t < r.Before-chillsBy && !colder
	case outside:
		return t > r.Before+risesStill && t-out >= wellAbove
	}
	return t > r.Before+risesBy
}
