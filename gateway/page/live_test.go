package page

import (
	"bufio"
	"context"
	"encoding/json"
	"html"
	"net"
	"net/http"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"telltale/alarms"
)

// event is one server-sent event.
type event struct{ name, data string }

func (e event) news(t *testing.T) news {
	t.Helper()
	var n news
	if e.name != "news" {
		t.Fatalf("got event %q, want news", e.name)
	}
	if err := json.Unmarshal([]byte(e.data), &n); err != nil {
		t.Fatal(err)
	}
	return n
}

// follow opens /live and returns its events; they end when the stream does.
func (st *started) follow() <-chan event { return st.followAt("/live") }

func (st *started) followAt(path string) <-chan event {
	st.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	r, err := http.NewRequestWithContext(ctx, "GET", st.base+path, nil)
	if err != nil {
		st.t.Fatal(err)
	}
	client := *st.client
	client.Timeout = 0
	a, err := client.Do(r)
	if err != nil {
		st.t.Fatal(err)
	}
	if a.StatusCode != http.StatusOK || !strings.HasPrefix(a.Header.Get("Content-Type"), "text/event-stream") {
		st.t.Fatalf("live: got status %d, type %q", a.StatusCode, a.Header.Get("Content-Type"))
	}
	events := make(chan event, 100)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		defer close(events)
		var e event
		lines := bufio.NewScanner(a.Body)
		lines.Buffer(nil, 8<<20)
		for lines.Scan() {
			switch line := lines.Text(); {
			case strings.HasPrefix(line, "event: "):
				e.name = line[7:]
			case strings.HasPrefix(line, "data: "):
				e.data = line[6:]
			case line == "":
				events <- e
			}
		}
	}()
	st.t.Cleanup(func() {
		cancel()
		a.Body.Close()
		<-ended
	})
	return events
}

func next(t *testing.T, events <-chan event) event {
	t.Helper()
	select {
	case e, ok := <-events:
		if !ok {
			t.Fatal("the stream ended")
		}
		return e
	case <-time.After(patience):
		t.Fatal("no event came")
	}
	return event{}
}

func quick(s *Server) { s.hub.gap, s.hub.beat = time.Millisecond, time.Hour }

// liveOf is where a page follows the watch from.
func liveOf(t *testing.T, page string) string {
	t.Helper()
	m := regexp.MustCompile(`data-live="([^"]+)"`).FindStringSubmatch(page)
	if m == nil {
		t.Fatalf("the page follows nothing: %.200s", page)
	}
	return html.UnescapeString(m[1])
}

// A page that was just drawn is sent what has changed since, and nothing twice; and whoever
// says what no page was drawn with is sent everything.
func TestAPageIsNotSentWhatItHas(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f}, quick)
	_, page := st.get("/")
	live := liveOf(t, page)
	if n := next(t, st.followAt(live)).news(t); len(n.Pieces) != 0 {
		t.Errorf("what the page has is sent again: %v", n.Pieces)
	}
	f.change(func(p *alarms.Picture) { p.Houses[0].Places[0].Points[0].Value = 25.1 })
	n := next(t, st.followAt(live)).news(t)
	wantAll(t, n.Pieces["house_long-house-all"], "25.1")
	if len(n.Pieces) != 1 {
		t.Errorf("got %d pieces after one change, want 1", len(n.Pieces))
	}
	whole, _, _ := strings.Cut(live, ".")
	for _, odd := range []string{"/live", "/live?has=", whole, live + ".x", strings.Replace(live, "has=", "has=0", 1), "/live?has=" + strings.Repeat(".", 300)} {
		if n := next(t, st.followAt(odd)).news(t); len(n.Pieces) != 9 {
			t.Errorf("%.60s: got %d pieces, want all 9", odd, len(n.Pieces))
		}
	}
}

func TestLiveTellsWhatChanged(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f}, quick)
	events := st.follow()
	first := next(t, events).news(t)
	if len(first.Pieces) != 9 {
		t.Fatalf("got %d pieces first, want all 9", len(first.Pieces))
	}
	wantAll(t, first.Pieces["house_long-house-all"], "24.3")
	_, page := st.get("/")
	wantAll(t, page, `data-shape="`+first.Shape+`"`)
	for id := range first.Pieces {
		wantAll(t, page, `id="`+id+`"`)
	}

	f.change(func(p *alarms.Picture) { p.Houses[0].Places[0].Points[0].Value = 25.1 })
	second := next(t, events).news(t)
	if len(second.Pieces) != 1 {
		t.Errorf("got %d pieces after one change, want 1", len(second.Pieces))
	}
	wantAll(t, second.Pieces["house_long-house-all"], "25.1")
	wantNone(t, second.Pieces["house_long-house-all"], "24.3")
}

