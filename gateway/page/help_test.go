package page

import (
	"net/http"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/gateway/manual"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

func TestHelp(t *testing.T) {
	s := start(t, Options{Watch: newFake()})
	if _, front := s.get("/"); !strings.Contains(front, `href="/help"`) {
		t.Error("the navigation lacks the manual")
	}
	_, list := s.get("/help")
	for _, topic := range manual.English.Topics() {
		resp, text := s.get("/help/" + topic.Name)
		if resp.StatusCode != http.StatusOK || strings.Count(text, "<h1") != 1 || !strings.Contains(list, `href="/help/`+topic.Name+`"`) {
			t.Errorf("%s: %s, %d titles", topic.Name, resp.Status, strings.Count(text, "<h1"))
		}
	}
	if _, text := s.get("/help?find=what+SPAN+board+missing"); !strings.Contains(text, "1 passage has all of these words") || !strings.Contains(text, `<a href="/help/copies">Keep a copy</a>: Move to another board`) {
		t.Errorf("what is looked for is not found:\n%s", text)
	}
	if _, text := s.get("/help?find=%3Cb%3Exylophone"); !strings.Contains(text, "No passage has all of these words") || !strings.Contains(text, "&lt;b&gt;xylophone") || strings.Contains(text, "<b>") {
		t.Errorf("what is not there is found:\n%s", text)
	}
	if resp, text := s.get("/help/cellar"); resp.StatusCode != http.StatusNotFound || !strings.Contains(text, "no such topic") {
		t.Errorf("a topic that is not there: %s\n%s", resp.Status, text)
	}
}

// What is said of a message that reached nobody leads to where that is mended.
func TestWhatFailedLeadsToWhatMendsIt(t *testing.T) {
	st := start(t, Options{Watch: newFake()})
	_, text := st.get("/help/trouble")
	to := func(kind string, o service.ToldOutcome) string {
		return toldLineOf(words.New(alarms.Words{}), service.Telling{Kind: kind, Outcome: o}, noon).Mend
	}
	for kind := range takers {
		for _, o := range []service.ToldOutcome{service.ToldFailed, service.ToldUndelivered, service.ToldGivenUp, service.ToldRehearsed} {
			page, at, _ := strings.Cut(to(kind, o), "#")
			if page != "/help/trouble" || !strings.Contains(text, `id="`+at+`"`) {
				t.Errorf("%s, %v: leads to %q, which the manual does not have", kind, o, to(kind, o))
			}
		}
		for _, o := range []service.ToldOutcome{service.ToldWaiting, service.ToldHandedOver, service.ToldDelivered, service.ToldNotNeeded} {
			if to(kind, o) != "" {
				t.Errorf("%s, %v: leads to %q, and nothing failed", kind, o, to(kind, o))
			}
		}
	}
}

func TestHelpIsForWhoIsSignedIn(t *testing.T) {
	s := start(t, Options{Watch: newFake(), Password: password})
	for _, address := range []string{"/help", "/help/start"} {
		if _, text := s.get(address); strings.Contains(text, "step by step") {
			t.Errorf("a stranger reads %s", address)
		}
	}
}
