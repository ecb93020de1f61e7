package link

import (
	"sync"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"
)

// queue is the bounded queue between the connection and the reader. Its
// full-policy is in the package comment.
type queue struct {
	ch   chan Message
	hold time.Duration
	log  zerolog.Logger

	mu      sync.Mutex // one put at a time
	stalled bool       // the reader did not come back within hold
	lost    uint64     // dropped in this stall

	dropped atomic.Uint64
	peak    atomic.Int64
}

func newQueue(size int, hold time.Duration, log zerolog.Logger) *queue {
	return &queue{ch: make(chan Message, size), hold: hold, log: log}
}

// put hands m over. It reports false only when stop was closed while it
// waited for room; m is then not in the queue and not counted as dropped.
func (q *queue) put(stop <-chan struct{}, m Message) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	select {
	case q.ch <- m:
		q.took()
		return true
	default:
	}
	if m.Retained {
		q.drop()
		return true
	}
	if !q.stalled {
		switch q.wait(stop, m) {
		case handed:
			q.took()
			return true
		case stopped:
			return false
		}
		q.stalled = true
		q.log.Warn().Int("size", cap(q.ch)).Dur("held_back", q.hold).
			Msg("the message queue is full and nothing is taken from it; from now on the oldest message is dropped for each new one")
	}
	q.pushOut(m)
	return true
}

type waited uint8

const (
	timedOut waited = iota
	handed
	stopped
)

func (q *queue) wait(stop <-chan struct{}, m Message) waited {
	select {
	case q.ch <- m:
		return handed
	case <-stop:
		return stopped
	case <-time.After(q.hold):
		return timedOut
	}
}

// pushOut drops the oldest messages until m fits.
func (q *queue) pushOut(m Message) {
	for {
		select {
		case q.ch <- m:
			return
		default:
		}
		select {
		case <-q.ch:
			q.drop()
		default:
		}
	}
}

func (q *queue) drop() {
	q.lost++
	q.dropped.Add(1)
}

// took notes the length of the queue, and the end of a stall when half of it
// is free: an earlier end would hold the connection back for each message.
func (q *queue) took() {
	n := len(q.ch)
	if int64(n) > q.peak.Load() {
		q.peak.Store(int64(n))
	}
	if n > cap(q.ch)/2 || !q.stalled && q.lost == 0 {
		return
	}
	if q.lost > 0 {
		q.log.Warn().Uint64("dropped", q.lost).Msg("the message queue has room again; messages were dropped while it was full")
	}
	q.stalled, q.lost = false, 0
}
