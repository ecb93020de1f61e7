package timing

import "time"

// Latch turns a condition into on and off with a delay each way. Between
// "beyond" and "inside" lies the deadband, in which it keeps what it is.
//
// A delay only runs while the condition is seen to hold. While it is not known
// whether it does, the delay stands still; it goes on with the first reading by
// which the condition still holds, and is forgotten with one by which it does
// not.
type Latch struct {
	LatchState
	timers  *Queue
	timer   *Timer
	stretch *stretch // in which its delay runs; nil: none does
	Keeps   bool     // a delay towards off stands still too, where it else begins again
	changed func(due Instant)
}

// LatchState is what a snapshot keeps of a latch.
type LatchState struct {
	On    bool          `json:"on,omitempty"`
	Since Instant       `json:"since,omitempty"` // beyond since, kept while on
	Clear Instant       `json:"clear,omitempty"` // inside since, while on
	Due   Instant       `json:"due,omitempty"`   // of the running delay, in a snapshot
	Left  time.Duration `json:"left,omitempty"`  // of a delay that stands still

	Unsure bool `json:"unsure,omitempty"` // beyond by one doubted reading, which is not enough
	Late   bool `json:"late,omitempty"`   // the delay is over, and only that is waited for
}

// stretch is a time without a gap in which messages can be heard. That it has ended
// is found by each delay when it is looked at.
type stretch struct{ ended Instant } // 0: it goes on

// NewLatch returns a latch with its delays in q, which calls changed when it turns.
func NewLatch(q *Queue, changed func(due Instant)) *Latch {
	l := &Latch{timers: q, changed: changed}
	l.timer = q.Build(l.expire)
	return l
}

// Judge tells l what holds at now. beyond and inside are not both true.
func (l *Latch) Judge(now Instant, beyond, inside bool, onDelay, offDelay time.Duration) {
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
func (l *Latch) count(from *Instant, now Instant, delay time.Duration) {
	switch {
	case l.timers.Deaf(): // what is known is of before
	case *from == 0:
		*from = now
		l.start(now, delay)
	case l.Left > 0:
		delay, l.Left = l.Left, 0
		l.start(now, delay)
	}
}

func (l *Latch) start(now Instant, delay time.Duration) {
	if delay <= 0 {
		l.expire(now)
		return
	}
	l.set(now.Add(delay))
}

func (l *Latch) expire(due Instant) {
	l.timer.Due = due
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
func (l *Latch) forget() {
	if !l.On {
		l.Since = 0
	}
	l.Clear, l.Left, l.Late, l.Unsure = 0, 0, false, false
	if l.stretch != nil {
		l.set(0)
	}
}

// Begin forgets the delay that runs towards off.
func (l *Latch) Begin() {
	if l.On {
		l.forget()
	}
}

// Stand lets the delay that runs stand still from now on.
func (l *Latch) Stand(now Instant) {
	if !l.catchUp() && l.stretch != nil {
		l.halt(now)
	}
}

// catchUp lets a delay stand still from when messages could not be heard any more,
// and reports whether it had run until then.
func (l *Latch) catchUp() bool {
	if l.stretch == nil || l.stretch.ended == 0 {
		return false
	}
	l.halt(l.stretch.ended)
	return true
}

func (l *Latch) halt(from Instant) {
	if l.On && !l.Keeps {
		l.forget()
		return
	}
	l.Left = max(l.timer.Due.Since(from), 1)
	l.set(0)
}

// Runs reports whether a delay of l runs.
func (l *Latch) Runs() bool { return l.stretch != nil && l.stretch.ended == 0 }

func (l *Latch) set(due Instant) {
	l.timers.Set(l.timer, due)
	if l.stretch = nil; due != 0 {
		l.stretch = l.timers.stretch
	}
}

// StandStill lets every delay that runs stand still.
func (q *Queue) StandStill(now Instant) {
	q.stretch.ended = now
	q.stretch = &stretch{}
}

// Save returns what Load goes on from.
func (l *Latch) Save() LatchState {
	l.catchUp()
	s := l.LatchState
	s.Due = l.timer.Due
	return s
}

// Load lets l go on from s.
func (l *Latch) Load(s LatchState) {
	l.LatchState = s
	l.LatchState.Due = 0
	l.set(s.Due)
}
