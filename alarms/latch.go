package alarms

import "time"

// latch turns a condition into on and off with a delay each way. Between
// "beyond" and "inside" lies the deadband, in which it keeps what it is.
//
// A delay only runs while the condition is seen to hold. While it is not known
// whether it does, the delay stands still; it goes on with the first reading by
// which the condition still holds, and is forgotten with one by which it does
// not.
type latch struct {
	latchState
	timers  *timers
	timer   *timer
	stretch *stretch // in which its delay runs; nil: none does
	keeps   bool
	changed func(due instant)
}

// latchState is what a snapshot keeps of a latch.
type latchState struct {
	On    bool          `json:"on,omitempty"`
	Since instant       `json:"since,omitempty"` // beyond since, kept while on
	Clear instant       `json:"clear,omitempty"` // inside since, while on
	Due   instant       `json:"due,omitempty"`   // of the running delay, in a snapshot
	Left  time.Duration `json:"left,omitempty"`  // of a delay that stands still

	Unsure bool `json:"unsure,omitempty"` // beyond by one doubted reading, which is not enough
	Late   bool `json:"late,omitempty"`   // the delay is over, and only that is waited for
}

// stretch is a time without a gap in which messages can be heard. That it has ended
// is found by each delay when it is looked at.
type stretch struct{ ended instant } // 0: it goes on

func newLatch(q *timers, changed func(due instant)) *latch {
	l := &latch{timers: q, changed: changed}
	l.timer = q.build(l.expire)
	return l
}

// judge tells l what holds at now. beyond and inside are not both true.
func (l *latch) judge(now instant, beyond, inside bool, onDelay, offDelay time.Duration) {
	l.catchUp()
	switch {
	case !l.On && beyond:
		l.count(&l.Since, now, onDelay)
		if l.Late && !l.Unsure {
			l.expire(now)
		}
	case !l.On:
		l.forget()
	case inside:
		l.count(&l.Clear, now, offDelay)
	default:
		l.forget()
	}
}

// count begins or goes on with a delay that began at from.
func (l *latch) count(from *instant, now instant, delay time.Duration) {
	switch {
	case l.timers.deaf(): // what is known is of before
	case *from == 0:
		*from = now
		l.start(now, delay)
	case l.Left > 0:
		delay, l.Left = l.Left, 0
		l.start(now, delay)
	}
}

func (l *latch) start(now instant, delay time.Duration) {
	if delay <= 0 {
		l.expire(now)
		return
	}
	l.set(now.add(delay))
}

func (l *latch) expire(due instant) {
	l.timer.due = due
	if l.catchUp() {
		return
	}
	l.set(0)
	switch {
	case l.On:
		l.On, l.Since, l.Clear = false, 0, 0
	case l.Unsure:
		l.Late = true
		return
	default:
		l.On, l.Late = true, false
	}
	l.changed(due)
}

// forget drops the delay that runs or stands still.
func (l *latch) forget() {
	if !l.On {
		l.Since = 0
	}
	l.Clear, l.Left, l.Late, l.Unsure = 0, 0, false, false
	if l.stretch != nil {
		l.set(0)
	}
}

// begin forgets the delay that runs towards off.
func (l *latch) begin() {
	if l.On {
		l.forget()
	}
}

// stand lets the delay that runs stand still from now on.
func (l *latch) stand(now instant) {
	if !l.catchUp() && l.stretch != nil {
		l.halt(now)
	}
}

// catchUp lets a delay stand still from when messages could not be heard any more,
// and reports whether it had run until then.
func (l *latch) catchUp() bool {
	if l.stretch == nil || l.stretch.ended == 0 {
		return false
	}
	l.halt(l.stretch.ended)
	return true
}

func (l *latch) halt(from instant) {
	if l.On && !l.keeps {
		l.forget()
		return
	}
	l.Left = max(l.timer.due.since(from), 1)
	l.set(0)
}

// runs reports whether a delay of l runs.
func (l *latch) runs() bool { return l.stretch != nil && l.stretch.ended == 0 }

func (l *latch) set(due instant) {
	l.timers.set(l.timer, due)
	if l.stretch = nil; due != 0 {
		l.stretch = l.timers.stretch
	}
}

// standStill lets every delay that runs stand still.
func (q *timers) standStill(now instant) {
	q.stretch.ended = now
	q.stretch = &stretch{}
}

func (l *latch) save() latchState {
	l.catchUp()
	s := l.latchState
	s.Due = l.timer.due
	return s
}

func (l *latch) load(s latchState) {
	l.latchState = s
	l.latchState.Due = 0
	l.set(s.Due)
}
