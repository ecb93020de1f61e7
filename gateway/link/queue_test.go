package link

import (
	"bytes"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"
)

func numbered(n int) Message { return Message{Topic: strconv.Itoa(n)} }

func drain(q *queue) []string {
	var got []string
	for len(q.ch) > 0 {
		got = append(got, (<-q.ch).Topic)
	}
	return got
}

// TestQueueFull walks through the full-policy: hold back once, then push out
// the oldest, and begin again only when half is free.
func TestQueueFull(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var log bytes.Buffer
		q := newQueue(4, 5*time.Second, zerolog.New(&log))
		never := make(chan struct{})
		start := time.Now()
		for i := range 7 { // 0..3 fill it, 4 waits, 5 and 6 do not
			if !q.put(never, numbered(i)) {
				t.Fatalf("message %d was refused", i)
			}
		}
		if took := time.Since(start); took != 5*time.Second {
			t.Errorf("held back for %v, want 5s once", took)
		}
		if n := q.dropped.Load(); n != 3 {
			t.Errorf("dropped %d, want 3", n)
		}
		if q.put(never, Message{Topic: "old", Retained: true}); q.dropped.Load() != 4 {
			t.Errorf("a retained message must be dropped itself; dropped %d, want 4", q.dropped.Load())
		}
		<-q.ch // one place: still a stall, no wait for the message after the next
		q.put(never, numbered(7))
		q.put(never, numbered(8))
		if took := time.Since(start); took != 5*time.Second {
			t.Errorf("held back again at %v although the queue is not half free", took)
		}
		if got := strings.Join(drain(q), " "); got != "5 6 7 8" {
			t.Errorf("queue holds %s, want 5 6 7 8", got)
		}
		q.put(never, numbered(9))
		if n := strings.Count(log.String(), "\n"); n != 2 || !strings.Contains(log.String(), `"dropped":5`) {
			t.Errorf("log has %d lines, want one for the begin and one for the end with 5 dropped:\n%s", n, log.String())
		}
	})
}

func TestQueueHoldsBackUntilTheReaderComes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := newQueue(1, 5*time.Second, zerolog.Nop())
		q.put(nil, numbered(0))
		go func() {
			time.Sleep(4 * time.Second)
			<-q.ch
		}()
		start := time.Now()
		if !q.put(nil, numbered(1)) || time.Since(start) != 4*time.Second {
			t.Errorf("handed over after %v, want 4s", time.Since(start))
		}
		if q.dropped.Load() != 0 {
			t.Errorf("dropped %d, want none", q.dropped.Load())
		}
	})
}

// TestQueueStops: a message that could not be handed over at the end is
// reported, so that it is not acknowledged.
func TestQueueStops(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := newQueue(1, 5*time.Second, zerolog.Nop())
		q.put(nil, numbered(0))
		stop := make(chan struct{})
		go func() {
			time.Sleep(time.Second)
			close(stop)
		}()
		if q.put(stop, numbered(1)) {
			t.Error("put reports a message as handed over that is in nobody's hands")
		}
		if q.dropped.Load() != 0 {
			t.Errorf("dropped %d; a message left to the broker is not dropped", q.dropped.Load())
		}
	})
}

func TestPace(t *testing.T) {
	for _, c := range []struct {
		random float64
		want   []time.Duration
	}{
		{0, []time.Duration{500 * time.Millisecond, time.Second, 2 * time.Second, 2500 * time.Millisecond, 2500 * time.Millisecond}},
		{0.5, []time.Duration{750 * time.Millisecond, 1500 * time.Millisecond, 3 * time.Second, 3750 * time.Millisecond, 3750 * time.Millisecond}},
	} {
		p := &pace{least: time.Second, most: 5 * time.Second, random: func() float64 { return c.random }}
		for round := range 2 {
			for i, want := range c.want {
				if got := p.next(); got != want {
					t.Errorf("random %v, round %d: pause %d is %v, want %v", c.random, round, i, got, want)
				}
			}
			p.step = 0
		}
	}
}

func TestDropReport(t *testing.T) {
	var r dropReport
	for i, c := range []struct{ said, more uint64 }{{100, 0}, {100, 0}, {107, 7}, {2, 2}, {5, 3}} {
		if got := r.note(c.said); got != c.more {
			t.Errorf("report %d of %d: %d new, want %d", i, c.said, got, c.more)
		}
	}
	if r.total() != 12 {
		t.Errorf("total %d, want 12", r.total())
	}
}
