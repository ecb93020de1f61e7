package page

import (
	"context"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/service"
)

// fakeLine has three people, of whom some are away.
type fakeLine struct {
	mu      sync.Mutex
	away    []alarms.Leave
	did     []string
	refusal string
}

var _ service.Line = (*fakeLine)(nil)

func (l *fakeLine) Line() service.Hands {
	l.mu.Lock()
	defer l.mu.Unlock()
	h := service.Hands{People: []string{"Ada", "Ben", "Cy"}, Away: l.away}
	for _, name := range h.People {
		gone := false
		for _, one := range l.away {
			gone = gone || one.Person == name
		}
		if !gone {
			h.AtHand = append(h.AtHand, name)
		}
	}
	return h
}

func (l *fakeLine) GoAway(_ context.Context, v alarms.Leave, by string) (string, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.refusal != "" {
		return "", service.Refuse(tongue.Text(l.refusal))
	}
	spared := ""
	if v.Spared {
		spared = " spared"
	}
	l.did = append(l.did, v.Person+" away until "+v.Until.UTC().Format(time.RFC3339)+" with "+v.StandIn+spared+" by "+by)
	l.away = append(l.away, v)
	return "said", nil
}

func (l *fakeLine) Back(_ context.Context, person, by string) (string, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for i, one := range l.away {
		if one.Person == person {
			l.away = append(l.away[:i:i], l.away[i+1:]...)
			l.did = append(l.did, person+" back by "+by)
			return "said", nil
		}
	}
	return "", nil
}

func (l *fakeLine) done() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return strings.Join(l.did, "; ")
}

func TestSomebodyGoesAwayAndComesBack(t *testing.T) {
	f, line := newFake(), &fakeLine{}
	st := start(t, Options{Watch: f, Line: line})
	_, text := st.get("/away")
	wantAll(t, reading(text), "Everybody is at hand.", "the next in line", "Away until then")
	wantNone(t, text, "is away until")
	until := noon.Add(54 * time.Hour).Truncate(time.Minute).In(st.server.words.Zone)
	a, _ := st.post("/away", "then", "away", "person", "Ada", "first", "Cy", "until", until.Format(localTime), "spared", "yes", "who", "Ben")
	if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/away?said=away" {
		t.Fatalf("got status %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
	if got, want := line.done(), "Ada away until "+until.UTC().Format(time.RFC3339)+" with Cy spared by Ben"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	_, text = st.get("/away?said=away")
	wantAll(t, reading(text), "Whoever stands in is told so now", "Ada is away until Tue 18:02: Cy is told first, Ada only of what nobody takes.", "Ada is back")
	_, text = st.get("/")
	wantAll(t, reading(text), "Ada is away until Tue 18:02: Cy is told first")
	wantNone(t, reading(text), "Nobody is at hand")
	for _, name := range []string{"Ben", "Cy"} {
		st.post("/away", "person", name, "until", until.Format(localTime))
	}
	for _, path := range []string{"/", "/away"} {
		_, text = st.get(path)
		wantAll(t, reading(text), "Nobody is at hand. ", "Everybody is told as ever.")
	}
	a, _ = st.post("/away/back", "then", "away", "person", "Ada")
	if a.Header.Get("Location") != "/away?said=back" || !strings.HasSuffix(line.done(), "Ada back by Ben") {
		t.Errorf("got %q after %q", a.Header.Get("Location"), line.done())
	}
	if a, _ = st.post("/away/back", "then", "away", "person", "Ada"); a.Header.Get("Location") != "/away?said=not-away" {
		t.Errorf("back again: %q", a.Header.Get("Location"))
	}
}

func TestALeaveThatIsNoneIsRefused(t *testing.T) {
	f, line := newFake(), &fakeLine{}
	st := start(t, Options{Watch: f, Line: line})
	for _, c := range []struct{ person, first, until, refusal, says string }{
		{"Ada", "", "", "", "Give the day and the time"},
		{"Ada", "", "tomorrow", "", "Give the day and the time"},
		{"Ada", "Ada", "2026-06-23T18:00", "", "who is away cannot stand in"},
		{"Zoe", "", "2026-06-23T18:00", "Nobody of that name.", "Nobody of that name."},
	} {
		line.refusal = c.refusal
		a, text := st.post("/away", "person", c.person, "first", c.first, "until", c.until)
		if a.StatusCode != http.StatusBadRequest {
			t.Errorf("%+v: got status %d", c, a.StatusCode)
		}
		wantAll(t, reading(text), c.says)
	}
	if line.done() != "" {
		t.Errorf("done: %s", line.done())
	}
}

func TestWhoMayLookOnlySendsNobodyAway(t *testing.T) {
	f, line := newFake(), &fakeLine{away: []alarms.Leave{{Person: "Ada", StandIn: "Cy", Since: noon, Until: noon.Add(time.Hour)}}}
	st := start(t, Options{Watch: f, Accounts: people(), Line: line})
	st.signInAs("Ben", benPassword)
	_, text := st.get("/away")
	wantAll(t, reading(text), "Ada is away until 13:02: Cy is told first, Ada as before.")
	wantNone(t, text, "<form class=\"tend", "Ada is back")
	for _, path := range []string{"/away", "/away/back"} {
		if a, _ := st.post(path, "person", "Ada", "until", "2026-06-23T18:00"); a.StatusCode != http.StatusForbidden {
			t.Errorf("%s: got status %d", path, a.StatusCode)
		}
	}
	if line.done() != "" {
		t.Errorf("done: %s", line.done())
	}
}
