package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

const ridge = "long-house/ridge/temperature/high"

func TestAcknowledge(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	a, _ := st.post("/alarms/acknowledge", "alarm", ridge, "seen", ridge+"#3", "who", "  Ada\tof the \x07 garden ")
	if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/?said=acknowledged" {
		t.Fatalf("got status %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
	want := alarms.Input{At: noon, Kind: alarms.Acknowledge, Alarm: ridge, By: "Ada of the garden"}
	if got := f.done(); len(got) != 1 || got[0] != want {
		t.Fatalf("got %+v, want %+v", got, want)
	}
	_, text := st.get("/?said=acknowledged")
	wantAll(t, reading(text), "12:01:50 As of 12:02:10 UTC Broker reached since 08:02 Acknowledged. This page", "Acknowledged. It is still so.")
	wantAll(t, text, `value="Ada of the garden"`)

	// The name is remembered, and a second click changes nothing.
	st.post("/alarms/acknowledge", "alarm", ridge, "seen", ridge+"#3")
	st.post("/alarms/acknowledge", "alarm", "low-house/bed/bed-1/silent", "seen", "low-house/bed/bed-1/silent#1")
	if got := f.done(); len(got) != 2 || got[1].By != "Ada of the garden" {
		t.Errorf("got %+v", got)
	}
}

func TestAcknowledgeOnlyWhatWasRead(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	a, text := st.post("/alarms/acknowledge", "alarm", ridge, "seen", ridge+"#2")
	if a.StatusCode != http.StatusConflict {
		t.Errorf("a changed alarm: got status %d, want 409", a.StatusCode)
	}
	wantAll(t, reading(text), "It changed while you were reading")
	a, _ = st.post("/alarms/acknowledge", "alarm", "gone", "seen", "gone#1")
	if a.StatusCode != http.StatusConflict {
		t.Errorf("an alarm that ended: got status %d, want 409", a.StatusCode)
	}
	if a, _ := st.post("/alarms/acknowledge", "alarm", ridge); a.StatusCode != http.StatusBadRequest {
		t.Errorf("nothing seen: got status %d, want 400", a.StatusCode)
	}
	if len(f.done()) != 0 {
		t.Fatalf("something was done: %v", f.done())
	}
	a, _ = st.post("/alarms/acknowledge", "alarm", ridge, "seen", ridge+"#2",
		"alarm", "low-house/bed/bed-1/silent", "seen", "low-house/bed/bed-1/silent#1")
	if got := f.done(); len(got) != 1 || got[0].Alarm != "low-house/bed/bed-1/silent" || got[0].By != alarms.ByPage {
		t.Errorf("of two, the unchanged one: got %+v", got)
	}
	if a.Header.Get("Location") != "/?said=some-changed" {
		t.Errorf("got %q", a.Header.Get("Location"))
	}
}

// In a flood the form for many alarms must still be small enough to be taken.
func TestAcknowledgeAFlood(t *testing.T) {
	f := newFake()
	f.change(func(p *alarms.Picture) {
		for i := range 400 {
			a := p.Alarms[0]
			a.ID = alarms.AlarmID(fmt.Sprintf("long-house/a-place-with-a-long-name-%03d/surface/temperature/high", i))
			a.Transition = string(a.ID) + "#1"
			p.Alarms = append(p.Alarms, a)
		}
	})
	st := start(t, Options{Watch: f})
	_, text := st.get("/")
	wantAll(t, reading(text), "403 open alarms", "Acknowledge the first 150")
	form := text[strings.Index(text, `<form class="act all"`):]
	form = form[:strings.Index(form, "</form>")]
	values := url.Values{}
	for _, m := range regexp.MustCompile(`name="(\w+)" value="([^"]*)"`).FindAllStringSubmatch(form, -1) {
		values.Add(m[1], html.UnescapeString(m[2]))
	}
	if a, _ := st.ask("POST", "/alarms/acknowledge", values); a.StatusCode != http.StatusSeeOther || len(f.done()) != 150 {
		t.Errorf("got status %d and %d acknowledged, want 303 and 150", a.StatusCode, len(f.done()))
	}
}

func TestShelveAndUnshelve(t *testing.T) {
	f := newFake()
	berlinish := time.FixedZone("CEST", 2*3600)
	st := start(t, Options{Watch: f, Words: alarms.Words{Zone: berlinish}})
	for choice, until := range map[string]time.Time{
		"30m": noon.Add(30 * time.Minute), "2h": noon.Add(2 * time.Hour), "8h": noon.Add(8 * time.Hour),
		"tomorrow": time.Date(2026, 6, 22, 7, 0, 0, 0, berlinish),
	} {
		a, _ := st.post("/alarms/shelve", "alarm", ridge, "for", choice, "reason", "shading goes up")
		got := f.done()[len(f.done())-1]
		if a.StatusCode != http.StatusSeeOther || got.Kind != alarms.Shelve || !got.Until.Equal(until) || got.Note != "shading goes up" {
			t.Errorf("%s: got status %d and %+v, want the end %v", choice, a.StatusCode, got, until)
		}
	}
	n := len(f.done())
	if a, _ := st.post("/alarms/shelve", "alarm", ridge, "for", "ever"); a.StatusCode != http.StatusBadRequest || len(f.done()) != n {
		t.Errorf("for ever: got status %d", a.StatusCode)
	}
	if a, _ := st.post("/alarms/unshelve", "alarm", ridge); a.StatusCode != http.StatusSeeOther {
		t.Errorf("unshelve: got status %d", a.StatusCode)
	}
	if got := f.done()[n]; got.Kind != alarms.Unshelve || got.Alarm != ridge {
		t.Errorf("got %+v", got)
	}
}

func TestFailuresAreSaidPlainlyAndNotInDetail(t *testing.T) {
	f := newFake()
	f.doErr, f.testErr = errors.New("journal: no space left on /var/secret"), errors.New("smtp: dial")
	st := start(t, Options{Watch: f})
	a, text := st.post("/alarms/unshelve", "alarm", ridge)
	if a.StatusCode != http.StatusInternalServerError {
		t.Errorf("got status %d, want 500", a.StatusCode)
	}
	wantAll(t, reading(text), "The watch could not do that. Its own log says why.")
	wantNone(t, text, "secret")
	if a, _ := st.post("/test-message"); a.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("test message: got status %d, want 503", a.StatusCode)
	}
	_, text = st.get("/back?house=long-house&place=shutter")
	wantAll(t, reading(text), "A part of the history cannot be read just now.")
	wantNone(t, text, "disk on fire")
}

func TestTestMessage(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	r, err := http.NewRequest("POST", st.base+"/test-message", strings.NewReader(""))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "application/json")
	a, err := st.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	var answer struct{ Said, See string }
	if err := json.NewDecoder(a.Body).Decode(&answer); err != nil || a.StatusCode != http.StatusOK || f.tests != 1 {
		t.Errorf("got status %d and %d messages, %v", a.StatusCode, f.tests, err)
	}
	if answer.Said != "The test message is on its way." || answer.See != testMessage1 {
		t.Errorf("got %+v", answer)
	}
	if a, _ := st.post("/test-message"); a.StatusCode != http.StatusTooManyRequests || f.tests != 1 {
		t.Errorf("at once again: got status %d and %d messages, want 429 and 1", a.StatusCode, f.tests)
	}
}
