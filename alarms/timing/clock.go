package timing

import (
	"slices"
	"time"
)

// Clock is how the wall clock stands to the core's time.
type Clock struct {
	Ahead time.Duration `json:"ahead,omitempty"` // of the wall clock
	// Before is how far it was ahead before its newest steps, newest last.
	Before []time.Duration `json:"before,omitempty"`
}

// At returns what the wall clock shows at i, the zero time for none.
func (w *Clock) At(i Instant) time.Time {
	if i == 0 {
		return time.Time{}
	}
	return i.Add(w.Ahead).UTC()
}

// Core returns the moment at which the wall clock shows t, 0 for the zero time.
func (w *Clock) Core(t time.Time) Instant {
	if t.IsZero() {
		return 0
	}
	return At(t).Add(-w.Ahead)
}

// stepsKept is how many steps of the wall clock the clocks of probes are held
// against: one that was right before a step is not wrong after it.
const stepsKept = 4

// Measured returns the moment at which a probe's own clock showed t. Which of
// the two clocks is wrong after a step cannot be told, so the probe has the
// benefit of the doubt.
func (w *Clock) Measured(t time.Time, now Instant) Instant {
	best := w.Core(t)
	for _, ahead := range w.Before {
		if m := (&Clock{Ahead: ahead}).Core(t); now.Since(m).Abs() < now.Since(best).Abs() {
			best = m
		}
	}
	return best
}

// Step puts the wall clock forward by a time, back if that is negative.
func (w *Clock) Step(by time.Duration) {
	if len(w.Before) == stepsKept {
		w.Before = w.Before[1:]
	}
	w.Before = append(slices.Clip(w.Before), w.Ahead)
	w.Ahead += by
}
