package control

import (
	"math"

	"telltale/alarms/timing"
)

const (
	driftMost   = 20 // cycles looked at
	driftLeast  = 6
	driftErrors = 2.0 // standard errors
	driftBack   = 0.8 // of the tolerance, to end
	medianError = 1.2533
	resolution  = 0.1 // K; a spread is never taken smaller
	lateApart   = 1.0 // K, of two late switchings that are a drift
	slackLeast  = 0.5 // K by which it may switch on beyond that
)

// drift is one switch point as found: the temperatures at which a drive was
// seen to start, or stop.
type drift struct {
	Told   bool           `json:"told,omitempty"`
	Since  timing.Instant `json:"since,omitempty"`
	Dial   float64        `json:"dial"`
	Found  float64        `json:"found,omitempty"` // °C, the median
	Temps  []float64      `json:"temps,omitempty"`
	Latest []float64      `json:"latest,omitempty"` // °C, of the last two: the most that the air had by then
}

// point is a switch point as it was found.
type point struct {
	Median float64 // °C
	Spread float64 // K, standard deviation about the median
	Error  float64 // K, standard error of the median
	Count  int     // cycles; 0: none
}

func (f *drift) point() point {
	n := len(f.Temps)
	if n == 0 {
		return point{}
	}
	var buf [driftMost]float64
	v := buf[:copy(buf[:], f.Temps)]
	m := medianOf(v)
	sd := math.Max(resolution, spreadOf(v, m))
	return point{m, sd, medianError * sd / math.Sqrt(float64(n)), n}
}

// found is where it switches as far as that is told, else the dial.
func (f *drift) found() float64 {
	if f.Told {
		return f.Found
	}
	return f.Dial
}

// still is up to where it may switch on, by where it was found to: beyond that it
// fails. sign is 1 where that is warmer, -1 where it is colder.
func (f *drift) still(sign float64) float64 {
	far := sign * f.found()
	for _, v := range f.Latest {
		far = math.Max(far, sign*v)
	}
	return far + math.Max(slackLeast, 2*f.point().Spread)
}

// late reports whether the last two switchings are beyond the dial by more than so
// much, above it or below by sign, and about the same.
func (f *drift) late(tolerance, sign float64) bool {
	n := len(f.Temps)
	if n < 2 {
		return false
	}
	a, b := f.Temps[n-2], f.Temps[n-1]
	return sign*(a-f.Dial) > tolerance && sign*(b-f.Dial) > tolerance && math.Abs(a-b) <= lateApart
}

// right reports whether the last two switchings are near the dial again.
func (f *drift) right(tolerance float64) bool {
	n := len(f.Temps)
	return n >= 2 && math.Abs(f.Temps[n-1]-f.Dial) <= driftBack*tolerance && math.Abs(f.Temps[n-2]-f.Dial) <= driftBack*tolerance
}

func (f *drift) take(temp float64) {
	if len(f.Temps) == driftMost {
		copy(f.Temps, f.Temps[1:])
		f.Temps = f.Temps[:driftMost-1]
	}
	f.Temps = append(f.Temps, temp)
}

// add adds a switching at temp, when the air had come to latest, and says whether that
// the switch point has drifted begins or ends. sign is 1 where it is late when warmer;
// twice lets the last two be enough.
func (f *drift) add(temp, latest, tolerance, sign float64, twice bool) step {
	f.take(temp)
	two := twice && f.late(tolerance, sign)
	f.Latest = append(f.Latest[max(0, len(f.Latest)-1):len(f.Latest):len(f.Latest)], latest)
	if !f.Told && two || f.Told && f.right(tolerance) { // the dial stands otherwise since
		f.Temps = append(f.Temps[:0], f.Temps[len(f.Temps)-2:]...)
	}
	p := f.point()
	f.Found = p.Median
	off := math.Abs(p.Median - f.Dial)
	switch {
	case !f.Told && off > tolerance && (p.Count >= driftLeast && off > driftErrors*p.Error || two):
		return begins
	case f.Told && off <= driftBack*tolerance:
		return ends
	}
	return stays
}
