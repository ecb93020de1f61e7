package report

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/ground"
)

// Year is what a house was like over a year on the calendar, to be shown to others:
// nothing in it names the house, a place, a drive or a probe, or says where they are.
type Year struct {
	Span               // the whole year
	Counted  Span      // the part of it that is over
	Made     time.Time // when this was asked for
	Felt     Felt      // where its climate was measured
	Warmth   *Measure  // with a cell for each month, and days; nil: nothing measures it
	Moisture *Measure  // the same
	Fans     []YearFan // in the order of alarms.DriveKinds
	Depths   []YearDepth
	Soil     *alarms.Ground // nil: nobody has said what the ground is like
	ByHand   bool           // pipes are shut, or the air is turned round, by hand
}

// Felt says why the climate of a house is that of one of its places.
type Felt string

// Why a place stands for its house, the best first.
const (
	FeltAtLoop       Felt = "loop"       // its air enters the pipes
	FeltAtThermostat Felt = "thermostat" // a thermostat hangs there
	FeltAtLimit      Felt = "limit"      // its temperature has limits
	FeltAtFirst      Felt = "first"      // it is the first that has a thermometer
)

// FeltPlace is the place that stands for h; nil where it has no thermometer.
func FeltPlace(h *alarms.House) (*alarms.Place, Felt) {
	warm := func(id alarms.PlaceID) *alarms.Place {
		if p := h.Place(id); p != nil && p.Sees(alarms.Temperature) {
			return p
		}
		return nil
	}
	if h.Loop != nil {
		if p := warm(h.Loop.House); p != nil {
			return p, FeltAtLoop
		}
	}
	for _, c := range h.Controls {
		if p := warm(c.Place); p != nil {
			return p, FeltAtThermostat
		}
	}
	var first *alarms.Place
	for i := range h.Places {
		p := warm(h.Places[i].ID)
		if p == nil {
			continue
		}
		if slices.ContainsFunc(p.Bands, func(b alarms.Band) bool { return b.Quantity == alarms.Temperature }) {
			return p, FeltAtLimit
		}
		if first == nil {
			first = p
		}
	}
	return first, FeltAtFirst
}

// YearFan is how long the fans of one kind ran, together.
type YearFan struct {
	Kind     alarms.DriveKind
	Number   int // of fans
	Ran      time.Duration
	Inferred time.Duration // part of Ran known from temperatures alone
	Months   []FanMonth    // of the year, in order
}

// FanMonth is how long fans ran in a month.
type FanMonth struct {
	Ran   time.Duration
	Known bool // anything was heard of one of them
}

// YearDepth is what the pipes at one depth brought over a year: air at their outlets,
// while it moved, beside the undisturbed ground.
type YearDepth struct {
	Depth  float64      // m
	Days   []Cell       // of the air at the outlets, while it moved
	Months []DepthMonth // of the year, in order
	Wave   *ground.Wave // through the means of the days; nil: too little of the year for one
	// Ground is the day of the year, 1 to 366, on which the undisturbed ground is
	// coldest there, and Lag by how many days that is behind the surface. nil: not known.
	Ground, Lag *float64
}

// DepthMonth is one month at a depth. Ground is the undisturbed ground on the days
// whose air is known, of a month without any on all its days, °C; nil: not known.
type DepthMonth struct {
	Outlet Cell
	Ground *float64
}

// Months are the months on the calendar of zone that touch s, whole.
func Months(s Span, zone *time.Location) (out []Span) {
	y, m, _ := s.From.In(zone).Date()
	for from := midnight(y, m, 1, zone); from.Before(s.To); m++ {
		next := midnight(y, m+1, 1, zone)
		out = append(out, Span{from, next})
		from = next
	}
	return out
}

// CalendarYear is a year on the calendar of zone.
func CalendarYear(year int, zone *time.Location) Span {
	return Span{midnight(year, time.January, 1, zone), midnight(year+1, time.January, 1, zone)}
}

// DepthOf sums up one depth. m is the air at its outlets while it moved, with a cell
// for each month of the year and its days.
func DepthOf(depth float64, soil *alarms.Ground, m Measure, zone *time.Location) YearDepth {
	y := YearDepth{Depth: depth, Days: m.Days}
	var readings []ground.Reading
	for _, d := range m.Days {
		if d.Known > 0 {
			readings = append(readings, ground.Reading{Depth: depth, Day: middle(d.Span, zone), C: d.Mean})
		}
	}
	if w, err := ground.FitWave(readings); err == nil {
		y.Wave = &w
	}
	for _, month := range m.Cells {
		one := DepthMonth{Outlet: month}
		if soil != nil {
			c := soilOver(month, m.Days, depth, soil, zone)
			one.Ground = &c
		}
		y.Months = append(y.Months, one)
	}
	if soil != nil {
		coldest, lag := soil.ColdestAt(depth), soil.Lag(depth)
		y.Ground, y.Lag = &coldest, &lag
	}
	return y
}

// soilOver is the mean of the ground over those days of a month of which the air is
// known, or over all of them.
func soilOver(month Cell, days []Cell, depth float64, soil *alarms.Ground, zone *time.Location) float64 {
	sum, n := 0.0, 0
	add := func(s Span) { sum, n = sum+soil.At(depth, middle(s, zone)), n+1 }
	for _, d := range days {
		if d.Known > 0 && month.has(d.From) {
			add(d.Span)
		}
	}
	if n == 0 {
		for _, d := range Days(month.Span, zone) {
			add(d)
		}
	}
	return sum / float64(n)
}

// middle is the day of the year at the middle of a day.
func middle(s Span, zone *time.Location) float64 {
	return ground.Day(s.From.Add(s.To.Sub(s.From) / 2).In(zone))
}

// leastOfDay is how long the temperature of a day must be known for it to count as one
// with readings: what holds over midnight is no reading of the day.
const leastOfDay = time.Hour

// Blank are the stretches of whole days, today included, of which the temperature is not
// known for even an hour, and how many days that is.
func (y *Year) Blank(zone *time.Location) (out []Span, days int) {
	known := map[int64]bool{}
	if y.Warmth != nil {
		for _, d := range y.Warmth.Days {
			known[d.From.Unix()] = d.Known >= leastOfDay
		}
	}
	for _, d := range Days(y.Counted, zone) {
		if !known[d.From.Unix()] {
			out, days = append(out, d), days+1
		}
	}
	return Joined(out, y.Span), days
}
