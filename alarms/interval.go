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

// Bounds on what is learned. What is slower needs its interval in the plan.
// Common practice, no source: many devices that send when something changes
// also send once an hour.
const (
	longestLearned = 65 * time.Minute // a learned wait: an hour, and five minutes for being late
	longestHabit   = 4 * time.Hour    // of a probe that sends when its value changes, and was so long silent on two days of a week
	habitDays      = 7
	unevenOneIn    = 5 // gaps that differ by half from the usual make a probe one that sends on change
)

// gapDay is what is kept of one day of a stream whose interval is learned.
type gapDay struct {
	Day     int64 `json:"day"` // since the epoch, of the core's time
	Longest int64 `json:"longest"`
	N       int   `json:"n"`
	Off     int   `json:"off,omitempty"` // of N: those that differ from the usual by more than half
}

// pacing is how often a stream reports and how long it may be silent; it
// follows from the plan and from what was learned.
type pacing struct {
	every   time.Duration // given or learned; 0: not yet known
	allowed time.Duration // silence
	grace   time.Duration // after a time in which nothing could be heard
}

// learn takes the time since the last message into the learned interval.
// dark is for how long nothing could be heard, in all: a gap that holds such a
// time says nothing.
func (st *stream) learn(now instant, dark time.Duration) {
	was := st.HeardDark
	st.HeardDark = dark
	if st.probe.plan.Every > 0 || st.Heard == 0 || st.Heard < st.Base || was != dark || now.since(st.Heard) < shortestGap {
		return
	}
	st.keepDay(now)
	if st.Silent {
		if st.LongGaps++; st.LongGaps < longGaps {
			st.setPace()
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
	st.setPace()
}

// keepDay takes the gap that ends now into the habits of st.
func (st *stream) keepDay(now instant) {
	gap, day := int64(now-st.Heard), int64(now)/int64(24*time.Hour)
	if n := len(st.Days); n == 0 || st.Days[n-1].Day != day {
		if n == habitDays {
			st.Days = slices.Delete(st.Days, 0, 1)
		}
		st.Days = append(st.Days, gapDay{Day: day})
	}
	d := &st.Days[len(st.Days)-1]
	d.N++
	d.Longest = max(d.Longest, gap)
	if usual := int64(st.pace.every); usual > 0 && (gap > usual*3/2 || gap < usual/2) {
		d.Off++
	}
}

// habit returns the longest silence that is a habit of st: of a probe that
// sends when its value changes, what it kept to on two days. 0 for none.
func (st *stream) habit() time.Duration {
	n, off, first, second := 0, 0, int64(0), int64(0)
	for _, d := range st.Days {
		n, off = n+d.N, off+d.Off
		if d.Longest > first {
			first, second = d.Longest, first
		} else {
			second = max(second, d.Longest)
		}
	}
	if off*unevenOneIn < n {
		return 0
	}
	return time.Duration(second)
}

// setPace finds anew how often st reports. A wait is the plan's multiple of
// the interval and a tenth of one, so that the last message awaited may be a
// little late. A learned one allows for its own unevenness: twice the longest
// gap of late, and a quarter more than what is a habit.
func (st *stream) setPace() {
	every := st.interval()
	st.pace.every = every
	st.pace.grace = max(every+every/10, firstAllowed)
	st.pace.allowed = time.Duration((st.probe.plan.MissesAllowed + 0.1) * float64(every))
	if st.probe.plan.Every > 0 {
		return
	}
	if every == 0 {
		st.pace.allowed, st.pace.grace = unlearned, unlearned/3
		return
	}
	longest := time.Duration(slices.Max(st.Gaps))
	d := min(max(st.pace.allowed, 2*longest), longestLearned)
	if usual := st.habit(); usual > d*4/5 {
		longest = max(longest, usual)
		d = min(usual*5/4, longestHabit)
	}
	st.pace.allowed = d
	st.pace.grace = min(max(st.pace.grace, longest*11/10), max(d, firstAllowed))
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

// patience is how long the wait of st that runs is: somewhat longer where it
// did not begin with a message.
func (st *stream) patience() time.Duration {
	if st.Wait.From == st.Base && st.Heard != st.Base {
		return max(st.pace.allowed, firstAllowed)
	}
	return st.pace.allowed
}

// await begins to wait for st's next message.
func (e *Engine) await(st *stream, now instant) {
	st.Wait = e.timers.hearing.wait(now)
	if st.leaf && !st.probe.Out {
		e.timers.set(st.deadline, now.add(st.patience()))
		st.node.onTimeUntil(now.add(st.pace.every * 3 / 2))
	}
}

// expect begins to wait for st as for one that must find the broker first.
func (e *Engine) expect(st *stream, now instant) {
	st.Base = now
	e.await(st, now)
}

// hear notes a live message of st that gave a value.
func (e *Engine) hear(st *stream, now instant) {
	e.alive(st, now)
	e.await(st, now)
}

// alive notes a live message of st, with a value or without.
func (e *Engine) alive(st *stream, now instant) {
	st.learn(now, e.timers.hearing.Dark)
	st.Heard = now
	if !st.leaf || st.probe.Out {
		return
	}
	st.node.onTimeUntil(now.add(st.pace.every * 3 / 2))
	st.Silent = false
	e.recount(st, now)
	e.notAlone(st)
}

// overdue is the end of the wait for st's next message, if nothing can prolong
// it: see hearing.over.
func (e *Engine) overdue(st *stream, due instant) {
	if st.Silent || st.probe.Out {
		return
	}
	switch end, ok := e.timers.hearing.over(st.Wait, st.patience(), st.pace.grace, due); {
	case !ok:
		e.aside = append(e.aside, st)
	case end > due:
		e.timers.set(st.deadline, end)
	default:
		e.fallSilent(st, due)
	}
}

// resume sets the waits that ended while nothing could be heard.
func (e *Engine) resume(now instant) {
	waiting := e.aside
	e.aside = nil
	for _, st := range waiting {
		if !st.Silent && !st.probe.Out && st.deadline.due == 0 {
			e.overdue(st, now)
		}
	}
}

// putAside takes the waits for a message that would end by now, while nothing can
// be heard and that is so until now, out of the queue in one go: one by one they
// would find no more than that, see overdue. Over a short time, in which few end, that is
// left to them.
func (e *Engine) putAside(from, now instant) {
	q := &e.timers
	if now.since(from) <= firstAllowed || q.hearing.Blind == 0 || q.hearing.Untold {
		return
	}
	n := len(e.aside)
	for _, h := range e.houses {
		for _, st := range h.streams {
			due := st.deadline.due
			if due == 0 || due > now || st.Silent || st.probe.Out {
				continue
			}
			if _, ok := q.hearing.over(st.Wait, st.patience(), st.pace.grace, due); !ok {
				st.deadline.due = 0
				e.aside = append(e.aside, st)
			}
		}
	}
	if len(e.aside) > n {
		q.tidy()
	}
}

func (e *Engine) fallSilent(st *stream, due instant) {
	if next := st.Heard.add(st.pace.allowed); st.Garbled > 0 && next > due { // heard, though not understood
		e.timers.set(st.deadline, next)
		e.unreadable(st, due)
		return
	}
	st.Silent, st.SilentAt = true, due
	st.forgetPresent()
	e.recount(st, due)
	e.rejudge(st.probe.place, due)
}
