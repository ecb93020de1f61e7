package alarms

import (
	"slices"
	"time"
)

const (
	gapsKept     = 9
	gapsNeeded   = 5
	longGaps     = 3                      // silences in a row after which they are taken for the habit
	shortestGap  = 500 * time.Millisecond // what follows sooner is one burst
	unlearned    = 30 * time.Minute       // allowed until an interval is learned
	firstAllowed = 2 * time.Minute        // at least, at the start: probes must find the broker
)

// learn takes the time since the last message into the learned interval.
func (st *stream) learn(now instant) {
	if st.probe.plan.Every > 0 || st.Heard == 0 || st.Heard < st.Base || now.since(st.Heard) < shortestGap {
		return
	}
	if st.Silent {
		if st.LongGaps++; st.LongGaps < longGaps {
			return // an outage, not a new habit
		}
	} else {
		st.LongGaps = 0
	}
	if len(st.Gaps) == gapsKept {
		copy(st.Gaps, st.Gaps[1:])
		st.Gaps = st.Gaps[:gapsKept-1]
	}
	if st.Gaps == nil {
		st.Gaps = make([]int64, 0, gapsKept)
	}
	st.Gaps = append(st.Gaps, int64(now-st.Heard))
}

// interval returns the expected interval, given or learned; 0 if not yet known.
func (st *stream) interval() time.Duration {
	if st.probe.plan.Every > 0 {
		return st.probe.plan.Every
	}
	if len(st.Gaps) < gapsNeeded {
		return 0
	}
	var sorted [gapsKept]int64
	n := copy(sorted[:], st.Gaps)
	slices.Sort(sorted[:n])
	return time.Duration(sorted[n/2])
}

// allowed returns how long st may be silent: the plan's multiple of the
// interval and a tenth of one, so that the last message awaited may be a
// little late. A learned interval allows for its own unevenness: half as much
// again as the longest gap of late.
func (st *stream) allowed() time.Duration {
	every := st.interval()
	if every == 0 {
		return unlearned
	}
	d := time.Duration((st.probe.plan.MissesAllowed + 0.1) * float64(every))
	if len(st.Gaps) > 0 {
		d = max(d, time.Duration(slices.Max(st.Gaps))*3/2)
	}
	return d
}

// expect starts the wait for st's next message anew, with time to spare.
func (e *Engine) expect(st *stream, now instant) {
	st.Base = now
	if st.leaf && !st.probe.Out && e.link.up() {
		e.timers.set(st.deadline, now.add(max(st.allowed(), firstAllowed)))
	}
}

// hear notes a live message of st.
func (e *Engine) hear(st *stream, now instant) {
	st.learn(now)
	st.Heard = now
	if !st.leaf || st.probe.Out {
		return
	}
	e.timers.set(st.deadline, now.add(st.allowed()))
	h := st.probe.place.house
	if st.Silent {
		st.Silent, st.Grace, st.GraceFor = false, 0, ""
		e.timers.set(st.grace, 0)
		e.review(h)
	} else if h.waiting {
		e.review(h)
	}
}

// fallSilent is the deadline of st's next message.
func (e *Engine) fallSilent(st *stream, due instant) {
	if st.Silent || !e.link.up() {
		return
	}
	st.Silent, st.SilentAt = true, due
	st.forgetPresent()
	e.rejudge(st.probe.place, due)
	e.review(st.probe.place.house)
}

func (e *Engine) endGrace(st *stream, due instant) {
	st.Grace, st.GraceFor = 0, ""
	e.review(st.probe.place.house)
}
