package export

import (
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"
)

// With nobody working the queue AddReading still returns; what does not fit is
// counted.
func TestAddNeverWaits(t *testing.T) {
	e := mustNew(t, Options{File: filepath.Join(t.TempDir(), "readings.lp"), QueueSize: 100, FlushEvery: time.Hour})
	for i := range 250 {
		e.AddReading(numbered(i))
	}
	if s := e.Stats(); s.Added != 100 || s.QueueFull != 150 || s.Queue != 100 {
		t.Fatalf("got %+v", s)
	}
	e.flush()
	if s := e.Stats(); s.File.Lines != 100 || s.Queue != 0 {
		t.Errorf("got %+v, %+v", s, s.File)
	}
	e.file.close()
}

// A queue that is half full does not wait for the clock.
func TestHalfFullQueueIsFlushedAtOnce(t *testing.T) {
	e := mustNew(t, Options{File: filepath.Join(t.TempDir(), "readings.lp"), QueueSize: 100, FlushEvery: time.Hour})
	running(t, e)
	for i := range 50 {
		e.AddReading(numbered(i))
	}
	eventually(t, "the queue is flushed", func() bool { return e.Stats().File.Lines == 50 })
}

func TestManyMayAddAtOnceToBothSinks(t *testing.T) {
	end := newEndpoint(t)
	path := filepath.Join(t.TempDir(), "readings.lp")
	e := mustNew(t, Options{File: path, HTTP: httpOptions(end.URL, t.TempDir())})
	stop := running(t, e)
	var adders sync.WaitGroup
	for g := range 4 {
		adders.Go(func() {
			for i := range 500 {
				e.AddReading(numbered(g*500 + i))
				if i%100 == 0 {
					e.Stats()
				}
			}
		})
	}
	adders.Wait()
	eventually(t, "all arrive", func() bool { return e.Stats().HTTP.Lines == 2000 })
	stop()
	for what, got := range map[string][]int{"endpoint": end.received(t), "file": numbers(t, contentOf(t, path))} {
		slices.Sort(got)
		if !slices.Equal(got, countTo(2000)) {
			t.Errorf("%s: got %d lines, want each of 2000 once", what, len(got))
		}
	}
}

func TestRefusedReadingsAreCounted(t *testing.T) {
	e := mustNew(t, Options{File: filepath.Join(t.TempDir(), "readings.lp"), FlushEvery: time.Hour})
	bad := numbered(0)
	bad.At = time.Time{}
	e.AddReading(bad)
	e.AddReading(numbered(1))
	e.flush()
	e.file.close()
	if s := e.Stats(); s.Refused != 1 || s.Why != "temperature of probe bench-1 has no time" || s.File.Lines != 1 {
		t.Errorf("got %+v %+v", s, s.File)
	}
}

func BenchmarkAddReading(b *testing.B) {
	e := mustNew(b, Options{File: filepath.Join(b.TempDir(), "readings.lp"), FlushEvery: time.Millisecond, QueueSize: 1 << 20})
	running(b, e)
	b.ReportAllocs()
	r := numbered(1)
	for range b.N {
		e.AddReading(r)
	}
	b.ReportMetric(float64(e.Stats().QueueFull)/float64(b.N), "refused/op")
}
