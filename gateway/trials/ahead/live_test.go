package ahead_test

import (
	"slices"
	"time"
)

const (
	every   = 30 * time.Second // between two readings
	tick    = 10.0             // s, of the physics
	perDay  = int(24 * time.Hour / every)
	learned = 10 // days before anything is judged
)

// life is what a house went through.
type life struct {
	seed                uint64
	latitude, longitude float64
	begin               time.Time
	v                   []float64 // °C, a reading every half minute
	failures, stuck     int       // of the fan and of the shutter
}

func (l *life) at(i int) time.Time { return l.begin.Add(time.Duration(i) * every) }

// live lets a house live through some days. On one day in eight its fan fails for some
// hours, on one in sixteen its shutter sticks.
func live(seed uint64, days int) *life {
	h := newHouse(seed)
	l := &life{seed: seed, latitude: h.latitude, longitude: h.longitude, begin: h.at}
	for range days {
		fails, sticks := h.trouble(0.125), h.trouble(0.0625)
		if fails[0] < fails[1] {
			l.failures++
		}
		if sticks[0] < sticks[1] {
			l.stuck++
		}
		for i := range perDay {
			h.dead, h.stuck = fails[0] <= i && i < fails[1], sticks[0] <= i && i < sticks[1]
			for range 3 {
				h.step(tick)
			}
			l.v = append(l.v, h.reads())
		}
	}
	return l
}

// trouble draws whether, and from which to which reading of the day, something is wrong.
func (h *house) trouble(likely float64) (span [2]int) {
	is, from, hours := h.even() < likely, h.between(8, 16), h.between(0.5, 5)
	if is {
		span = [2]int{int(from * float64(perDay) / 24), int((from + hours) * float64(perDay) / 24)}
	}
	return span
}

// tops are the highest readings of the days from one on, and the lowest, sorted.
func (l *life) tops(from int) (high, low []float64) {
	for i := from * perDay; i+perDay <= len(l.v); i += perDay {
		high, low = append(high, slices.Max(l.v[i:i+perDay])), append(low, slices.Min(l.v[i:i+perDay]))
	}
	slices.Sort(high)
	slices.Sort(low)
	return high, low
}
