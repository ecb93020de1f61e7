package engine

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// coursePoints bounds the points from which a slope is taken.
const coursePoints = 20

// course is the recent course of a stream: at most coursePoints readings,
// thinned so that they span the window.
type course struct {
	N int                          `json:"n,omitempty"`
	T [coursePoints]timing.Instant `json:"t"`
	V [coursePoints]float64        `json:"v"`
}

// IsZero lets an empty course be left out of a snapshot.
func (c course) IsZero() bool { return c.N == 0 }

// add takes a reading and reports whether it was kept. Readings closer to
// the one before than a coursePoints-th of the window are left out.
func (c *course) add(now timing.Instant, v float64, window time.Duration) bool {
	old := 0
	for old < c.N && now.Since(c.T[old]) > window {
		old++
	}
	c.drop(old)
	if c.N > 0 && now.Since(c.T[c.N-1]) < window/coursePoints {
		return false
	}
	if c.N == coursePoints {
		c.drop(1)
	}
	c.T[c.N], c.V[c.N] = now, v
	c.N++
	return true
}

func (c *course) drop(n int) {
	if n == 0 {
		return
	}
	copy(c.T[:], c.T[n:c.N])
	copy(c.V[:], c.V[n:c.N])
	for i := c.N - n; i < c.N; i++ {
		c.T[i], c.V[i] = 0, 0
	}
	c.N -= n
}

// doubtedCourse is the course of a stream with the readings in it that were
// doubted by themselves.
type doubtedCourse struct {
	course
	Last   timing.Instant `json:"last"`             // doubted
	Odd    alarms.Fault   `json:"odd"`              // why
	Agreed bool           `json:"agreed,omitempty"` // two in a row were, or one was confirmed
}

func (d *doubtedCourse) clone() *doubtedCourse {
	if d == nil {
		return nil
	}
	c := *d
	return &c
}

// doubt takes a reading of st that is doubted by itself; again says that the one
// before it was too.
func (st *stream) doubt(now timing.Instant, v float64, odd alarms.Fault, again bool) {
	if st.Doubted == nil {
		st.Doubted = &doubtedCourse{course: st.Course}
	}
	d := st.Doubted
	d.Last, d.Odd, d.Agreed = now, odd, d.Agreed || again
	d.add(now, v, st.window())
}

// settleDoubt takes a reading of st that is believed beside those that were
// doubted: they are forgotten if it does not bear them out, or once they are of
// the past.
func (st *stream) settleDoubt(now timing.Instant, v float64) {
	switch d := st.Doubted; {
	case d == nil:
	case !d.Agreed, now.Since(d.Last) > st.window():
		st.Doubted = nil
	default:
		d.add(now, v, st.window())
	}
}

// slope returns the Theil-Sen slope per hour: the median of the slopes
// between all pairs of points (Theil 1950; Sen 1968, J. Amer. Stat. Assoc.
// 63:1379). It bears nearly 3 in 10 wild points. ok is false with fewer than
// five points, or when they span less than 6/10 of the window.
func (c *course) slope(window time.Duration) (perHour float64, ok bool) {
	if !c.enough(window) {
		return 0, false
	}
	return c.slopeFrom(0), true
}

func (c *course) enough(window time.Duration) bool {
	return c.N >= alarms.LeastReadings && c.T[c.N-1].Since(c.T[0]) >= window*6/10
}

// recent is the slope over the last third of the window, where at least four
// points lie: what a person sees happen now.
func (c *course) recent(window time.Duration) (perHour float64, ok bool) {
	first := 0
	for first < c.N && c.T[c.N-1].Since(c.T[first]) > window/3 {
		first++
	}
	if c.N-first < 4 || c.T[c.N-1].Since(c.T[first]) < window/6 {
		return 0, false
	}
	return c.slopeFrom(first), true
}

func (c *course) slopeFrom(first int) float64 {
	var pairs [coursePoints * (coursePoints - 1) / 2]float64
	n := 0
	for i := first + 1; i < c.N; i++ {
		for j := first; j < i; j++ {
			pairs[n] = (c.V[i] - c.V[j]) / c.T[i].Since(c.T[j]).Hours()
			n++
		}
	}
	return median(pairs[:n])
}

// median returns the median of v, whose order it changes.
func median(v []float64) float64 {
	mid := len(v) / 2
	upper := nth(v, mid)
	if len(v)%2 == 1 {
		return upper
	}
	lower := v[0]
	for _, x := range v[:mid] {
		lower = max(lower, x)
	}
	return (lower + upper) / 2
}

// nth puts the n-th smallest of v at v[n], smaller ones before it (Hoare's
// selection), and returns it.
func nth(v []float64, n int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		pivot, i, j := v[(lo+hi)/2], lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case n <= j:
			hi = j
		case n >= i:
			lo = i
		default:
			return v[n]
		}
	}
	return v[n]
}
