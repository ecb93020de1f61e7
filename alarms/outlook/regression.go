package outlook

import "math"

const (
	pairs      = width * (width - 1) / 2
	halfLife   = 30 * aDay // slots
	prior      = 3         // variance of each weight before anything was learned, and the most there may be of it
	nightNoise = 3.0       // times the variance of the errors by day: what the night teaches counts that much less
	together   = 24        // errors that overlap, and so count as one
	leastOf    = 0.03      // K, of a spread
)

// regression is recursive least squares with exponential forgetting over all
// targets, in the factored form of Bierman (1977, Factorization Methods for
// Discrete Sequential Estimation, chapter V): it stays positive definite in
// single precision. A second recursion with the same gain follows the size of
// the errors, of the hour ahead; what the other horizons have more or less of
// is in their quantiles.
type regression struct {
	upper    [pairs]float32 // unit upper triangle, by columns
	diagonal [width]float32
	weights  [sides][horizons][width]float32
	size     [sides][width]float32
}

func (r *regression) empty() {
	for i := range r.diagonal {
		r.diagonal[i] = prior
	}
	for side := range r.size {
		r.size[side][0] = 0.5
	}
}

// along gives the features along the factors of the covariance.
func (r *regression) along(x *features) (f features) {
	k := 0
	for j := range f {
		f[j] = x[j]
		for i := range j {
			f[j] += float64(r.upper[k]) * x[i]
			k++
		}
	}
	return f
}

// doubt is how many times its usual size an error may have, x being as far as it is
// from what was learned.
func (r *regression) doubt(x *features) float64 { return math.Sqrt(1 + together*r.leverage(x)) }

// leverage is the variance of the estimate in units of the errors' own.
func (r *regression) leverage(x *features) float64 {
	sum := 0.0
	for j, f := range r.along(x) {
		sum += float64(r.diagonal[j]) * f * f
	}
	return sum
}

// update takes x into the covariance, with a variance of the errors relative to
// the usual one, and returns the gain.
func (r *regression) update(x *features, noise float64) (gain features) {
	f := r.along(x)
	forget := math.Exp2(-1.0 / halfLife)
	alpha, k := forget*noise, 0
	for j := range f {
		g, before := float64(r.diagonal[j])*f[j], alpha
		alpha += f[j] * g
		r.diagonal[j] = short(min(float64(r.diagonal[j])*before/(alpha*forget), prior))
		for i := range j {
			u := float64(r.upper[k])
			r.upper[k] = short(u - f[j]/before*gain[i])
			gain[i] += u * g
			k++
		}
		gain[j] = g
	}
	for i := range gain {
		gain[i] /= alpha
	}
	return gain
}

// tell is the rise, or fall, that is expected over a horizon, in K.
func (r *regression) tell(x *features, side, h int) float64 {
	sum := dot(&r.weights[side][h], x)
	if side == Highest {
		return max(sum, 0)
	}
	return min(sum, 0)
}

// spread is the size of the errors that is expected, in K.
func (r *regression) spread(x *features, side int, doubt float64) float64 {
	return max(dot(&r.size[side], x), leastOf, 0.1*math.Abs(r.tell(x, side, 2))) * doubt
}

// learn takes the rise, or fall, that came after x. Where there was none and none
// was expected, how far from it nobody can say.
func (r *regression) learn(x, gain *features, side, h int, y float64) {
	w := &r.weights[side][h]
	e := y - dot(w, x)
	if y == 0 && (e > 0) == (side == Highest) {
		e = 0
	}
	add(w, gain, e)
	if horizonSlots[h] == hour {
		s := &r.size[side]
		add(s, gain, math.Abs(e)-dot(s, x))
	}
}

func dot(w *[width]float32, x *features) (sum float64) {
	for i, f := range x {
		sum += float64(w[i]) * f
	}
	return sum
}

func add(w *[width]float32, gain *features, by float64) {
	for i, g := range gain {
		w[i] = short(float64(w[i]) + g*by)
	}
}
