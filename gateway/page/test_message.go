package page

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
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

// mayTest counts one test message as sent, or says that it is too early.
func (s *Server) mayTest() error {
	if wait := s.testing.take(s.now()); wait > 0 {
		return &answer.Error{Kind: answer.TooMany, Say: "A test message was sent a moment ago. Wait half a minute.", After: int(wait/time.Second) + 1}
	}
	return nil
}

// sendTest puts a test message on its way.
func (s *Server) sendTest(ctx context.Context) (id string, err error) { return s.sendTestOver(ctx, "") }

// sendTestOver does so over one channel alone; "": over all.
func (s *Server) sendTestOver(ctx context.Context, channel string) (id string, err error) {
	if err := s.mayTest(); err != nil {
		return "", err
	}
	id, err = s.watch.TestMessage(ctx, channel)
	var no service.Refusal
	switch {
	case errors.As(err, &no):
		return "", &answer.Error{Kind: answer.Changed, Say: no.Text, Args: no.Args, Err: err}
	case err != nil:
		return "", &answer.Error{Kind: answer.Away, Say: "The test message could not be sent. The watch's own log says why.", Err: err}
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
	if answer.WantsPage(r) {
		http.Redirect(w, r, testAddress(id, "wait"), http.StatusSeeOther)
		return nil
	}
	answer.JSON(w, http.StatusOK, map[string]string{"said": s.wordsOf(r).Say("The test message is on its way."), "see": testAddress(id, "")})
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
func (s *Server) testOutcome(ctx context.Context, id string, most time.Duration) ([]service.Telling, error) {
	news, end := s.watch.Subscribe()
	defer end()
	late := time.After(most)
	for {
		all, err := s.watch.Tested(ctx, id)
		if err != nil {
			return nil, err
		}
		if len(all) == 0 {
			return nil, answer.Say(answer.Absent, "There is no such test message, or it was so long ago that it is forgotten.")
		}
		if tallied(all).waiting == 0 {
			return all, nil
		}
		select {
		case <-news:
		case <-late:
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

func tallied(all []service.Telling) tally {
	n := tally{all: len(all)}
	for _, t := range all {
		switch {
		case t.Outcome.Went():
			n.sent++
			if t.Person != "" {
				n.reached++
			}
		case t.Outcome == service.ToldRehearsed:
			n.rehearsed++
		case t.Outcome == service.ToldWaiting:
			n.waiting++
		default:
			n.failed++
		}
	}
	return n
}

// sentence says how a test went, and what to do about it.
func (n tally) sentence(w words.Words) string {
	switch {
	case n.waiting == n.all:
		return w.Say("The test message is on its way. What comes of it will stand here.")
	case n.sent == n.all:
		return w.Say("Sent on every way. If it does not arrive within a few minutes, look for what is wrong now, while nothing else is.")
	case n.rehearsed == n.all:
		return w.Say("Nothing was sent: every channel only rehearses. An alarm would reach nobody.")
	}
	var parts []string
	for _, p := range []struct {
		n    int
		what tongue.Text
	}{{n.sent, "%d sent"}, {n.failed, "%d failed"}, {n.rehearsed, "%d only rehearsed"}, {n.waiting, "%d not known yet"}} {
		if p.n > 0 {
			parts = append(parts, w.Say(p.what, p.n))
		}
	}
	says := w.Say("Of %d ways: %s.", n.all, strings.Join(parts, ", "))
	switch {
	case n.waiting > 0:
		return says
	case n.reached == 0:
		return says + " " + w.Say("An alarm would reach nobody: mend that now, while nothing else is wrong.")
	case n.failed > 0:
		return says + " " + w.Say("Mend what failed now, while nothing else is wrong.")
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
	v, err := s.tested(r, id, most)
	if err != nil {
		return err
	}
	if q.Get("part") != "" {
		return s.renderPart(w, r, http.StatusOK, "test", "tested", v)
	}
	return s.render(w, r, http.StatusOK, "test", v)
}

// tested is what came of a test message; it is waited for no longer than most.
func (s *Server) tested(r *http.Request, id string, most time.Duration) (testView, error) {
	all, err := s.testOutcome(r.Context(), id, most)
	if err != nil {
		return testView{}, err
	}
	say, now := s.wordsOf(r), s.watch.Now()
	v := testView{frame: s.frame(r, "Test message"), Sentence: tallied(all).sentence(say), Over: true,
		Part: testAddress(id, "part"), Again: testAddress(id, "wait")}
	for _, t := range all {
		v.Lines = append(v.Lines, mended(s, r, t, testLineOf(say, t, now)))
		v.Over = v.Over && !mayChange(t)
	}
	return v, nil
}

// testLineOf leaves out what is the same for all ways.
func testLineOf(w words.Words, t service.Telling, now time.Time) toldLine {
	l := toldLineOf(w, t, now)
	l.Sentence = ""
	return l
}

// mayChange reports whether more may become known of a telling.
func mayChange(t service.Telling) bool {
	return t.Outcome == service.ToldWaiting || t.Outcome == service.ToldFailed || t.Outcome == service.ToldHandedOver && t.Kind == "text"
}
