package alarms

import (
	"time"

	"telltale/alarms/exposure"
)

// ExposureID names an exposure of a place: lower-case words joined by hyphens.
type ExposureID string

// Exposure says how long a place may be beyond a limit before that does harm.
// Its alarm is called, for example, "long-house/bench/exposure-fruit-set".
//
// Only what is known counts: a value holds until the next reading, but at most
// for Hold. Time in which nothing is known, and time of a restart, is neither
// exposure nor relief; it is counted apart.
type Exposure struct {
	ID       ExposureID
	Says     string // what it does, after a colon: "tomato fruit set is failing"
	Quantity Quantity
	// Exactly one of these is set. On the limit counts with the last two only.
	Above, Below, AtLeast, AtMost Limit
	// It counts only by day or by night, and only in some seasons (empty: all).
	When    Daypart
	Seasons []Season
	// It counts only while this other quantity is from WhileLow to WhileHigh,
	// of which one may be missing. Where probes differ, any of them will do.
	While               Quantity
	WhileLow, WhileHigh Limit
	// The limit: a time, or degree-hours beyond the limit of a temperature, K h.
	Time        time.Duration
	DegreeHours float64
	// Exactly one of these resets: what counts lies within the last Window; or
	// in one spell, which Gap within the limit ends; or it is reached on each of
	// so many days (from local midnight) or nights (from nightfall) running.
	Window time.Duration
	Gap    time.Duration
	Days   int
	Nights int
	// Hold is how long a value stands for what follows it; default half an
	// hour, or two intervals of the probe where that is longer.
	Hold time.Duration
	// Morning: what is reached after noon or by night is told when the next day
	// begins, once a place, and its end is not told: nobody can undo it by getting up.
	Morning  bool
	Priority Priority // default Medium
	Source   string   // where the figures come from
}

const defaultHold = 30 * time.Minute

func (x Exposure) withDefaults() Exposure {
	x.Priority = orPriority(x.Priority, Medium)
	if x.Nights > 0 {
		x.When = Night
	}
	return x
}

// bound returns the one limit of x, which side of it counts, and whether a
// value on it counts.
func (x *Exposure) bound() (l Limit, sign float64, on bool) {
	switch {
	case x.Above.Set:
		return x.Above, +1, false
	case x.Below.Set:
		return x.Below, -1, false
	case x.AtLeast.Set:
		return x.AtLeast, +1, true
	}
	return x.AtMost, -1, true
}

// rule is x as the meter wants it.
func (x *Exposure) rule() exposure.Rule {
	return exposure.Rule{Time: x.Time, DegreeHours: x.DegreeHours, Window: x.Window, Gap: x.Gap,
		Periods: max(x.Days, x.Nights)}
}

func (c *checker) exposures(where string, all []Exposure) {
	seen := map[ExposureID]bool{}
	for i := range all {
		x := &all[i]
		if x.ID == "" || seen[x.ID] {
			c.fail("%s: exposure %q: each exposure of a place needs a name of its own", where, x.ID)
		}
		seen[x.ID] = true
		c.exposure(where+", exposure "+string(x.ID), x)
	}
}

func (c *checker) exposure(where string, x *Exposure) {
	bounds := 0
	for _, l := range []Limit{x.Above, x.Below, x.AtLeast, x.AtMost} {
		if l.Set {
			bounds++
		}
	}
	if bounds != 1 {
		c.fail("%s: give one of above, below, at least and at most (got %d)", where, bounds)
	}
	if !x.Quantity.exposes() {
		c.fail("%s: %q is nothing to be exposed to", where, x.Quantity)
	}
	if x.While != "" && (!x.While.exposes() || x.While == x.Quantity || !x.WhileLow.Set && !x.WhileHigh.Set) {
		c.fail("%s: while needs another quantity and one bound of it at least (got %q)", where, x.While)
	}
	if x.While != "" && x.WhileLow.Set && x.WhileHigh.Set && x.WhileLow.Value > x.WhileHigh.Value {
		c.fail("%s: while: the low bound must not be above the high one (got %g and %g)", where, x.WhileLow.Value, x.WhileHigh.Value)
	}
	if x.Says == "" {
		c.fail("%s: say what it does to the crop", where)
	}
	if x.Days > 0 && x.Nights > 0 {
		c.fail("%s: give days or nights, not both", where)
	}
	if x.Nights > 0 && x.When == Day {
		c.fail("%s: what counts by day has no nights", where)
	}
	if err := x.rule().Check(); err != nil {
		c.fail("%s: %w", where, err)
	}
	if x.DegreeHours > 0 && x.Quantity != Temperature && x.Quantity != Surface && x.Quantity != Soil {
		c.fail("%s: degree-hours are for a temperature (got %s)", where, x.Quantity)
	}
	if x.Hold < 0 {
		c.fail("%s: hold must not be negative", where)
	}
}

// exposes reports whether a plant can be exposed to q.
func (q Quantity) exposes() bool {
	switch q {
	case Temperature, Humidity, Surface, Soil, VPD, DewMargin:
		return true
	}
	return false
}
