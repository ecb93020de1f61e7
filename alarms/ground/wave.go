package ground

import "math"

const (
	fewest   = 24  // readings at a depth
	standsBy = 4.0 // standard errors by which a wave must stand out of the noise
	widest   = 4.0 // times the standard error of a full year, from which too much of the year is missing
)

// FitWave fits the yearly wave to the readings of one depth, which are in the order
// of days: mean, cosine and sine by linear least squares. An error says that too
// little of the year is there, or that no wave stands out of the noise.
func FitWave(r []Reading) (Wave, error) {
	var m [3][3]float64
	var b [3]float64
	for _, o := range r {
		s, c := math.Sincos(2 * math.Pi / yearDays * o.Day)
		row := [3]float64{1, c, s}
		for i := range row {
			b[i] += row[i] * o.C
			for j := range row {
				m[i][j] += row[i] * row[j]
			}
		}
	}
	inverse, ok := invert(m)
	if len(r) < fewest || !ok || !(inverse[1][1]+inverse[2][2] < widest*widest*4/float64(len(r))) {
		return Wave{}, errTooFew
	}
	x := times(inverse, b)
	left := make([]float64, len(r))
	for i, o := range r {
		s, c := math.Sincos(2 * math.Pi / yearDays * o.Day)
		left[i] = o.C - x[0] - x[1]*c - x[2]*s
	}
	variance, alike := noise(left, 3)
	variance = math.Max(variance, 1e-12) // of readings without noise
	swing := math.Hypot(x[1], x[2])
	w := Wave{
		Depth: r[0].Depth, Mean: x[0], Swing: swing, Readings: len(r), Noise: math.Sqrt(variance),
		Coldest:    dayOfYear(math.Atan2(-x[2], -x[1]) * yearDays / (2 * math.Pi)),
		MeanError:  math.Sqrt(variance * alike * inverse[0][0]),
		SwingError: math.Sqrt(variance * alike * (inverse[1][1] + inverse[2][2]) / 2),
	}
	if !(w.Swing > standsBy*w.SwingError) {
		return w, errNoWave
	}
	return w, nil
}

// straight is the weighted least squares of ln swing = a - k depth and phase =
// p + k depth, in the unknowns a, p and k.
type straight struct {
	m    [3][3]float64
	b    [3]float64
	rows []row
}

// row is one equation with its weight.
type row struct {
	x         [3]float64
	y, weight float64
}

func (s *straight) add(x [3]float64, y, err float64) {
	w := 1 / (err * err)
	for i := range x {
		s.b[i] += w * x[i] * y
		for j := range x {
			s.m[i][j] += w * x[i] * x[j]
		}
	}
	s.rows = append(s.rows, row{x, y, w})
}

// wave adds a depth: the error of the logarithm of its swing and that of its
// phase in radians are both the error of the swing over the swing. The phases
// of deeper waves are taken within half a year of the one before.
func (s *straight) wave(w Wave) {
	err := w.SwingError / w.Swing
	phase := w.Coldest * 2 * math.Pi / yearDays
	if n := len(s.rows); n > 0 {
		phase = nearest(phase, s.rows[n-1].y)
	}
	s.add([3]float64{1, 0, -w.Depth}, math.Log(w.Swing), err)
	s.add([3]float64{0, 1, w.Depth}, phase, err)
}

// surface adds what is known of the surface; its coldest day is taken to be up
// to 30 days after, and else before, that of the shallowest depth: after it
// only by the error of both.
func (s *straight) surface(known Surface, shallowest float64) {
	if known.Swing > 0 && known.SwingError > 0 {
		s.add([3]float64{1, 0, 0}, math.Log(known.Swing), known.SwingError/known.Swing)
	}
	if known.ColdestError > 0 {
		lag := dayOfYear(shallowest-known.Coldest+31) - 31
		s.add([3]float64{0, 1, 0}, (shallowest-lag)*2*math.Pi/yearDays, known.ColdestError*2*math.Pi/yearDays)
	}
}

func (s *straight) solve() (x [3]float64, covariance [3][3]float64, ok bool) {
	covariance, ok = invert(s.m)
	return times(covariance, s.b), covariance, ok
}

// disagree is the weighted square of what the line leaves, by degree of freedom.
func (s *straight) disagree(x [3]float64) float64 {
	var sum float64
	for _, r := range s.rows {
		d := r.y - r.x[0]*x[0] - r.x[1]*x[1] - r.x[2]*x[2]
		sum += r.weight * d * d
	}
	return sum / math.Max(float64(len(s.rows)-3), 1)
}

// nearest moves an angle by whole turns to within half a turn of another.
func nearest(angle, to float64) float64 {
	return angle - 2*math.Pi*math.Round((angle-to)/(2*math.Pi))
}

// invert returns the inverse of a symmetric matrix by cofactors; ok is false
// where its columns are as good as dependent.
func invert(m [3][3]float64) (inv [3][3]float64, ok bool) {
	for i := range 3 {
		for j := range 3 {
			a, b, c, d := (j+1)%3, (j+2)%3, (i+1)%3, (i+2)%3
			inv[i][j] = m[a][c]*m[b][d] - m[a][d]*m[b][c]
		}
	}
	det := m[0][0]*inv[0][0] + m[0][1]*inv[1][0] + m[0][2]*inv[2][0]
	if scale := m[0][0] * m[1][1] * m[2][2]; !(det > 1e-12*scale) {
		return inv, false
	}
	for i := range 3 {
		for j := range 3 {
			inv[i][j] /= det
		}
	}
	return inv, true
}

func times(m [3][3]float64, b [3]float64) (x [3]float64) {
	for i := range 3 {
		for j := range 3 {
			x[i] += m[i][j] * b[j]
		}
	}
	return x
}
