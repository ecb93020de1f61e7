package export

import (
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
	"github.com/rs/zerolog"

	"telltale/alarms"
)

var noon = time.Date(2026, 4, 5, 12, 0, 0, 0, time.UTC)

// numbered is a reading whose value is its number.
func numbered(i int) Reading {
	return Reading{House: "long-house", Place: "bench", Probe: "bench-1", Quantity: alarms.Temperature, Value: float64(i), At: noon.Add(time.Duration(i) * time.Second)}
}

func numberedBatch(from, to int) batch {
	var items []item
	for i := from; i < to; i++ {
		items = append(items, item{reading: numbered(i)})
	}
	b, _, _ := newEncoder().encode(items)
	return b
}

// numbers reads the values of numbered readings back with the library's own
// decoder.
func numbers(t testing.TB, text []byte) []int {
	t.Helper()
	var got []int
	d := lineprotocol.NewDecoderWithBytes(text)
	for d.Next() {
		_, v, err := d.NextField()
		if err != nil {
			t.Errorf("not line protocol: %v", err)
			return got
		}
		got = append(got, int(v.FloatV()))
	}
	return got
}

func countTo(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

// endpoint is a write endpoint that can be told how to answer.
type endpoint struct {
	*httptest.Server
	mu       sync.Mutex
	answer   func(n int) int // status for the n-th request, from 0
	header   http.Header     // of answers that are not 2xx
	body     string
	requests []*http.Request
	got      [][]byte // bodies of accepted batches
	lose     bool     // once: accept the batch, but cut the connection before answering
}

func newEndpoint(t *testing.T) *endpoint {
	e := &endpoint{answer: func(int) int { return 204 }}
	e.Server = httptest.NewServer(http.HandlerFunc(e.serve))
	t.Cleanup(e.Close)
	return e
}

func (e *endpoint) serve(w http.ResponseWriter, r *http.Request) {
	z, err := gzip.NewReader(r.Body)
	if err != nil {
		http.Error(w, err.Error(), 400)
		return
	}
	body, err := io.ReadAll(z)
	e.mu.Lock()
	defer e.mu.Unlock()
	if err != nil {
		http.Error(w, err.Error(), 400)
		return
	}
	status := e.answer(len(e.requests))
	e.requests = append(e.requests, r)
	if status/100 == 2 {
		e.got = append(e.got, body)
		if e.lose {
			e.lose = false
			panic(http.ErrAbortHandler)
		}
	} else {
		for k, v := range e.header {
			w.Header()[k] = v
		}
	}
	w.WriteHeader(status)
	fmt.Fprint(w, e.body)
}

func (e *endpoint) set(f func()) {
	e.mu.Lock()
	defer e.mu.Unlock()
	f()
}

func (e *endpoint) always(status int) { e.set(func() { e.answer = func(int) int { return status } }) }

// received returns the numbers of all readings that were accepted, in order.
func (e *endpoint) received(t testing.TB) []int {
	e.mu.Lock()
	defer e.mu.Unlock()
	return numbers(t, slices.Concat(e.got...))
}

func (e *endpoint) tries() int {
	e.mu.Lock()
	defer e.mu.Unlock()
	return len(e.requests)
}

// eventually waits until ok holds, at most ten seconds.
func eventually(t testing.TB, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(5 * time.Minute); !ok(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("did not happen within 10 s: %s", what)
		}
	}
}

func httpOptions(url, dir string) *HTTPOptions {
	return &HTTPOptions{URL: url + "/write?bucket=garden", Dir: dir, retryMin: time.Millisecond, retryMax: 20 * time.Millisecond, timeout: 5 * time.Second}
}

func mustNew(t testing.TB, o Options) *Exporter {
	t.Helper()
	if o.FlushEvery == 0 {
		o.FlushEvery = 5 * time.Millisecond
	}
	o.Log = zerolog.Nop()
	e, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// running starts an exporter; stop ends it and waits.
func running(t testing.TB, e *Exporter) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- e.Run(ctx) }()
	var once sync.Once
	stop = func() {
		once.Do(func() {
			cancel()
			select {
			case err := <-done:
				if err != nil {
					t.Errorf("Run: %v", err)
				}
			case <-time.After(5 * time.Minute):
				t.Error("Run did not end within 10 s")
			}
		})
	}
	t.Cleanup(stop)
	return stop
}

func lines(b []byte) []string { return strings.Split(strings.TrimSuffix(string(b), "\n"), "\n") }
