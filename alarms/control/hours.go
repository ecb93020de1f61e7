package control

import "time"

// Hours is what a timer of its own wants of a drive now, by local time.
type Hours struct {
	On    bool
	Since Moment        // it is to be on, or off, since
	Slack time.Duration // by which the timer may be off either way
	// Near are the two times that began last and the next two, in order; zero
	// where there is none.
	Near [4]Window
	// Ahead is how far the wall clock is ahead of moments: a run across a step of
	// it says nothing of the timer.
	Ahead time.Duration
}

func (h Hours) call() Call {
	if h.On {
		return Called
	}
	return NotCalled
}

// Window is a time in which a timer wants its drive on.
type Window struct{ On, Off Moment }

// lead is what is known of how far a timer is off: late where it is above 0.
type lead struct {
	Late time.Duration `json:"late,omitempty"`
	Due  Moment        `json:"due,omitempty"` // when the run that showed it should have begun
}

// slackOf is by how much later than wanted d's timer may switch and still be
// the one that it is known to be: nothing where no timer has it.
func (j *Judge) slackOf(d int) time.Duration {
	w := j.want(d)
	if w.Wish != ByHours {
		return 0
	}
	ds := &j.state.Drives[d]
	off := ds.Timer.Late.Abs()
	if r := ds.Open; r.Late {
		for _, n := range w.Hours.Near { // what began late may end as late
			if n.On < r.Started && r.Started < n.Off {
				off = max(off, r.Started.Since(n.On))
			}
		}
	}
	return w.Hours.Slack + off
}

// soonOn reports whether d's timer, as far off as it may be, may have begun its
// time already.
func (j *Judge) soonOn(now Moment, d int) bool {
	w := j.want(d)
	if w.Wish != ByHours {
		return false
	}
	slack := w.Hours.Slack + max(0, -j.state.Drives[d].Timer.Late)
	for _, n := range w.Hours.Near {
		if n.On > now && n.On.Since(now) <= slack {
			return true
		}
	}
	return false
}

// judgeTimer looks at a whole run for how far the timer is off: as late at its
// end as at its start. A run by hand says nothing. It reports whether the run was
// one that the timer should make.
func (j *Judge) judgeTimer(now Moment, d int, line Switching) (right bool) {
	ds, w := &j.state.Drives[d], j.want(d)
	r := &ds.Open
	if w.Wish != ByHours || r.Leapt || line.Ran == 0 || line.By == ByHand || line.By == ByTest {
		return false
	}
	late, due, ok := w.Hours.late(*r, now, ds.blur())
	g := &ds.Gates[TimerOff]
	right = ok && late == 0
	if g.On && (!ok || right || (late-ds.Timer.Late).Abs() > w.Hours.Slack+r.Blur) {
		j.endTimer(now, d)
	}
	if ok && !right && !g.On {
		ds.Timer, g.Since = lead{late, due}, r.Started
		j.raise(now, d, TimerOff)
	}
	return right
}

// halfDay is how far a timer can be told to be off: beyond that it is another day's.
const halfDay = 12 * time.Hour

// late returns how late a run began and ended against the time that it fits
// best, and which begins when it is due; 0 for within the slack. Start and stop
// were seen up to so long after they happened; ok is false where the run is as
// long as none of the times.
func (h *Hours) late(r openRun, stopped Moment, blur time.Duration) (late time.Duration, due Moment, ok bool) {
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

// blur is by how much later than it happened the last change of d may have been
// seen: its evidence is read so seldom.
func (ds *driveState) blur() time.Duration {
	if ds.Source < 0 {
		return 0
	}
	return ds.Evidence[ds.Source].Gap
}

// idleTimer forgets at the end of a day without a run how far the timer was off.
func (j *Judge) idleTimer(now Moment, d int) {
	if ds := &j.state.Drives[d]; ds.Gates[TimerOff].On && !ds.RanToday {
		j.endTimer(now, d)
	}
}

// dropTimer ends what is known of a timer that does not have d any more.
func (j *Judge) dropTimer(now Moment, d int) {
	if j.state.Drives[d].Gates[TimerOff].On && j.want(d).Wish != ByHours {
		j.endTimer(now, d)
	}
}

// endTimer ends that d's timer is off, and forgets by how much.
func (j *Judge) endTimer(now Moment, d int) {
	j.end(now, d, TimerOff)
	j.state.Drives[d].Timer = lead{}
}
