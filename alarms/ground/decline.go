package ground

import (
	"math"
	"time"
)

// declineDays is over how many days a decline is looked for.
const declineDays = 42

const (
	declineLeast = 21  // days with readings before any verdict
	declineK     = 1.0 // K over the days seen, from which a trend matters
	declineSure  = 3.0 // standard errors: by chance about once in 700 verdicts
	dayReadings  = 6   // readings that a day needs to count
)

// Decline watches an outlet for a slow drift against the season: the daily
// means of what was measured less what the ground and the house let expect.
// Heat taken from the ground faster than it comes back, a fan that wears out
// and a pipe that clogs all show so, weeks before they matter.
type Decline struct {
	Day   int                  `json:"day"`   // days since 1970-01-01 of the day that is being added up
	Count int                  `json:"count"` // readings in it
	Sum   float64              `json:"sum"`   // K
	Days  int                  `json:"days"`  // filled of the arrays, oldest first
	When  [declineDays]int     `json:"when"`
	Off   [declineDays]float64 `json:"off"` // K
}

// Trend is how the outlet drifts against the season.
type Trend struct {
	PerDay  float64 // K/day; negative: colder than the season
	Error   float64 // its standard error, K/day, neighbouring days being alike counted in
	Over    float64 // K over the days seen
	Days    int     // days with readings
	Drifted bool    // by 1 K or more, and by 3 standard errors
}

// Step takes an outlet with air moving and the temperature that it should
// have, in °C, for instance Leaving(house, soil.At(depth, day), effectiveness).
// Readings of a day before the one being added up are left out. The days are
// those of the zone of at.
func (d *Decline) Step(at time.Time, outlet, expected float64) {
	off := outlet - expected
	if math.IsNaN(off) || math.IsInf(off, 0) {
		return
	}
	_, zone := at.Zone()
	day := int(math.Floor(float64(at.Unix()+int64(zone)) / 86400))
	if (d.Count > 0 || d.Days > 0) && day < d.Day {
		return
	}
	if day != d.Day {
		d.end(day)
	}
	d.Count++
	d.Sum += off
}

// end files the day that is over and begins another.
func (d *Decline) end(day int) {
	if d.Count >= dayReadings {
		if d.Days == declineDays {
			copy(d.When[:], d.When[1:])
			copy(d.Off[:], d.Off[1:])
			d.Days--
		}
		d.When[d.Days], d.Off[d.Days] = d.Day, d.Sum/float64(d.Count)
		d.Days++
	}
	old := 0
	for old < d.Days && day-d.When[old] > declineDays {
		old++
	}
	if old > 0 {
		copy(d.When[:], d.When[old:d.Days])
		copy(d.Off[:], d.Off[old:d.Days])
		d.Days -= old
	}
	d.Day, d.Count, d.Sum = day, 0, 0
}

// Trend fits a straight line to the full days by least squares. ok is false
// with fewer than 21 of them.
func (d *Decline) Trend() (t Trend, ok bool) {
	n := float64(d.Days)
	if d.Days < declineLeast {
		return Trend{Days: d.Days}, false
	}
	var x, y float64
	for i := range d.Days {
		x += float64(d.When[i]) / n
		y += d.Off[i] / n
	}
	var sxx, sxy float64
	for i := range d.Days {
		dx := float64(d.When[i]) - x
		sxx += dx * dx
		sxy += dx * (d.Off[i] - y)
	}
	t = Trend{PerDay: sxy / sxx, Days: d.Days}
	left := make([]float64, d.Days)
	for i := range left {
		left[i] = d.Off[i] - y - t.PerDay*(float64(d.When[i])-x)
	}
	variance, alike := noise(left, 2)
	t.Error = math.Sqrt(variance * alike / sxx)
	t.Over = t.PerDay * float64(d.When[d.Days-1]-d.When[0])
	t.Drifted = math.Abs(t.Over) >= declineK && math.Abs(t.PerDay) >= declineSure*t.Error
	return t, true
}

// noise returns the variance of residuals in the order of time, of which so
// many parameters were fitted, and the factor by which a sum over neighbours
// that are alike varies more: (1+r)/(1-r), r being their correlation, taken as
// a first-order process and no more than 0.95.
func noise(left []float64, fitted int) (variance, alike float64) {
	var own, next float64
	for i, v := range left {
		own += v * v
		if i > 0 {
			next += v * left[i-1]
		}
	}
	if n := len(left) - fitted; n > 0 {
		variance = own / float64(n)
	}
	r := 0.0
	if n, p := float64(len(left)), float64(fitted); own > 0 && n > 2*p+2 {
		r = (next/own + p/n) / (1 - (p+2)/n) // fitting makes neighbours look less alike; after Kendall (1954), from memory
	}
	r = math.Max(0, math.Min(r, 0.95))
	return variance, (1 + r) / (1 - r)
}
