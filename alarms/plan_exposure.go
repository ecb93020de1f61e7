package alarms

import (
	"cmp"
	"slices"
	"time"

	"telltale/alarms/exposure"
	"telltale/alarms/tongue"
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

// DefaultHold is for how long, at least, what was known of an exposure stands for what
// is not known yet, where its Hold does not say; twice the interval of its probe if
// that is longer. Common practice, no source.
const DefaultHold = 30 * time.Minute

func (x Exposure) withDefaults() Exposure {
	x.Priority = cmp.Or(x.Priority, Medium)
	if x.Nights > 0 {
		x.When = Night
	}
	return x
}

// Bound returns the one limit of x, which side of it counts, and whether a
// value on it counts.
func (x *Exposure) Bound() (l Limit, sign float64, on bool) {
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

// Rule is x as the meter wants it.
func (x *Exposure) Rule() exposure.Rule {
	return exposure.Rule{Time: x.Time, DegreeHours: x.DegreeHours, Window: x.Window, Gap: x.Gap,
		Periods: max(x.Days, x.Nights)}
}

// Bounds of every length of time of an exposure, its least dose in K h, and how many
// days or nights there may be running.
const (
	LeastExposure, MostExposure = exposure.Shortest, exposure.Longest
	LeastDose, MostDose         = 0.1, 16000.0
	MostInRow                   = exposure.MostInRow
)

// limits are what x may be limited by, by their words.
func (x *Exposure) limits() (all []string) {
	for i, l := range []Limit{x.Above, x.Below, x.AtLeast, x.AtMost} {
		if l.Set {
			all = append(all, []string{"above", "below", "at-least", "at-most"}[i])
		}
	}
	return all
}

// resets are what lets x begin again, by their words.
func (x *Exposure) resets() (all []string) {
	for i, set := range []bool{x.Window != 0, x.Gap != 0, x.Days != 0, x.Nights != 0} {
		if set {
			all = append(all, []string{"within", "gap", "days-running", "nights-running"}[i])
		}
	}
	return all
}

func (f *housed) exposures(at Path, p *Place) {
	for i := range p.Exposures {
		x := &p.Exposures[i]
		at := at.to("exposure", string(x.ID))
		if !IsName(string(x.ID)) {
			f.fail(at, "the name of an exposure must be lower-case words joined by hyphens, such as \"fruit-set\" (got %q)", x.ID)
		}
		if slices.ContainsFunc(p.Exposures[:i], func(o Exposure) bool { return o.ID == x.ID }) {
			f.fail(at, "is the name of two exposures of this place: names must differ")
		}
		f.exposed(at, p, x)
		f.dose(at, x)
		f.while(at.to("while"), x)
		f.hold(at, p, x)
		if x.Says == "" {
			f.fail(at.to("harm"), "is missing: say what it does, for example harm = \"tomato fruit set is failing\"")
		}
	}
}

// exposed checks what x is an exposure to.
func (f *housed) exposed(at Path, p *Place, x *Exposure) {
	limits := x.limits()
	switch {
	case x.Quantity == "":
		f.fail(at.to("quantity"), "is missing: say what the plants are exposed to, for example quantity = \"temperature\"")
	case !x.Quantity.Facts().Exposing:
		f.fail(at.to("quantity"), "is nothing to be exposed to (got %q); that is %s", x.Quantity, listing(Exposed))
	}
	switch {
	case len(limits) == 0:
		f.fail(at, "has no limit: give above, below, at-least or at-most").
			rests(at.to("above"), at.to("below"), at.to("at-least"), at.to("at-most"))
	case len(limits) > 1:
		f.fail(at.to(limits[1]), "give one of above, below, at-least and at-most, not several (another is in %s)", at.to(limits[0]))
	case x.Quantity.Facts().Exposing:
		f.reachable(at.to(limits[0]), p, x)
	}
	for _, q := range []Quantity{x.Quantity, x.While} {
		if q != "" && !p.Sees(q) {
			var text tongue.Text = "rests on %s, which no probe of this place gives"
			if q.Derived() {
				text = "rests on %s, which no probe of this place gives; it is worked out from temperature and humidity"
			}
			f.fail(at, text, q).rests(at.to("quantity"))
		}
	}
}

// reachable demands that the one limit of x can be passed.
func (f *housed) reachable(at Path, p *Place, x *Exposure) {
	l, sign, on := x.Bound()
	q, facts := x.Quantity, x.Quantity.Facts()
	f.within(at, Amount{q, l.Value, false}, Amount{q, facts.Lowest, false}, Amount{q, facts.Highest, false})
	lo, hi, known := p.Reach(q)
	furthest := max(sign*lo, sign*hi)
	if known && lo < hi && (furthest < sign*l.Value || !on && furthest == sign*l.Value) {
		f.unreachable(at, p, q, l.Value)
	}
}

// dose checks how much is too much, and when it begins again.
func (f *housed) dose(at Path, x *Exposure) {
	resets := x.resets()
	reset := at
	if len(resets) > 0 {
		reset = at.to(resets[len(resets)-1])
	}
	switch {
	case x.Time == 0 && x.DegreeHours == 0:
		f.fail(at.to("for"), "is missing: say how long does harm, for example for = \"3h\", or give degree-hours").rests(at.to("degree-hours"))
	case x.Time != 0 && x.DegreeHours != 0:
		f.fail(at.to("degree-hours"), "give a time or degree-hours, not both (\"for\" is in %s)", at.to("for"))
	}
	switch err := x.Rule().Check(); {
	case len(resets) == 0:
		f.fail(at, "never begins anew: give within, gap, days-running or nights-running").
			rests(at.to("within"), at.to("gap"), at.to("days-running"), at.to("nights-running"))
	case len(resets) > 1:
		f.fail(reset, "give one of within, gap, days-running and nights-running, not several")
	case x.Window > 0 && x.Time > x.Window:
		f.fail(reset, "must not be shorter than the time that does harm (got %s, that is %s)", x.Window, x.Time)
	case err != nil && (x.Time == 0) != (x.DegreeHours == 0):
		f.fail(reset, "", err.Error())
	}
	if x.DegreeHours > 0 && x.Quantity != "" && !x.Quantity.Absolute() {
		f.fail(at.to("degree-hours"), "are for temperature, surface and soil (the quantity is %s)", x.Quantity)
	}
	if x.Nights > 0 && x.When == Day {
		f.fail(reset, "cannot be reached by what counts by day only: leave out when, or give days-running")
	}
	f.seasons(at, "seasons", x.Seasons)
}

// while checks what must hold too for x to count.
func (f *housed) while(at Path, x *Exposure) {
	q, lo, hi := x.While, x.WhileLow, x.WhileHigh
	switch {
	case q == "" && (lo.Set || hi.Set):
		f.fail(at.to("quantity"), "is missing: say what must hold too, for example quantity = \"temperature\"")
	case q == "":
	case !q.Facts().Exposing:
		f.fail(at.to("quantity"), "is nothing to be exposed to (got %q); that is %s", q, listing(Exposed))
	case q == x.Quantity:
		f.fail(at.to("quantity"), "must be another quantity than that of the exposure (got %q twice)", q)
	case !lo.Set && !hi.Set:
		f.fail(at, "sets no bounds: give from, to or both").rests(at.to("from"), at.to("to"))
	case lo.Set && hi.Set && lo.Value > hi.Value:
		f.fail(at.to("to"), "must not be below from (got %s, from is %s)", Amount{q, hi.Value, false}, Amount{q, lo.Value, false})
	}
}

// hold demands that a value stands for what follows it for as long as its probes are
// silent between two readings.
func (f *housed) hold(at Path, p *Place, x *Exposure) {
	if x.Hold < 0 {
		f.fail(at.to("hold"), "must not be negative (got %s)", x.Hold)
	}
	for _, pr := range p.Probes {
		if x.Hold > 0 && pr.Every > x.Hold {
			f.fail(at.to("hold"), "must not be shorter than the interval of probe %s, or most of the time would count as unknown (got %s, the interval is %s)",
				pr.ID, x.Hold, pr.Every)
		}
	}
}
