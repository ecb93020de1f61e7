package exposure

import (
	"errors"
	"math"
	"time"
)

// Bounds on a Rule, which keep its sums within 64 bits.
const (
	Longest   = 7 * 24 * time.Hour // of a window, a gap or a limit in hours
	Shortest  = time.Minute        // of a window, a gap or a limit in hours
	MostInRow = 30                 // periods
)

// doseUnits is how many units of dose there are to a degree-hour: a
// hundredth of a degree for a nanosecond is one unit.
const (
	perDegree   = 100
	mostDegrees = 100 // further beyond counts as this far
	doseUnits   = float64(perDegree) * float64(time.Hour)
	steps       = 96                  // of a window
	forgetAfter = 24 * time.Hour      // nothing known: a spell is forgotten
	longestLeap = 60 * 24 * time.Hour // nothing heard of at all: all is forgotten
)

// Rule says how much exposure is too much and when it is over. One of Time and
// DegreeHours is set, and one of Window, Gap and Periods.
type Rule struct {
	Time        time.Duration // this long beyond the limit
	DegreeHours float64       // or this many K h beyond it
	Window      time.Duration
	Gap         time.Duration
	Periods     int
}

// Check returns what makes r impossible, nil for nothing.
func (r Rule) Check() error {
	resets := 0
	for _, set := range []bool{r.Window != 0, r.Gap != 0, r.Periods != 0} {
		if set {
			resets++
		}
	}
	out := func(d time.Duration) bool { return d != 0 && (d < Shortest || d > Longest) }
	switch {
	case (r.Time == 0) == (r.DegreeHours == 0):
		return errors.New("give either a time or degree-hours")
	case out(r.Time):
		return errors.New("the time must be from 1 minute to 7 days")
	case r.DegreeHours < 0 || r.DegreeHours > mostDegrees*Longest.Hours() || math.IsNaN(r.DegreeHours):
		return errors.New("degree-hours must be above 0 and below 16800")
	case resets != 1:
		return errors.New("give one of a window, a gap and a number of days or nights")
	case out(r.Window):
		return errors.New("the window must be from 1 minute to 7 days")
	case out(r.Gap):
		return errors.New("the gap must be from 1 minute to 7 days")
	case r.Periods < 0 || r.Periods > MostInRow:
		return errors.New("the days or nights must be from 1 to 30")
	case r.Window != 0 && r.Time > r.Window:
		return errors.New("the time must not be longer than the window")
	}
	return nil
}

// limit returns r's limit in the unit of its sums: nanoseconds, or hundredths
// of a degree for a nanosecond.
func (r Rule) limit() int64 {
	if r.DegreeHours > 0 {
		return max(int64(math.Round(r.DegreeHours*doseUnits)), 1)
	}
	return int64(r.Time)
}

// step is the resolution of a window, whole nanoseconds.
func (r Rule) step() int64 { return (int64(r.Window) + steps - 1) / steps }

// weight is how much a nanosecond counts while the value is excess beyond.
func (r Rule) weight(excess float64) int64 {
	if r.DegreeHours == 0 {
		return 1
	}
	if !(excess > 0) {
		return 0
	}
	return int64(math.Round(min(excess, mostDegrees) * perDegree))
}
