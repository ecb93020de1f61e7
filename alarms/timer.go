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

// timers is the queue of all deadlines, earliest first, ties by build order.
type timers struct {
	queue []*timer
	built int
}

func (q *timers) build(fire func(due instant)) *timer {
	return newTimer(q.reserve(1), fire)
}

// reserve sets places aside for n timers and returns the first.
func (q *timers) reserve(n int) int {
	first := q.built + 1
	q.built += n
	return first
}

func newTimer(order int, fire func(due instant)) *timer { return &timer{order: order, fire: fire} }

func (q *timers) set(t *timer, due instant) {
	t.due = due
	switch {
	case due == 0:
	case t.queued == 0:
		t.queued = due
		heap.Push(q, t)
	case due < t.queued:
		t.queued = due
		heap.Fix(q, t.pos)
	}
}

// runUntil fires every deadline up to and including now, in order. When all
// of one instant have fired it calls settle for that instant.
func (q *timers) runUntil(now instant, settle func(instant)) {
	fired := instant(0)
	for {
		t := q.head(now)
		switch {
		case t != nil && t.due > t.queued:
			t.queued = t.due
			heap.Fix(q, 0)
		case fired != 0 && (t == nil || t.queued > fired):
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

// head returns the first timer queued up to now, nil for none.
func (q *timers) head(now instant) *timer {
	if len(q.queue) == 0 || q.queue[0].queued > now {
		return nil
	}
	return q.queue[0]
}

// next returns the earliest deadline, 0 for none. It may name a moment at
// which a deadline has since been moved later: looking then does no harm.
func (q *timers) next() instant {
	if len(q.queue) == 0 {
		return 0
	}
	return q.queue[0].queued
}

// The heap.Interface.

func (q *timers) Len() int { return len(q.queue) }

func (q *timers) Less(i, j int) bool {
	a, b := q.queue[i], q.queue[j]
	if a.queued != b.queued {
		return a.queued < b.queued
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
	q.queue = append(q.queue, t)
}

// Pop is called by container/heap.
func (q *timers) Pop() any {
	last := len(q.queue) - 1
	t := q.queue[last]
	q.queue[last] = nil
	q.queue = q.queue[:last]
	return t
}
