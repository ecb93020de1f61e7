package control

import (
	"time"

	"telltale/alarms/timing"
)

// Hours is what a timer of its own wants of a drive now, by local time.
type Hours struct {
	On    bool
	Since timing.Instant // it is to be on, or off, since
	Slack time.Duration  // by which the timer may be off either way
	// Near are the two times that began last and the next two, in order; zero
	// where there is none.
	Near [4]Window
	// Ahead is how far the wall clock is ahead of moments: a run across a step of
	// it says nothing of the timer.
	Ahead time.Duration
}

// Window is a time in which a timer wants its drive on.
type Window struct{ On, Off timing.Instant }

// lead is what is known of how far a timer is off: late where it is above 0.
type lead struct {
	Late time.Duration  `json:"late,omitempty"`
	Due  timing.Instant `json:"due,omitempty"` // when the run that showed it should have begun
}

// slack is by how much later than wanted a timer may switch and still be the one that
// it is known to be: nothing where no timer has the drive.
func (t *lead) slack(w *Want, r *openRun) time.Duration {
	if w.Wish != ByHours {
		return 0
	}
	off := t.Late.Abs()
	if r.Late {
		for _, n := range w.Hours.Near { // what began late may end as late
			if n.On < r.Started && r.Started < n.Off {
				off = max(off, r.Started.Since(n.On))
			}
		}
	}
	return w.Hours.Slack + off
}

// soonOn reports whether a timer, as far off as it may be, may have begun its time
// already.
func (t *lead) soonOn(now timing.Instant, w *Want) bool {
	if w.Wish != ByHours {
		return false
	}
	slack := w.Hours.Slack + max(0, -t.Late)
	for _, n := range w.Hours.Near {
		if n.On > now && n.On.Since(now) <= slack {
			return true
		}
	}
	return false
}

// halfDay is how far a timer can be told to be off: beyond that it is another day's.
const halfDay = 12 * time.Hour

// late returns how late a run began and ended against the time that it fits
// best, and which begins when it is due; 0 for within the slack. Start and stop
// were seen up to so long after they happened; ok is false where the run is as
// long as none of the times.
func (h *Hours) late(r *openRun, stopped timing.Instant, blur time.Duration) (late time.Duration, due timing.Instant, ok bool) {
	nearest := time.Duration(0)
	for _, n := range h.Near {
		may := min(h.Slack, n.Off.Since(n.On)/2)
		on, off := r.Started.Since(n.On), stopped.Since(n.Off)
		least, most := max(on-r.Blur, off-blur), min(on, off)
		if n.Off == 0 || least-most > may {
			continue
		}
		by, within := (least+most)/2, may+max(0, most-least)/2
		if by.Abs() > halfDay || ok && by.Abs() >= nearest {
			continue
		}
		nearest, late, due, ok = by.Abs(), by, n.On, true
		if nearest <= within {
			late = 0
		}
	}
	return late, due, ok
}
