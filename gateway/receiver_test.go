package gateway

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/gateway/reach"
)

// receiver is a web server that takes messages, or refuses them, or takes them
// and does not say so.
type receiver struct {
	*httptest.Server
	w    *twin
	how  int // an HTTP status; 0: none
	mu   sync.Mutex
	seen map[string]string // recently: telling and transition, and the ID in the header
	ring []string

	told, again int
	altered     []string
	late        func(time.Duration) // hears how late each alarm is told
}

func newReceiver(t *testing.T) *receiver {
	r := &receiver{how: http.StatusNoContent, seen: map[string]string{}}
	r.Server = httptest.NewServer(r)
	t.Cleanup(r.Close)
	return r
}

func (r *receiver) set(how int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.how = how
}

func (r *receiver) ServeHTTP(out http.ResponseWriter, in *http.Request) {
	text, err := io.ReadAll(in.Body)
	var d reach.Document
	if err != nil || json.Unmarshal(text, &d) != nil {
		return // the sender has died
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.how >= 500 {
		out.WriteHeader(r.how)
		return
	}
	var ids []string
	for _, e := range d.Events {
		_, id, _ := strings.Cut(e.ID, "/") // without the garden's, and the run's
		ids = append(ids, id)
	}
	if !r.w.hears(ids, r.late) {
		out.WriteHeader(http.StatusServiceUnavailable)
		return
	}
	for _, e := range d.Events {
		r.told++
		before, again := r.seen[e.ID]
		if again {
			r.again++
			if before != e.Sentence {
				r.altered = append(r.altered, fmt.Sprintf("%s as %q and as %q", e.ID, before, e.Sentence))
			}
			continue
		}
		r.seen[e.ID] = e.Sentence
		if r.ring = append(r.ring, e.ID); len(r.ring) > 512 {
			delete(r.seen, r.ring[0])
			r.ring = r.ring[1:]
		}
	}
	if r.how == 0 { // taken, but the answer is lost
		panic(http.ErrAbortHandler)
	}
	out.WriteHeader(r.how)
}
