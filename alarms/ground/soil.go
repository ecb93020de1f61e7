// Package ground says how warm the ground is below the surface, and judges
// what air gains by passing through pipes buried in it: the heat or cold it
// delivers, how near it comes to the ground's temperature, which of two depths
// is the better one now, and whether a pipe has stopped working.
//
// Everything here is computing alone: times come in with the readings, and
// each state that grows with them is a plain struct that can be saved and
// brought back with encoding/json. Temperatures are in °C, differences in K,
// humidities in % over water as probes report them (NaN where unknown), flows
// in m³/s, powers in W, energies in kWh, depths in m below the surface.
package ground

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// yearDays is the period of the yearly wave in days. A leap year's last day counts
// as the first of the next, which is wrong by a day at most.
const yearDays = 365.0

// Soil is undisturbed ground: no pipe, no heated house above it, and one soil
// from the surface down.
type Soil struct {
	Mean        float64 `json:"mean"`        // °C, of the surface over the year
	Swing       float64 `json:"swing"`       // K, half of the yearly swing at the surface
	Coldest     float64 `json:"coldest"`     // day of the year, 1 to 365, on which the surface is coldest
	Diffusivity float64 `json:"diffusivity"` // m²/day; 0.03 dry clay, 0.05 common, 0.10 sand
}

// At returns the temperature in °C at a depth in m on a day of the year, by
// the equation of Kusuda and Achenbach (1965, ASHRAE Transactions 71(1):
// 61-74): the yearly wave of the surface, weaker and later with depth. NaN for
// a depth above the surface.
func (s Soil) At(depth, day float64) float64 {
	if !(depth >= 0) {
		return math.NaN()
	}
	phase := 2 * math.Pi / yearDays * (day - s.Coldest - s.Lag(depth))
	return s.Mean - s.swingAt(depth)*math.Cos(phase)
}

// damping returns the depth in m at which the yearly swing has fallen to 1/e,
// 37 % of the surface's.
func (s Soil) damping() float64 { return math.Sqrt(yearDays * s.Diffusivity / math.Pi) }

// swingAt returns half of the yearly swing in K at a depth in m.
func (s Soil) swingAt(depth float64) float64 { return s.Swing * math.Exp(-depth/s.damping()) }

// Lag returns by how many days the yearly wave at a depth in m is behind the
// surface.
func (s Soil) Lag(depth float64) float64 { return depth / s.damping() * yearDays / (2 * math.Pi) }

// ColdestAt returns the day of the year, 1 <= d < 366, on which the ground at a depth
// in m is coldest.
func (s Soil) ColdestAt(depth float64) float64 { return dayOfYear(s.Coldest + s.Lag(depth)) }

// Bounds of a Soil.
const (
	ColdestMean, WarmestMean          = -20.0, 40.0 // °C
	MostSwing                         = 40.0        // K
	LeastDiffusivity, MostDiffusivity = 0.005, 0.3  // m²/day
)

// Check says what cannot be true of any ground, all of it at once. The limits
// are wide: frozen tundra and desert pass.
func (s Soil) Check() error {
	var all []error
	demand := func(what string, v, low, high float64, unit string) {
		if !(v >= low && v <= high) {
			all = append(all, fmt.Errorf("%s of the ground is %v%s: want %v to %v", what, v, unit, low, high))
		}
	}
	demand("yearly mean", s.Mean, ColdestMean, WarmestMean, " °C")
	demand("surface swing", s.Swing, 0, MostSwing, " K")
	demand("coldest day", s.Coldest, 1, yearDays, "")
	demand("diffusivity", s.Diffusivity, LeastDiffusivity, MostDiffusivity, " m²/day")
	return errors.Join(all...)
}

// Day returns the day of the year with its fraction, 1 at the first midnight
// of the year in the zone of at.
func Day(at time.Time) float64 {
	h, m, s := at.Clock()
	return float64(at.YearDay()) + (float64(h)+float64(m)/60+float64(s)/3600)/24
}

// dayOfYear brings a day into 1 <= d < 366.
func dayOfYear(d float64) float64 {
	d = math.Mod(d-1, yearDays)
	if d < 0 {
		d += yearDays
	}
	return d + 1
}
