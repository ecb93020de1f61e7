package outlook

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The recursion gives what solving all at once gives: least squares with weights
// that halve in 30 days and the prior as one more observation of each weight
// (Ljung & Söderström 1983, Theory and Practice of Recursive Identification,
// chapter 2).
func TestRecursionIsLeastSquares(t *testing.T) {
	const n = 3000
	random := rand.New(rand.NewPCG(3, 3))
	var r regression
	r.empty()
	forget := math.Exp2(-1.0 / halfLife)
	var a [width][width + 1]float64 // normal equations
	for i := range width {
		a[i][i] = 1.0 / prior
	}
	for range n {
		var x features
		x[0] = 1
		for i := 1; i < width; i++ {
			x[i] = random.NormFloat64() + 0.5*x[i-1]
		}
		noise, y := 1+2*random.Float64(), 50+random.NormFloat64()
		for i, f := range x {
			y += float64(i%5-2) * f
		}
		gain := r.update(&x, noise)
		r.learn(&x, &gain, Highest, 3, y)
		for i := range a {
			for j := range width {
				a[i][j] = forget*a[i][j] + x[i]*x[j]/noise
			}
			a[i][width] = forget*a[i][width] + x[i]*y/noise
		}
	}
	for i := range a { // Gauss
		for k := range a {
			if k == i {
				continue
			}
			f := a[k][i] / a[i][i]
			for j := i; j <= width; j++ {
				a[k][j] -= f * a[i][j]
			}
		}
	}
	for i := range a {
		want, got := a[i][width]/a[i][i], float64(r.weights[Highest][3][i])
		if math.Abs(got-want) > 0.02 {
			t.Errorf("weight %d is %.4f, want %.4f", i, got, want)
		}
	}
}

// Half a year of nights, in which the sun's weights are never asked, leaves the
// covariance sound.
func TestRecursionStandsWhatNeverChanges(t *testing.T) {
	var r regression
	r.empty()
	for range 180 * aDay {
		x := features{1, -0.5}
		gain := r.update(&x, 1)
		r.learn(&x, &gain, Lowest, 2, -0.1)
	}
	for i, d := range r.diagonal {
		if !(d > 0 && d <= prior) {
			t.Errorf("diagonal %d is %v", i, d)
		}
	}
	x := features{1, -0.5}
	if got := r.tell(&x, Lowest, 2); math.Abs(got+0.1) > 0.01 {
		t.Errorf("it tells %.3f, want -0.1", got)
	}
	unlike := features{1, 2, 0, 0, 0, 0, 0, 0, 1, 1}
	if known, new := r.leverage(&x), r.leverage(&unlike); new < 100*known {
		t.Errorf("a day it has never seen is at %.3g, a night like all at %.3g", new, known)
	}
}