func TestLiveBeatsWithoutNews(t *testing.T) {
	st := start(t, Options{Watch: newFake()}, func(s *Server) { s.hub.beat = 10 * time.Millisecond })
	events := st.follow()
	next(t, events)
	if n := next(t, events).news(t); len(n.Pieces) != 0 || n.Clock != "12:02:10" {
		t.Errorf("a beat: got %+v, want the clock alone", n)
	}
}

// aLimit is longer than any request takes on a slow machine, and short enough
// to be waited for.
const aLimit = 2 * time.Second

// The server's limits on how long a request and its answer may take are no
// limits on how long a page may be followed.
func TestLiveOutlastsTheLimits(t *testing.T) {
	t.Parallel()
	st := start(t, Options{Watch: newFake()}, func(s *Server) {
		s.hub.beat, s.limits = 20*time.Millisecond, timeLimits{aLimit, aLimit}
	})
	events := st.follow()
	for end := time.Now().Add(2 * aLimit); time.Now().Before(end); {
		next(t, events)
	}
}

func TestLiveIsToldOfTheEnd(t *testing.T) {
	st := start(t, Options{Watch: newFake()}, quick)
	events := st.follow()
	next(t, events)
	st.stop()
	if e := next(t, events); e.name != "bye" {
		t.Errorf("got %q, want bye", e.name)
	}
	select {
	case <-st.ended:
	case <-time.After(patience):
		t.Error("Run did not return")
	}
}

func TestLiveEndsWithTheSession(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f, Password: password}, quick)
	st.signIn()
	events := st.follow()
	next(t, events)
	st.post("/sign-out")
	f.change(func(p *alarms.Picture) { p.Sentence = "A secret." })
	for {
		e := next(t, events)
		wantNone(t, e.data, "A secret")
		if e.name == "out" {
			return
		}
	}
}

func TestLiveHasRoomForSoMany(t *testing.T) {
	st := start(t, Options{Watch: newFake(), maxLive: 1}, quick)
	next(t, st.follow())
	a, _ := st.get("/live", "Accept", "text/event-stream")
	if a.StatusCode != http.StatusServiceUnavailable || a.Header.Get("Retry-After") == "" {
		t.Errorf("one too many: got status %d, want 503 with Retry-After", a.StatusCode)
	}
	if got := st.server.Stats(); got.Live != 1 || got.Refused != 1 {
		t.Errorf("got %+v", got)
	}
}

// A browser that reads nothing is dropped and counted; another one meanwhile
// gets every newest state.
func TestLiveDropsWhoTakesNothing(t *testing.T) {
	t.Parallel()
	f := newFake()
	st := start(t, Options{Watch: f}, quick, func(s *Server) { s.hub.stall = 3 * time.Second })
	good := st.follow()
	next(t, good)

	small := net.Dialer{Control: func(_, _ string, c syscall.RawConn) error {
		return c.Control(func(fd uintptr) { _ = syscall.SetsockoptInt(int(fd), syscall.SOL_SOCKET, syscall.SO_RCVBUF, 4096) })
	}}
	deaf, err := small.Dial("tcp", st.server.Addr())
	if err != nil {
		t.Fatal(err)
	}
	defer deaf.Close()
	if _, err := deaf.Write([]byte("GET /live HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")); err != nil {
		t.Fatal(err)
	}
	eventually(t, "both are followed", func() bool { return st.server.Stats().Live == 2 })

	long := strings.Repeat("x", 200_000)
	eventually(t, "the deaf one is dropped", func() bool {
		f.change(func(p *alarms.Picture) { p.Sentence += "."; p.Houses[0].Sentence = p.Sentence + long })
		e := next(t, good)
		wantAll(t, e.name, "news")
		return st.server.Stats().Dropped == 1
	})
	if got := st.server.Stats().Live; got != 1 {
		t.Errorf("%d are followed, want the good one alone", got)
	}
	f.change(func(p *alarms.Picture) { p.Houses[0].Sentence = "Still here." })
	eventually(t, "the good one hears the newest", func() bool {
		return strings.Contains(next(t, good).data, "Still here.")
	})
}

func TestLogIsReadOnlyWhenSomethingMoved(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f}, quick)
	events := st.follow()
	next(t, events)
	for i := 0; i < 5; i++ {
		f.change(func(p *alarms.Picture) { p.Houses[0].Places[0].Points[0].Value++ })
		next(t, events)
	}
	f.mu.Lock()
	before := f.logCalls
	f.mu.Unlock()
	f.change(func(p *alarms.Picture) { p.Alarms[0].Transition = "new#1" })
	next(t, events)
	f.mu.Lock()
	defer f.mu.Unlock()
	if before != 1 || f.logCalls != 2 {
		t.Errorf("the log was read %d times for values and %d after an alarm moved, want 1 and 2", before, f.logCalls)
	}
}
