package gateway

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// writer is the store's writing side in a goroutine of its own, so that a disk
// that does not answer holds up nobody. It does what it is given in the order
// in which it was given. Only the owner gives it anything, and hears of what
// came of it by news and take.
//
// The goroutine ends when there is nothing to do, and begins again with the
// next piece of work.
type writer struct {
	store    journaling
	notes    noting
	most     int           // inputs that may wait
	patience time.Duration // real time: what takes longer counts as refused

	news chan struct{} // something is to be taken

	mu       sync.Mutex
	queue    []job
	waiting  int // inputs in queue
	spare    []alarms.Input
	busy     bool      // the goroutine runs
	since    time.Time // real time: when the disk was asked; zero: it is not
	asked    asked
	came     []outcome
	snapshot bool // a checkpoint is due

	dropped atomic.Uint64 // inputs that found no room to wait in
	work    sync.WaitGroup
}

// journaling is what the writer needs of the store.
type journaling interface {
	Append(in alarms.Input)
	Sync() error
	Save(ts []alarms.Transition, rows []reach.Outgoing) error
	CheckpointDue() bool
	Checkpoint(snapshot []byte) error
}

// noting is what it needs to keep how a run began and ended.
type noting interface {
	keeper
	SetOrigin(ctx context.Context, o store.Origin) error
}

// asked is what a disk was asked to do.
type asked int

const (
	toSync asked = iota
	toSave
	toCheckpoint
	toNote // that the run began
)

// job is one piece of work: inputs for the journal, then what to ask the disk,
// if do is not nil.
type job struct {
	inputs []alarms.Input
	what   asked
	do     func() error
}

// outcome is what came of asking the disk.
type outcome struct {
	what asked
	err  error // errNoAnswer: it did what it was asked, but too late
}

const (
	// queuedInputs bounds what waits while the disk does not answer: more than
	// an hour of a thousand probes, about 25 MB. What finds no room is counted.
	queuedInputs = 100_000
	// roomForPeople is what of it is kept free of readings.
	roomForPeople = 5000
	// slowWork is how long the disk may take for what nobody waits for.
	slowWork = 10 * time.Second
)

func newWriter(s journaling, n noting) *writer {
	return &writer{store: s, notes: n, most: queuedInputs, patience: patience, news: make(chan struct{}, 1)}
}

// give hands inputs over, and what is to be done once they are journaled. It
// returns at once, and does not keep inputs.
func (w *writer) give(inputs []alarms.Input, what asked, do func() error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if n := len(w.queue); n == 0 || w.queue[n-1].do != nil && (what != toSync || w.queue[n-1].what != toSync) {
		w.queue = append(w.queue, job{inputs: w.spare[:0]})
		w.spare = nil
	}
	last := &w.queue[len(w.queue)-1]
	for _, in := range inputs {
		w.append(last, in)
	}
	if last.what = what; do != nil {
		last.do = do
	}
	if !w.busy {
		w.busy = true
		w.work.Go(w.run)
	}
}

// append puts in behind the others, if there is room. Of ticks that follow one
// another only the last matters.
func (w *writer) append(j *job, in alarms.Input) {
	if n := len(j.inputs); in.Kind == alarms.Tick && n > 0 && j.inputs[n-1].Kind == alarms.Tick {
		j.inputs[n-1] = in
		return
	}
	room := w.most
	if in.Kind == alarms.ReadingIn || in.Kind == alarms.GarbledIn {
		room -= roomForPeople
	}
	if w.waiting >= room {
		w.dropped.Add(1)
		return
	}
	j.inputs = append(j.inputs, in)
	w.waiting++
}

func (w *writer) run() {
	for {
		j, more := w.next()
		if !more {
			return
		}
		for _, in := range j.inputs {
			w.store.Append(in)
		}
		if j.do != nil {
			w.ask(j.what, j.do)
		}
		w.done(j)
	}
}

func (w *writer) next() (j job, more bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.queue) == 0 {
		w.busy = false
		return job{}, false
	}
	j, w.queue = w.queue[0], w.queue[1:]
	return j, true
}

func (w *writer) done(j job) {
	due := w.store.CheckpointDue()
	w.mu.Lock()
	defer w.mu.Unlock()
	w.waiting -= len(j.inputs)
	w.snapshot = due
	if cap(j.inputs) <= 4*batch {
		w.spare = j.inputs
	}
}

// ask has the disk do something and notes what came of it.
func (w *writer) ask(what asked, do func() error) {
	began := time.Now()
	w.mu.Lock()
	w.since, w.asked = began, what
	w.mu.Unlock()
	err := do()
	w.mu.Lock()
	defer w.mu.Unlock()
	if err == nil && time.Since(began) > w.longest() {
		err = errNoAnswer
	}
	w.since = time.Time{}
	w.snapshot = w.snapshot && what != toCheckpoint
	w.came = append(w.came, outcome{what, err})
	select {
	case w.news <- struct{}{}:
	default:
	}
}

// longest is how long the disk may take for what it is asked now.
func (w *writer) longest() time.Duration {
	if w.asked == toSave {
		return w.patience
	}
	return max(w.patience, slowWork)
}

// take returns what came of the work since it was last called.
func (w *writer) take() []outcome {
	w.mu.Lock()
	defer w.mu.Unlock()
	came := w.came
	w.came = nil
	return came
}

// stuck reports whether the disk has not answered for too long.
func (w *writer) stuck(now time.Time) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return !w.since.IsZero() && now.Sub(w.since) > w.longest()
}

// checkpointDue reports whether the core's snapshot is wanted.
func (w *writer) checkpointDue() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.snapshot
}

// close waits a little for what is under way.
func (w *writer) close() error {
	if !ends(&w.work, parting*w.patience) {
		return fmt.Errorf("%w: what came since is not saved", errNoAnswer)
	}
	return nil
}
