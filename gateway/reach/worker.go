package reach

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms/walk"
)

// Channel is one way to reach people.
type Channel struct {
	Name     string
	Notifier Notifier
	// Ordered channels deliver one row at a time, strictly in order; a row that
	// fails holds up those behind it, for a minute at most between tries. For
	// MQTT. On the others what is due for one person at once becomes one
	// message, and a failing row holds up nobody.
	Ordered bool
}

// Options for a Worker.
type Options struct {
	Channels []Channel
	Outbox   Outbox
	Now      func() time.Time // a time that only moves forward; nil: time.Now
	// Wall returns what clocks on the wall show at a time of Now, for what
	// people are told; nil: the same.
	Wall func(time.Time) time.Time
	// Speed is how many seconds of Now pass in one real second; default 1.
	// Waiting for NotBefore follows it; retry pauses are real time.
	Speed  float64
	Random func() float64 // in [0, 1), for retry pauses; called from several goroutines
	// Elsewhere makes the rows by which a row goes over the other channels of its
	// person, see Rules.Elsewhere; nil: none.
	Elsewhere func(Outgoing) []Outgoing
	Garden    string // its ID, for the IDs of messages
	Log       zerolog.Logger
}

// Worker takes rows from the outbox and tells them. Each channel has one
// goroutine of its own, so a server that hangs delays its own channel alone,
// and there are never more attempts under way than channels.
type Worker struct{ lanes []*lane }

// NewWorker checks o and builds a worker; nothing runs yet.
func NewWorker(o Options) (*Worker, error) {
	if o.Outbox == nil || o.Random == nil {
		return nil, errors.New("a worker needs an outbox and a source of random numbers")
	}
	if o.Wall == nil {
		o.Wall = func(t time.Time) time.Time { return t }
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Elsewhere == nil {
		o.Elsewhere = func(Outgoing) []Outgoing { return nil }
	}
	o.Speed = cmp.Or(o.Speed, 1)
	if o.Speed < 0 {
		return nil, fmt.Errorf("the speed of the clock must be above 0 (got %g)", o.Speed)
	}
	w := &Worker{}
	seen := map[string]bool{}
	for _, c := range o.Channels {
		if c.Name == "" || c.Notifier == nil || seen[c.Name] {
			return nil, fmt.Errorf("channel %q: each channel needs a name of its own and a notifier", c.Name)
		}
		seen[c.Name] = true
		w.lanes = append(w.lanes, newLane(c, o, w.Wake))
	}
	return w, nil
}

// Run works until ctx ends and every attempt under way has come back. What was
// cut short stays in the outbox. It returns nil.
func (w *Worker) Run(ctx context.Context) error {
	var all sync.WaitGroup
	for _, l := range w.lanes {
		all.Go(func() { l.run(ctx) })
	}
	all.Wait()
	return nil
}

// Wake says that rows were saved. It never blocks: one pending wake a channel
// is enough, further ones are dropped.
func (w *Worker) Wake() {
	for _, l := range w.lanes {
		select {
		case l.wake <- struct{}{}:
		default:
		}
	}
}

// Stuck tells of a channel that has been at one thing, a telling or the outbox,
// for longer than d of real time: it will tell nothing more. nil: there is none.
func (w *Worker) Stuck(d time.Duration) error {
	for _, l := range w.lanes {
		if since := l.since.Load(); since != nil && time.Since(*since) > d {
			return fmt.Errorf("channel %q has been at one message for %v, at most %v is allowed", l.Name, time.Since(*since).Round(time.Second), d)
		}
	}
	return nil
}

// Stats returns how each channel is doing, in the order given.
func (w *Worker) Stats() []ChannelStats {
	return walk.Each(w.lanes, func(l *lane) ChannelStats { return l.counters.stats() })
}
