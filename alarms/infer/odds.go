package infer

import (
	"math"
	"time"
)

// fade lets a likelihood go towards even with time.
func fade(p float64, passed time.Duration) float64 {
	return p + (0.5-p)*lapse(passed, forget)
}

// lapse is the share of a first-order process that happens in a time.
func lapse(passed, constant time.Duration) float64 {
	return -math.Expm1(-float64(passed) / float64(constant))
}

func logistic(x float64) float64    { return 1 / (1 + math.Exp(-x)) }
func clip(x, bound float64) float64 { return math.Max(-bound, math.Min(bound, x)) }
func finite(x float64) bool         { return !math.IsNaN(x) && !math.IsInf(x, 0) }
