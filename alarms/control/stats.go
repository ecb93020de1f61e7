package control

import (
	"math"
	"slices"
)

// medianOf sorts v.
func medianOf(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	return (v[n/2] + v[(n-1)/2]) / 2
}

// spreadOf is the standard deviation about the median m, from the median
// absolute deviation (1.4826 for a normal distribution: Hampel 1974, J. Am.
// Stat. Assoc. 69:383). It overwrites v.
func spreadOf(v []float64, m float64) float64 {
	for i := range v {
		v[i] = math.Abs(v[i] - m)
	}
	return 1.4826 * medianOf(v)
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
