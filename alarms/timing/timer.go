package timing

import "container/heap"

// Timer is one deadline. It may be set again at any time at the cost of one
// comparison: while it only moves later its place in the queue stays, and is
// put right when its turn comes.
type Timer struct {
	Due    Instant           // 0: off
	queued Instant           // its key in the queue; 0: not queued
	pos    int               // place in the queue
	order  int               // breaks ties: the order in which timers were built
	Fire   func(due Instant) // when it is due
}

// queued is a timer in the queue, with what it is ordered by.
type queued struct {
	*Timer
	at    Instant // timer.queued
	order int
}

// Queue is the queue of all deadlines, earliest first, ties by build order.
type Queue struct {
	queue []queued
	built int

	Hearing Hearing  // wait.go
	stretch *stretch // in which they can, or will be able to; latch.go
	Live    bool     // a reading is being judged
}

// NewQueue returns an empty queue.
func NewQueue() Queue { return Queue{stretch: &stretch{}} }

// Deaf reports whether nothing can be heard, and what is judged is no reading.
func (q *Queue) Deaf() bool { return q.Hearing.Blind != 0 && !q.Live }

// Build makes a timer that comes after those built before, among those due together.
func (q *Queue) Build(fire func(due Instant)) *Timer {
	return NewTimer(q.Reserve(1), fire)
}

// Reserve sets places aside for n timers and returns the first.
func (q *Queue) Reserve(n int) int {
	first := q.built + 1
	q.built += n
	return first
}

// AfterRules is added to the order of a timer that looks, at an instant, at what
// all rules have found by then: what ends at that instant is not told again.
const AfterRules = 1 << 30

// NewTimer makes a timer with a place of those that were reserved.
func NewTimer(order int, fire func(due Instant)) *Timer { return &Timer{order: order, Fire: fire} }

// Set lets t be due at an instant, 0 for never.
func (q *Queue) Set(t *Timer, due Instant) {
	t.Due = due
	switch {
	case due == 0:
	case t.queued == 0:
		t.queued = due
		heap.Push(q, t)
	case due < t.queued:
		q.move(t)
	default: // one that moved later is put right, so that not all are at once
		if first := q.queue[0].Timer; first.Due > first.queued {
			q.move(first)
		}
	}
}

// move puts t where it is due.
func (q *Queue) move(t *Timer) {
	t.queued = t.Due
	q.queue[t.pos].at = t.Due
	heap.Fix(q, t.pos)
}

// RunUntil fires every deadline up to and including now, in order. When all
// of one instant have fired, and before those after the rules, it calls settle
// for that instant.
func (q *Queue) RunUntil(now Instant, settle func(Instant)) {
	fired := Instant(0)
	for {
		t := q.head(now)
		switch {
		case t != nil && t.Due > t.queued:
			q.move(t)
		case fired != 0 && (t == nil || t.queued > fired || t.order >= AfterRules):
			done := fired
			fired = 0
			settle(done) // may set deadlines that are due by now
		case t == nil:
			return
		default:
			heap.Pop(q)
			due := t.Due
			t.queued, t.Due = 0, 0
			if due != 0 {
				fired = due
				t.Fire(due)
			}
		}
	}
}

// Tidy drops what is off from the queue.
func (q *Queue) Tidy() {
	on := q.queue[:0]
	for _, one := range q.queue {
		if one.queued = one.Due; one.Due != 0 {
			one.at, one.pos = one.Due, len(on)
			on = append(on, one)
		}
	}
	clear(q.queue[len(on):])
	q.queue = on
	heap.Init(q)
}

// Waiting are the timers in the queue, in no order.
func (q *Queue) Waiting() []*Timer {
	var all []*Timer
	for _, one := range q.queue {
		all = append(all, one.Timer)
	}
	return all
}

// head returns the first timer queued up to now, nil for none.
func (q *Queue) head(now Instant) *Timer {
	if len(q.queue) == 0 || q.queue[0].at > now {
		return nil
	}
	return q.queue[0].Timer
}

// Next returns the earliest deadline, 0 for none. It may name a moment at
// which a deadline has since been moved later: looking then does no harm.
func (q *Queue) Next() Instant {
	if len(q.queue) == 0 {
		return 0
	}
	return q.queue[0].at
}

// The heap.Interface.

// Len is asked by container/heap, as are Less and Swap.
func (q *Queue) Len() int { return len(q.queue) }

// Less reports whether i is due before j.
func (q *Queue) Less(i, j int) bool {
	a, b := &q.queue[i], &q.queue[j]
	if a.at != b.at {
		return a.at < b.at
	}
	return a.order < b.order
}

// Swap exchanges two places.
func (q *Queue) Swap(i, j int) {
	q.queue[i], q.queue[j] = q.queue[j], q.queue[i]
	q.queue[i].pos, q.queue[j].pos = i, j
}

// Push is called by container/heap.
func (q *Queue) Push(x any) {
	t := x.(*Timer)
	t.pos = len(q.queue)
	q.queue = append(q.queue, queued{t, t.queued, t.order})
}

// Pop is called by container/heap.
func (q *Queue) Pop() any {
	last := len(q.queue) - 1
	t := q.queue[last].Timer
	q.queue[last] = queued{}
	q.queue = q.queue[:last]
	return t
}
