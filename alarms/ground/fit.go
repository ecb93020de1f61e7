package ground

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Reading is one daily mean of the ground at a depth, as the outlet of a pipe
// shows it with air moving.
type Reading struct {
	Depth float64 // m
	Day   float64 // days from any 1 January; goes on over the years
	C     float64 // °C
}

// Surface is what is known of the surface from elsewhere, the outside air of
// the year for instance. It takes the place of a second depth.
type Surface struct {
	Swing, SwingError     float64 // K, half of the yearly swing, and its standard error; 0: not known
	Coldest, ColdestError float64 // day of the year, and its standard error in days; ColdestError 0: not known
}

// Estimate is a value with its 95 % interval.
type Estimate struct{ Value, Low, High float64 }

// Fit is what a year of readings says about the ground.
type Fit struct {
	Mean        Estimate // °C
	Swing       Estimate // K, at the surface
	Coldest     Estimate // day of the year at the surface; the interval may reach below 1 or above 365
	Diffusivity Estimate // m²/day
	Waves       []Wave   // by depth, the shallowest first
	Disagree    float64  // chi-square of the waves against one soil, per degree of freedom; well above 4: not one soil, or not the ground
}

// Wave is the yearly wave at one depth.
type Wave struct {
	Depth, Mean float64 // m, °C
	Swing       float64 // K, half of the yearly swing there
	Coldest     float64 // day of the year there
	Noise       float64 // K, standard deviation of the readings about the wave
	Readings    int
	MeanError   float64 // K, standard error of Mean
	SwingError  float64 // K, standard error of Swing
}

// Errors of a fit.
var (
	errTooFew  = errors.New("too little of the year to fit a yearly wave")
	errNoWave  = errors.New("no yearly wave that stands out of the noise")
	errNoDepth = errors.New("one depth alone cannot tell the swing of the surface from the diffusivity: give a second depth or what is known of the surface")
)

// FitSoil fits mean, surface swing, coldest day and diffusivity to readings of
// one or more depths.
//
// At each depth the readings are a mean and a cosine and sine of the year, by
// linear least squares. The logarithm of the swing then falls, and the phase
// grows, by depth over damping depth: both in a straight line with the same
// slope, which weighted least squares takes from all depths and from what is
// known of the surface.
//
// It takes for granted: one soil from the surface to the deepest pipe; a
// yearly wave and no other; no heat from the house or left by the loop itself;
// the same yearly mean at all depths; noise of a day that is the same over the
// year and like that of the days before it as in a first-order process. The
// intervals hold so far as this holds. They are those of a normal error with
// the number of readings allowed for, about 95 of 100 of them holding the truth.
func FitSoil(readings []Reading, surface Surface) (Fit, error) {
	sorted := slices.Clone(readings)
	slices.SortStableFunc(sorted, func(a, b Reading) int {
		return cmp.Or(cmp.Compare(a.Depth, b.Depth), cmp.Compare(a.Day, b.Day))
	})
	var fit Fit
	var line straight
	for len(sorted) > 0 {
		n := 1
		for n < len(sorted) && sorted[n].Depth == sorted[0].Depth {
			n++
		}
		w, err := FitWave(sorted[:n])
		if err != nil {
			return Fit{}, fmt.Errorf("at %v m: %w", sorted[0].Depth, err)
		}
		fit.Waves = append(fit.Waves, w)
		line.wave(w)
		sorted = sorted[n:]
	}
	if len(fit.Waves) == 0 {
		return Fit{}, errTooFew
	}
	line.surface(surface, fit.Waves[0].Coldest)
	return fit, fit.solve(line)
}

// solve turns the line through all depths into the four parameters.
func (f *Fit) solve(line straight) error {
	x, covariance, ok := line.solve()
	if !ok {
		return errNoDepth
	}
	if !(x[2] > 0) {
		return fmt.Errorf("the swing grows with depth, or the deeper wave comes first: %w", errNoWave)
	}
	var sum, weights float64
	least := math.MaxInt
	for _, w := range f.Waves {
		sum += w.Mean / (w.MeanError * w.MeanError)
		weights += 1 / (w.MeanError * w.MeanError)
		least = min(least, w.Readings)
	}
	q := quantile(least)
	f.Mean = around(sum/weights, q/math.Sqrt(weights))
	f.Swing = around(x[0], q*math.Sqrt(covariance[0][0])).through(math.Exp)
	days := yearDays / (2 * math.Pi)
	f.Coldest = around(x[1]*days, q*math.Sqrt(covariance[1][1])*days)
	if whole := dayOfYear(f.Coldest.Value) - f.Coldest.Value; whole != 0 {
		f.Coldest = Estimate{f.Coldest.Value + whole, f.Coldest.Low + whole, f.Coldest.High + whole}
	}
	k := around(x[2], q*math.Sqrt(covariance[2][2]))
	f.Diffusivity = Estimate{diffusivity(k.Value), diffusivity(k.High), diffusivity(k.Low)}
	f.Disagree = line.disagree(x)
	return nil
}

// diffusivity in m²/day from one over the damping depth; without end where
// the readings would let the wave go down undamped.
func diffusivity(k float64) float64 {
	if k <= 0 {
		return math.Inf(1)
	}
	return math.Pi / (yearDays * k * k)
}

func around(v, half float64) Estimate { return Estimate{v, v - half, v + half} }

func (e Estimate) through(f func(float64) float64) Estimate {
	return Estimate{f(e.Value), f(e.Low), f(e.High)}
}

// quantile is the 97.5 % point of Student's distribution for n readings of
// which three parameters were fitted, by the first terms of its expansion
// (Abramowitz and Stegun 1964, 26.7.5).
func quantile(n int) float64 {
	const z = 1.959964
	v := math.Max(float64(n-3), 3)
	return z + (z*z*z+z)/(4*v) + (5*z*z*z*z*z+16*z*z*z+3*z)/(96*v*v)
}
