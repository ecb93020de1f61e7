package engine

import (
	"slices"
	"time"

	"telltale/alarms/timing"
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
	shortestLearned = 2 * time.Minute  // a learned wait: a probe that sends every few seconds misses a dozen for no reason
	longestLearned  = 65 * time.Minute // a learned wait: an hour, and five minutes for being late
	longestHabit    = 4 * time.Hour    // of a probe that sends when its value changes, and was so long silent on two days of a week
	habitDays       = 7
	unevenOneIn     = 5 // gaps that differ by half from the usual make a probe one that sends on change
)

// gapDay is what is kept of one day of a stream whose interval is learned.
type gapDay struct {
	Day     int64 `json:"day"` // since the epoch, of the core's time
	Longest int64 `json:"longest"`
	N       int   `json:"n"`
	Off     int   `json:"off,omitempty"` // of N: those that differ from the usual by more than half
}

// usual is how often a stream reports and how long it may be silent; it
// follows from the plan and from what was learned.
type usual struct {
	every   time.Duration // given or learned; 0: not yet known
	allowed time.Duration // silence
	grace   time.Duration // after a time in which nothing could be heard
}

// learn takes the time since the last message into the learned interval.
// dark is for how long nothing could be heard, in all: a gap that holds such a
// time says nothing.
func (st *stream) learn(now timing.Instant, dark time.Duration) {
	was := st.HeardDark
	st.HeardDark = dark
	if st.probe.plan.Every > 0 || st.Heard == 0 || st.Heard < st.Base || was != dark || now.Since(st.Heard) < shortestGap {
		return
	}
	st.keepDay(now)
	if st.Silent {
		if st.LongGaps++; st.LongGaps < longGaps {
			st.setUsual()
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
	st.setUsual()
}

// keepDay takes the gap that ends now into the habits of st.
func (st *stream) keepDay(now timing.Instant) {
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
	if usual := int64(st.usual.every); usual > 0 && (gap > usual*3/2 || gap < usual/2) {
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

// setUsual finds again how often st reports. A wait is the plan's multiple of
// the interval and a tenth of one, so that the last message awaited may be a
// little late. A learned one allows for its own unevenness: twice the longest
// gap recently, and a quarter more than what is a habit; and it is never so short that a
// probe that sends often would be told silent for a moment of bad radio.
func (st *stream) setUsual() {
	every := st.interval()
	st.usual.every = every
	st.usual.grace = max(every+every/10, firstAllowed)
	st.usual.allowed = time.Duration((st.probe.plan.MissesAllowed + 0.1) * float64(every))
	if st.probe.plan.Every > 0 {
		return
	}
	if every == 0 {
		st.usual.allowed, st.usual.grace = unlearned, unlearned/3
		return
	}
	longest := time.Duration(slices.Max(st.Gaps))
	d := min(max(st.usual.allowed, 2*longest, shortestLearned), longestLearned)
	if usual := st.habit(); usual > d*4/5 {
		longest = max(longest, usual)
		d = min(usual*5/4, longestHabit)
	}
	st.usual.allowed = d
	st.usual.grace = min(max(st.usual.grace, longest*11/10), max(d, firstAllowed))
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
		return max(st.usual.allowed, firstAllowed)
	}
	return st.usual.allowed
}

// await begins to wait for st's next message.
func (st *stream) await(e *Engine, now timing.Instant) {
	st.Wait = e.panel.Timers.Hearing.Await(now)
	if st.leaf && !st.probe.Out {
		e.panel.Timers.Set(st.deadline, now.Add(st.patience()))
		st.node.onTimeUntil(now.Add(st.usual.every * 3 / 2))
	}
}

// expect begins to wait for st as for one that must find the broker first.
func (st *stream) expect(e *Engine, now timing.Instant) {
	st.Base = now
	st.await(e, now)
}

// hear notes a live message of st that gave a value.
func (st *stream) hear(e *Engine, now timing.Instant) {
	st.alive(e, now)
	st.await(e, now)
}

// alive notes a live message of st, with a value or without.
func (st *stream) alive(e *Engine, now timing.Instant) {
	st.learn(now, e.panel.Timers.Hearing.Dark)
	st.Heard = now
	if !st.leaf || st.probe.Out {
		return
	}
	st.node.onTimeUntil(now.Add(st.usual.every * 3 / 2))
	st.Silent = false
	e.recount(st, now)
	e.notAlone(st)
}

// overdue is the end of the wait for st's next message, if nothing can prolong
// it: see hearing.over.
func (st *stream) overdue(e *Engine, due timing.Instant) {
	if st.Silent || st.probe.Out {
		return
	}
	switch end, ok := e.panel.Timers.Hearing.Over(st.Wait, st.patience(), st.usual.grace, due); {
	case !ok:
		e.aside = append(e.aside, st)
	case end > due:
		e.panel.Timers.Set(st.deadline, end)
	default:
		st.fallSilent(e, due)
	}
}

// resume sets the waits that ended while nothing could be heard.
func (e *Engine) resume(now timing.Instant) {
	waiting := e.aside
	e.aside = nil
	for _, st := range waiting {
		if !st.Silent && !st.probe.Out && st.deadline.Due == 0 {
			st.overdue(e, now)
		}
	}
}

// putAside takes the waits for a message that would end by now, while nothing can
// be heard and that is so until now, out of the queue in one go: one by one they
// would find no more than that, see overdue. Over a short time, in which few end, that is
// left to them.
func (e *Engine) putAside(from, now timing.Instant) {
	q := &e.panel.Timers
	if now.Since(from) <= firstAllowed || q.Hearing.Blind == 0 || q.Hearing.Untold {
		return
	}
	n := len(e.aside)
	for _, h := range e.houses {
		for _, st := range h.streams {
			due := st.deadline.Due
			if due == 0 || due > now || st.Silent || st.probe.Out {
				continue
			}
			if _, ok := q.Hearing.Over(st.Wait, st.patience(), st.usual.grace, due); !ok {
				st.deadline.Due = 0
				e.aside = append(e.aside, st)
			}
		}
	}
	if len(e.aside) > n {
		q.Tidy()
	}
}

func (st *stream) fallSilent(e *Engine, due timing.Instant) {
	if next := st.Heard.Add(st.usual.allowed); st.Garbled > 0 && next > due { // heard, though not understood
		e.panel.Timers.Set(st.deadline, next)
		e.unreadable(st, due)
		return
	}
	st.Silent, st.SilentAt = true, due
	st.forgetPresent()
	e.recount(st, due)
	st.probe.place.rejudge(e, due)
}
