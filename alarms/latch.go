package alarms

import "time"

// latch turns a condition into on and off with a delay each way. Between
// "beyond" and "inside" lies the deadband, in which it keeps what it is.
type latch struct {
	latchState
	timers  *timers
	timer   *timer
	changed func(due instant)
}

// latchState is what a snapshot keeps of a latch.
type latchState struct {
	On    bool    `json:"on,omitempty"`
	Since instant `json:"since,omitempty"` // beyond since, kept while on
	Clear instant `json:"clear,omitempty"` // inside since, while on
	Due   instant `json:"due,omitempty"`   // of the running delay, in a snapshot
}

func newLatch(q *timers, changed func(due instant)) *latch {
	l := &latch{timers: q, changed: changed}
	l.timer = q.build(l.expire)
	return l
}

// judge tells l what holds at now. beyond and inside are not both true.
func (l *latch) judge(now instant, beyond, inside bool, onDelay, offDelay time.Duration) {
	switch {
	case !l.On && beyond:
		if l.Since == 0 {
			l.Since = now
			l.start(now, onDelay)
		}
	case !l.On:
		l.forget()
	case inside:
		if l.Clear == 0 {
			l.Clear = now
			l.start(now, offDelay)
		}
	default:
		l.Clear = 0
		l.timers.set(l.timer, 0)
	}
}

func (l *latch) start(now instant, delay time.Duration) {
	if delay <= 0 {
		l.expire(now)
		return
	}
	l.timers.set(l.timer, now.add(delay))
}

func (l *latch) expire(due instant) {
	if l.On {
		l.On, l.Since, l.Clear = false, 0, 0
	} else {
		l.On = true
	}
	l.changed(due)
}

// forget drops a delay that runs towards on; towards off likewise, since off
// too needs evidence.
func (l *latch) forget() {
	if !l.On {
		l.Since = 0
	}
	l.Clear = 0
	if l.timer.due != 0 {
		l.timers.set(l.timer, 0)
	}
}

// doubt drops only a delay that runs towards off.
func (l *latch) doubt() {
	if l.On {
		l.forget()
	}
}

func (l *latch) save() latchState {
	s := l.latchState
	s.Due = l.timer.due
	return s
}

func (l *latch) load(s latchState) {
	l.latchState = s
	l.latchState.Due = 0
	l.timers.set(l.timer, s.Due)
}
