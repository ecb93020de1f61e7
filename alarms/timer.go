package alarms

import "container/heap"

// timer is one deadline. It may be set again at any time at the cost of one
// comparison: while it only moves later its place in the queue stays, and is
// put right when its turn comes.
type timer struct {
	due    instant // 0: off
	queued instant // its key in the queue; 0: not queued
	pos    int     // place in the queue
	order  int     // breaks ties: the order in which timers were built
	fire   func(due instant)
}

// queued is a timer in the queue, with what it is ordered by.
type queued struct {
	*timer
	at    instant // timer.queued
	order int
}

// timers is the queue of all deadlines, earliest first, ties by build order.
type timers struct {
	queue []queued
	built int

	hearing hearing  // wait.go
	stretch *stretch // in which they can, or will be able to; latch.go
	live    bool     // a reading is being judged
}

// deaf reports whether nothing can be heard, and what is judged is no reading.
func (q *timers) deaf() bool { return q.hearing.Blind != 0 && !q.live }

func (q *timers) build(fire func(due instant)) *timer {
	return newTimer(q.reserve(1), fire)
}

// reserve sets places aside for n timers and returns the first.
func (q *timers) reserve(n int) int {
	first := q.built + 1
	q.built += n
	return first
}

// afterRules is added to the order of a timer that looks, at an instant, at what
// all rules have found by then: what ends at that instant is not told again.
const afterRules = 1 << 30

func newTimer(order int, fire func(due instant)) *timer { return &timer{order: order, fire: fire} }

func (q *timers) set(t *timer, due instant) {
	t.due = due
	switch {
	case due == 0:
	case t.queued == 0:
		t.queued = due
		heap.Push(q, t)
	case due < t.queued:
		q.move(t)
	default: // one that moved later is put right, so that not all are at once
		if first := q.queue[0].timer; first.due > first.queued {
			q.move(first)
		}
	}
}

// move puts t where it is due.
func (q *timers) move(t *timer) {
	t.queued = t.due
	q.queue[t.pos].at = t.due
	heap.Fix(q, t.pos)
}

// runUntil fires every deadline up to and including now, in order. When all
// of one instant have fired, and before those after the rules, it calls settle
// for that instant.
func (q *timers) runUntil(now instant, settle func(instant)) {
	fired := instant(0)
	for {
		t := q.head(now)
		switch {
		case t != nil && t.due > t.queued:
			q.move(t)
		case fired != 0 && (t == nil || t.queued > fired || t.order >= afterRules):
			done := fired
			fired = 0
			settle(done) // may set deadlines that are due by now
		case t == nil:
			return
		default:
			heap.Pop(q)
			due := t.due
			t.queued, t.due = 0, 0
			if due != 0 {
				fired = due
				t.fire(due)
			}
		}
	}
}

// tidy drops what is off from the queue.
func (q *timers) tidy() {
	on := q.queue[:0]
	for _, one := range q.queue {
		if one.queued = one.due; one.due != 0 {
			one.at, one.pos = one.due, len(on)
			on = append(on, one)
		}
	}
	clear(q.queue[len(on):])
	q.queue = on
	heap.Init(q)
}

// head returns the first timer queued up to now, nil for none.
func (q *timers) head(now instant) *timer {
	if len(q.queue) == 0 || q.queue[0].at > now {
		return nil
	}
	return q.queue[0].timer
}

// next returns the earliest deadline, 0 for none. It may name a moment at
// which a deadline has since been moved later: looking then does no harm.
func (q *timers) next() instant {
	if len(q.queue) == 0 {
		return 0
	}
	return q.queue[0].at
}

// The heap.Interface.

func (q *timers) Len() int { return len(q.queue) }

func (q *timers) Less(i, j int) bool {
	a, b := &q.queue[i], &q.queue[j]
	if a.at != b.at {
		return a.at < b.at
	}
	return a.order < b.order
}

func (q *timers) Swap(i, j int) {
	q.queue[i], q.queue[j] = q.queue[j], q.queue[i]
	q.queue[i].pos, q.queue[j].pos = i, j
}

// Push is called by container/heap.
func (q *timers) Push(x any) {
	t := x.(*timer)
	t.pos = len(q.queue)
	q.queue = append(q.queue, queued{t, t.queued, t.order})
}

// Pop is called by container/heap.
func (q *timers) Pop() any {
	last := len(q.queue) - 1
	t := q.queue[last].timer
	q.queue[last] = queued{}
	q.queue = q.queue[:last]
	return t
}
