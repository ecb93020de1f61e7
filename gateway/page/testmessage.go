package page

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"
)

// testPause keeps test messages apart.
type testPause struct {
	mu   sync.Mutex
	last time.Time
}

const (
	testEvery = 30 * time.Second
	// testWait is how long an answer is held back for what is not known yet.
	testWait = 8 * time.Second
)

// take returns how long to wait, or counts one as sent now.
func (p *testPause) take(now time.Time) time.Duration {
	p.mu.Lock()
	defer p.mu.Unlock()
	if since := now.Sub(p.last); since < testEvery {
		return testEvery - since
	}
	p.last = now
	return 0
}

// sendTest puts a test message on its way.
func (s *Server) sendTest(ctx context.Context) (id string, err error) {
	if wait := s.testing.take(s.sessions.now()); wait > 0 {
		return "", &fault{Kind: kindTooMany, Say: "A test message was sent a moment ago. Wait half a minute.",
			After: int(wait/time.Second) + 1}
	}
	id, err = s.watch.TestMessage(ctx)
	var no Refusal
	switch {
	case errors.As(err, &no):
		return "", &fault{Kind: kindChanged, Say: string(no), Err: err}
	case err != nil:
		return "", &fault{Kind: kindAway, Say: "The test message could not be sent. The watch's own log says why.", Err: err}
	}
	return id, nil
}

// testMessage answers the button: with a script by the address at which to
// follow what comes of it, else by a page that waits for that a little.
func (s *Server) testMessage(w http.ResponseWriter, r *http.Request) error {
	s.who(w, r)
	id, err := s.sendTest(r.Context())
	if err != nil {
		return err
	}
	if wantsPage(r) {
		http.Redirect(w, r, testAddress(id, "wait"), http.StatusSeeOther)
		return nil
	}
	writeJSON(w, http.StatusOK, map[string]string{"said": "The test message is on its way.", "see": testAddress(id, "")})
	return nil
}

func testAddress(id, how string) string {
	to := url.Values{"of": {id}}
	if how != "" {
		to.Set(how, "1")
	}
	return "/test-message?" + to.Encode()
}

// testOutcome returns what has come of a test message. It waits no longer than
// most for those that nothing is known of.
func (s *Server) testOutcome(ctx context.Context, id string, most time.Duration) ([]Telling, error) {
	news, end := s.watch.Subscribe()
	defer end()
	late := time.NewTimer(most)
	defer late.Stop()
	for {
		all, err := s.watch.Tested(ctx, id)
		if err != nil {
			return nil, err
		}
		if len(all) == 0 {
			return nil, faultf(kindAbsent, "There is no such test message, or it was so long ago that it is forgotten.")
		}
		if tallied(all).waiting == 0 {
			return all, nil
		}
		select {
		case <-news:
		case <-late.C:
			return all, nil
		case <-s.hub.bye:
			return all, nil
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// tally counts what came of the ways that a test message took.
type tally struct{ all, sent, reached, rehearsed, failed, waiting int }

func tallied(all []Telling) tally {
	n := tally{all: len(all)}
	for _, t := range all {
		switch {
		case t.Outcome.Went():
			n.sent++
			if t.Person != "" {
				n.reached++
			}
		case t.Outcome == ToldRehearsed:
			n.rehearsed++
		case t.Outcome == ToldWaiting:
			n.waiting++
		default:
			n.failed++
		}
	}
	return n
}

// sentence says how a test went, and what to do about it.
func (n tally) sentence() string {
	switch {
	case n.waiting == n.all:
		return "The test message is on its way. What comes of it will stand here."
	case n.sent == n.all:
		return "Sent on every way. If it does not arrive within a few minutes, look for what is wrong now, while nothing else is."
	case n.rehearsed == n.all:
		return "Nothing was sent: every channel only rehearses. An alarm would reach nobody."
	}
	var parts []string
	for _, p := range []struct {
		n    int
		what string
	}{{n.sent, "sent"}, {n.failed, "failed"}, {n.rehearsed, "only rehearsed"}, {n.waiting, "not known yet"}} {
		if p.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", p.n, p.what))
		}
	}
	says := fmt.Sprintf("Of %d ways: %s.", n.all, strings.Join(parts, ", "))
	switch {
	case n.waiting > 0:
		return says
	case n.reached == 0:
		return says + " An alarm would reach nobody: mend that now, while nothing else is wrong."
	case n.failed > 0:
		return says + " Mend what failed now, while nothing else is wrong."
	}
	return says
}

type testView struct {
	frame
	Sentence string
	Lines    []toldLine
	Over     bool   // nothing more will come
	Part     string // address of the part that changes
	Again    string // address of this page that waits
}

// testPage shows, for each person and channel, what came of a test message.
func (s *Server) testPage(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	id, most := q.Get("of"), time.Duration(0)
	if q.Get("wait") != "" {
		most = testWait
	}
	all, err := s.testOutcome(r.Context(), id, most)
	if err != nil {
		return err
	}
	words, now := s.wordsOf(r), s.watch.Now()
	v := testView{frame: s.frame(w, r, "Test message"), Sentence: tallied(all).sentence(), Over: true,
		Part: testAddress(id, "part"), Again: testAddress(id, "wait")}
	for _, t := range all {
		v.Lines = append(v.Lines, words.testLine(t, now))
		v.Over = v.Over && !mayChange(t)
	}
	if q.Get("part") != "" {
		return s.renderPart(w, http.StatusOK, "test", "tested", v)
	}
	return s.render(w, http.StatusOK, "test", v)
}

// testLine leaves out what is the same for all ways.
func (w words) testLine(t Telling, now time.Time) toldLine {
	l := w.toldLine(t, now)
	l.Sentence = ""
	return l
}

// mayChange reports whether more may become known of a telling.
func mayChange(t Telling) bool {
	return t.Outcome == ToldWaiting || t.Outcome == ToldFailed || t.Outcome == ToldHandedOver && t.Kind == "text"
}

type apiTestView struct {
	Test     string       `json:"test"`
	Known    bool         `json:"known"`
	Tellings []apiTelling `json:"tellings"`
}

// apiTest sends a test message and answers with what came of it.
func (s *Server) apiTest(w http.ResponseWriter, r *http.Request) error {
	id, err := s.sendTest(r.Context())
	if err != nil {
		return err
	}
	return s.apiTestOf(w, r, id)
}

// apiTested answers with what came of a test message.
func (s *Server) apiTested(w http.ResponseWriter, r *http.Request) error {
	if err := apiKnown(r, "test"); err != nil {
		return err
	}
	return s.apiTestOf(w, r, r.URL.Query().Get("test"))
}

func (s *Server) apiTestOf(w http.ResponseWriter, r *http.Request, id string) error {
	all, err := s.testOutcome(r.Context(), id, testWait)
	if err != nil {
		return err
	}
	v := apiTestView{Test: id, Known: tallied(all).waiting == 0}
	for _, t := range all {
		v.Tellings = append(v.Tellings, s.apiTelling(t))
	}
	writeJSON(w, http.StatusOK, v)
	return nil
}
