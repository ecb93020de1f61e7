package thermal

import "math"

const (
	marks     = 6
	quantiles = 3
	slight    = 0.5   // K, added to what was to come: errors are in shares of both
	unheard   = 10800 // s without a reading of outside, from which intervals are
	wider     = 1.6   // times as wide: the quick stops of a drive do not show how unsure the air outside is
	widening  = 0.6   // of an error, for each factor e beyond what was seen of a night
	slowest   = 60    // errors over which quantiles are learned, at most
	leastRest = 150   // s that a trial lasts at least
)

// markAt are how far ahead a trial is held against what came, in s.
var markAt = [marks]float64{240, 600, 1500, 3600, 9000, 21600}

// shares of the errors that lie below each quantile.
var shares = [quantiles]float64{0.1, 0.5, 0.9}

// trial is what was said would come when a drive stopped, or stood.
type trial struct {
	on, stopped bool           // stopped: it began with a stop of the drive
	next        int            // mark
	at, until   int64          // Unix s, the last when the drive was seen standing
	air, last   float64        // °C, then
	told        [marks]float32 // K from there
}

// spread is what is known of the errors so far ahead, in shares of what was to come.
type spread struct {
	q    [quantiles]float32
	size float32 // mean, of the errors
	n    float32
}

func (s *spread) empty() { *s = spread{q: [quantiles]float32{-0.5, 0, 0.5}, size: 0.3} }

// learn moves the quantiles to where their shares of the errors lie below them
// (Robbins & Monro 1951, Ann. Math. Stat. 22:400).
func (s *spread) learn(e float64) {
	s.n = min(s.n+1, slowest)
	pace := 1 / float64(s.n+2)
	s.size += float32(pace * (math.Abs(e) - float64(s.size)))
	for i, share := range shares {
		s.q[i] += float32(4 * pace * float64(s.size) * (share - yes(e < float64(s.q[i]))))
		if i > 0 {
			s.q[i] = max(s.q[i], s.q[i-1])
		}
	}
}

// was is how the house was at the step before.
type was struct {
	n     node
	at    int64 // Unix s
	wall  int64
	sun   float64
	share [drives]float64
}

// try goes on with the trial of a drive, and begins one when it stops, or stands where
// that tells something.
func (h *House) try(d Drive, last *was, air float64) {
	t := &h.trials[d]
	stopped := last.share[d] >= runs && h.share[d] < runs
	still := h.share[d] <= stands
	if t.on {
		h.goOn(d, still && !stopped, air)
	}
	switch {
	case !h.tells(d):
	case stopped:
		part := h.share[d] * float64(h.at-last.at)
		*t = trial{on: true, stopped: true, at: last.at + int64(part), air: last.n.probe}
		t.until, t.last = t.at, t.air
		h.tell(d, t, view{last.n, last.wall, last.sun})
	case still && !t.on:
		*t = trial{on: true, at: h.at, until: h.at, air: air, last: air}
		h.tell(d, t, h.view())
	}
}

// goOn takes a reading into a trial while its drive still stands, or ends it.
func (h *House) goOn(d Drive, still bool, air float64) {
	t := &h.trials[d]
	if still {
		t.until, t.last = h.at, air
	}
	passed := float64(t.until - t.at)
	for still && t.next < marks && passed >= markAt[t.next] {
		h.judge(d, t.next, passed)
		t.next++
	}
	if !still || !h.tells(d) {
		// What it would have been later nobody saw. It would have been at least as far
		// off: else the later marks would know only of spells that need no drive.
		for near := t.near(passed); passed >= leastRest && near < marks; near++ {
			if near >= t.next {
				h.judge(d, near, passed)
			}
		}
		if t.stopped && passed >= leastRest {
			h.stops[d] = min(h.stops[d]+1, enough)
		}
		t.on = false
	}
	t.on = t.on && t.next < marks
}

// near is the mark that is nearest to a span, by their ratio.
func (t *trial) near(passed float64) int {
	i := 0
	for i+1 < marks && passed > math.Sqrt(markAt[i]*markAt[i+1]) {
		i++
	}
	return i
}

// judge holds what was told for a span against the air as it is, as an error at a mark.
func (h *House) judge(d Drive, mark int, passed float64) {
	t := &h.trials[d]
	told, from, to := 0.0, 0.0, 0.0
	for i, at := range markAt {
		from, to = to, at
		last := told
		told = float64(t.told[i])
		if passed <= at {
			told = last + (told-last)*(passed-from)/(to-from)
			break
		}
	}
	e := (t.last - t.air - told) / (math.Abs(told) + slight)
	if d != ExhaustFan { // nights are long, and the air outside goes its own way
		e *= 1 + widening*math.Log(max(1, markAt[mark]/passed))
	}
	h.errors[d][mark].learn(e)
}

// quantiles of the errors so far ahead, in s. What was hardly ever held against anything
// is taken from the nearest before that was.
func (h *House) quantiles(d Drive, passed float64) (out [quantiles]float64) {
	e, from, to := &h.errors[d], 0, 0
	for k := 1; k < marks && passed > markAt[to]; k++ {
		if e[k].n >= few {
			from, to = to, k
		}
	}
	w := 1.0
	if from != to && passed < markAt[to] {
		w = math.Log(passed/markAt[from]) / math.Log(markAt[to]/markAt[from])
	}
	for i := range out {
		out[i] = float64(e[from].q[i])*(1-w) + float64(e[to].q[i])*w
	}
	if h.at-h.heard > unheard {
		for i := range out {
			out[i] = out[1] + (out[i]-out[1])*wider
		}
	}
	return out
}
