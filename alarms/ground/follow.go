package ground

import (
	"math"
	"time"
)

// Flow is what the outlet of a pipe says about the air in it.
type Flow uint8

// Flows.
const (
	Unsure    Flow = iota // house and ground too alike, or not watched for long enough
	Moving                // the outlet keeps to the ground
	NotMoving             // the outlet follows the house although the fan should run: no flow, or air that takes a short cut
)

var flowNames = [...]string{"unsure", "moving", "not moving"}

func (f Flow) String() string { return name(flowNames[:], int(f)) }

const (
	followMemory = 3 * time.Hour    // over which a reading loses most of its say (to 1/e)
	followLeast  = 0.75             // hours of readings, as they count, before any verdict
	followGap    = 30 * time.Minute // a longer pause counts as this
	followStart  = 15 * time.Minute // after the fan starts, before the pipe shows its own temperature
	followsFrom  = 0.85             // share of the house in the outlet: not moving
	followsTo    = 0.70             // at or below: moving again
)

// Follow watches whether an outlet follows the house instead of the ground
// while the fan should run. It fits outlet - ground = share * (house - ground)
// to what it has heard, older readings counting less, and gives no verdict
// while house and ground are on average nearer than 3 K: both would fit. The
// probe must hang at the mouth of the pipe, in the house; one deep inside of
// the pipe shows the ground when nothing moves.
type Follow struct {
	Since   time.Time `json:"since,omitzero"` // when the fan was first seen to run without a break
	Last    time.Time `json:"last,omitzero"`
	Weight  float64   `json:"weight"`  // hours of readings that still count
	House2  float64   `json:"house2"`  // weighted sum of (house - ground)²
	Both    float64   `json:"both"`    // of (house - ground)(outlet - ground)
	Verdict Flow      `json:"verdict"` // the last one; unsure while the fan stands
}

// Step takes one reading of each, the temperature that the ground should have
// at the depth, and whether the fan should run. Readings out of order and
// those that are no number are left out.
func (f *Follow) Step(at time.Time, outlet, house, ground float64, running bool) Flow {
	x, y := house-ground, outlet-ground
	if math.IsNaN(x+y) || math.IsInf(x+y, 0) || !f.Last.IsZero() && !at.After(f.Last) {
		return f.Verdict
	}
	pause := time.Duration(0)
	if !f.Last.IsZero() {
		pause = at.Sub(f.Last)
	}
	f.Last = at
	keep := math.Exp(-float64(pause) / float64(followMemory))
	f.Weight, f.House2, f.Both = keep*f.Weight, keep*f.House2, keep*f.Both
	if !running {
		f.Since, f.Verdict = time.Time{}, Unsure
		return f.Verdict
	}
	if f.Since.IsZero() {
		f.Since = at
	}
	if at.Sub(f.Since) < followStart {
		return f.Verdict
	}
	share := min(pause, followGap).Hours()
	f.Weight += share
	f.House2 += share * x * x
	f.Both += share * x * y
	f.judge()
	return f.Verdict
}

// Share returns which share of the house is in the outlet: 0 the ground alone,
// 1 the house alone. ok is false while there is too little to tell it from.
func (f *Follow) Share() (share float64, ok bool) {
	if f.Weight < followLeast || f.House2 < closest*closest*f.Weight {
		return 0, false
	}
	return f.Both / f.House2, true
}

func (f *Follow) judge() {
	share, ok := f.Share()
	switch {
	case !ok:
		f.Verdict = Unsure
	case share >= followsFrom:
		f.Verdict = NotMoving
	case share <= followsTo || f.Verdict == Unsure:
		f.Verdict = Moving
	}
}
