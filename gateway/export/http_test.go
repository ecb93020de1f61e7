package export

import (
	"slices"
	"strings"
	"testing"
	"time"
)

func TestPostIsAsTheEndpointWantsIt(t *testing.T) {
	end := newEndpoint(t)
	o := httpOptions(end.URL, t.TempDir())
	o.Authorization = "Bearer secret-word"
	e := mustNew(t, Options{HTTP: o})
	running(t, e)
	for i := range 3 {
		e.AddReading(numbered(i))
	}
	eventually(t, "three readings arrive", func() bool { return len(end.received(t)) == 3 })
	end.mu.Lock()
	r := end.requests[0]
	end.mu.Unlock()
	for k, want := range map[string]string{"Content-Type": "text/plain; charset=utf-8", "Content-Encoding": "gzip", "Authorization": "Bearer secret-word"} {
		if got := r.Header.Get(k); got != want {
			t.Errorf("%s: got %q, want %q", k, got, want)
		}
	}
	if r.Method != "POST" || r.URL.Path != "/write" || r.URL.Query().Get("bucket") != "garden" {
		t.Errorf("got %s %s", r.Method, r.URL)
	}
	eventually(t, "the answer is booked", func() bool { return e.Stats().HTTP.Lines == 3 })
	if s := e.Stats().HTTP; s.Waiting != 0 || s.Buffered != 0 || s.Failures != 0 || s.Last != "" {
		t.Errorf("got %+v", s)
	}
}

// While the endpoint is up nothing is written to the disk.
func TestNoBufferWhileTheEndpointIsUp(t *testing.T) {
	end := newEndpoint(t)
	o := httpOptions(end.URL, t.TempDir())
	e := mustNew(t, Options{HTTP: o})
	stop := running(t, e)
	for i := range 2000 {
		e.AddReading(numbered(i))
	}
	eventually(t, "all arrive", func() bool { return e.Stats().HTTP.Lines == 2000 })
	stop()
	if s := e.http.spool; s.at.seq != 0 || !s.empty() {
		t.Errorf("the buffer was used: %+v", s)
	}
}

// The endpoint goes away in the middle and comes back: everything arrives,
// once and in order.
func TestOutageLosesNothing(t *testing.T) {
	end := newEndpoint(t)
	o := httpOptions(end.URL, t.TempDir())
	o.batchBytes = 2000
	o.bufferBytes = 1 << 20
	e := mustNew(t, Options{HTTP: o})
	running(t, e)
	n := 0
	add := func(count int) {
		for range count {
			e.AddReading(numbered(n))
			n++
		}
	}
	add(50)
	eventually(t, "the first arrive", func() bool { return len(end.received(t)) == n })
	end.always(503)
	for range 10 {
		add(20)
		had := end.tries()
		eventually(t, "another attempt", func() bool { return end.tries() > had })
	}
	eventually(t, "the lines of the outage are on disk", func() bool { s := e.Stats(); return s.Queue == 0 && s.HTTP.Waiting == 200 && s.HTTP.Buffered > 0 })
	if s := e.Stats().HTTP; s.AwaySince.IsZero() || s.Failures == 0 || !strings.Contains(s.Last, "HTTP 503") {
		t.Errorf("does not say that the endpoint is away: %+v", s)
	}
	end.always(204)
	add(30)
	eventually(t, "everything arrives", func() bool { return len(end.received(t)) >= n })
	add(5)
	eventually(t, "later ones too", func() bool { s := e.Stats().HTTP; return s.Waiting == 0 && s.Lines == uint64(n) })
	if got := end.received(t); !slices.Equal(got, countTo(n)) {
		t.Errorf("got %v, want each of %d once, in order", got, n)
	}
	if s := e.Stats().HTTP; !s.AwaySince.IsZero() || s.Dropped != 0 || s.Buffered != 0 {
		t.Errorf("got %+v", s)
	}
}

// The connection dies after the batch was taken and before the answer came:
// that one batch is there twice, nothing else.
func TestLostAnswerSendsThatBatchTwice(t *testing.T) {
	end := newEndpoint(t)
	end.set(func() { end.lose = true })
	e := mustNew(t, Options{HTTP: httpOptions(end.URL, t.TempDir()), FlushEvery: time.Hour})
	running(t, e)
	for i := range 10 {
		e.AddReading(numbered(i))
	}
	e.flush()
	eventually(t, "it is sent again", func() bool { return e.Stats().HTTP.Lines == 10 })
	for i := 10; i < 20; i++ {
		e.AddReading(numbered(i))
	}
	e.flush()
	eventually(t, "the next one arrives", func() bool { return e.Stats().HTTP.Lines == 20 })
	if got := end.received(t); !slices.Equal(got, append(countTo(10), countTo(20)...)) {
		t.Errorf("got %v", got)
	}
}

// What waits when the service stops is sent at the next start.
func TestStopAndStartInAnOutage(t *testing.T) {
	end := newEndpoint(t)
	end.always(500)
	dir := t.TempDir()
	for start := range 3 {
		e := mustNew(t, Options{HTTP: httpOptions(end.URL, dir), FlushEvery: time.Hour})
		stop := running(t, e)
		for i := range 10 {
			e.AddReading(numbered(start*10 + i))
		}
		stop()
		if s := e.Stats(); s.HTTP.Waiting != start*10+10 || s.HTTP.Dropped != 0 || s.Queue != 0 {
			t.Fatalf("start %d: got %+v %+v", start, s, s.HTTP)
		}
	}
	end.always(200)
	running(t, mustNew(t, Options{HTTP: httpOptions(end.URL, dir)}))
	eventually(t, "all of the three starts arrive", func() bool { return len(end.received(t)) >= 30 })
	if got := end.received(t); !slices.Equal(got, countTo(30)) {
		t.Errorf("got %v", got)
	}
}
