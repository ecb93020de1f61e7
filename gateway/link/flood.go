package link

import (
	"cmp"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"
)

// How many messages one topic may bring, and all topics that are heard for the
// first time together: so many at once, and so many a second. A logger that was
// away and sends a day of minutes in one go passes; what sends far more than
// any probe would must not delay the others. Rules of thumb, no source.
const (
	topicBurst    = 2048
	topicRate     = 100
	newTopicBurst = 4096
	newTopicRate  = 1000
	mostTopics    = 16384 // remembered
)

// floodgate bounds what each topic may bring. What is beyond is counted, and told
// once a topic. Its methods may be called by any goroutine.
type floodgate struct {
	speed float64 // how many times as fast as real time the probes send
	log   zerolog.Logger
	told  once

	mu     sync.Mutex
	topics map[string]*bucket
	fresh  bucket    // of topics that are not remembered
	swept  time.Time // when idle topics were last forgotten
	newest string    // topic of which something was left out last

	left atomic.Uint64
}

// bucket is how much of a burst was used at some time, in messages.
type bucket struct {
	used float64
	at   time.Time
}

func newFloodgate(speed float64, log zerolog.Logger) *floodgate {
	return &floodgate{speed: cmp.Or(speed, 1), log: log, topics: make(map[string]*bucket)}
}

// pass reports whether one more message on topic may go on at now.
func (f *floodgate) pass(topic string, now time.Time) bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	b := f.topics[topic]
	if b != nil {
		return b.take(topicBurst, topicRate*f.speed, now) || f.leave(topic)
	}
	if !f.fresh.take(newTopicBurst, newTopicRate*f.speed, now) {
		return f.leave(topic)
	}
	if len(f.topics) >= mostTopics {
		f.forget(now)
	}
	if len(f.topics) < mostTopics {
		f.topics[strings.Clone(topic)] = &bucket{used: 1, at: now}
	}
	return true
}

// take uses one message of the burst, which comes back at rate a second.
func (b *bucket) take(burst, rate float64, now time.Time) bool {
	b.used = max(0, b.used-rate*now.Sub(b.at).Seconds())
	b.at = now
	if b.used+1 > burst {
		return false
	}
	b.used++
	return true
}

// forget drops topics that were quiet for long enough to have all of their
// burst again, once a second at most: looking at all of them costs.
func (f *floodgate) forget(now time.Time) {
	if now.Sub(f.swept) < time.Second {
		return
	}
	f.swept = now
	for topic, b := range f.topics {
		if b.used-topicRate*f.speed*now.Sub(b.at).Seconds() <= 0 {
			delete(f.topics, topic)
		}
	}
}

// leave counts a message that goes no further.
func (f *floodgate) leave(topic string) bool {
	f.left.Add(1)
	f.newest = strings.Clone(topic)
	if f.told.first(topic) {
		f.log.Warn().Str("topic", topic).Int("burst", topicBurst).Int("per_second", topicRate).
			Msg("a topic brings far more messages than any probe would; what is too much is left out, and only counted from now on")
	}
	return false
}

// stats returns how many messages were left out, and the topic of the newest.
func (f *floodgate) stats() (left uint64, topic string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.left.Load(), f.newest
}
