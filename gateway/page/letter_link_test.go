package page

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/door"
	"telltale/gateway/page/service"
)

const letterAlarm alarms.AlarmID = "watch/letter"

// fakeLetters has one letter to Ada, and an older one.
type fakeLetters struct {
	mu    sync.Mutex
	taken int
}

var _ service.Letters = (*fakeLetters)(nil)

func (*fakeLetters) IsLetter(id string) bool { return strings.HasPrefix(id, string(letterAlarm)+"#") }

func (l *fakeLetters) Letter(person, id string) service.LetterStand {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch {
	case person != "Ada":
		return service.LetterUnknown
	case id != string(letterAlarm)+"#2":
		return service.LetterOlder
	case l.taken > 0:
		return service.LetterConfirmed
	}
	return service.LetterWaits
}

func (l *fakeLetters) Confirm(_ context.Context, person, id string) service.LetterStand {
	stood := l.Letter(person, id)
	l.mu.Lock()
	defer l.mu.Unlock()
	if stood == service.LetterWaits {
		l.taken++
	}
	return stood
}

func letterLink(links *door.AckLinks, base, number, person string, until time.Time) string {
	return links.Link(base, letterAlarm, string(letterAlarm)+"#"+number, person, until)
}

// A letter is confirmed by pressing the button alone, by whom it was sent to, and that does
// nothing to any alarm; who may only look may confirm theirs.
func TestALetterIsConfirmedByItsLink(t *testing.T) {
	l := &fakeLetters{}
	st, f, links := tapping(t, Options{Letters: l, MayAcknowledge: func(string) bool { return false }})
	end := noon.Add(time.Hour)
	token := tokenOf(t, letterLink(links, st.base, "2", "Ada", end))
	for range 2 {
		a, text := st.get("/tap?t="+token, "Sec-Fetch-Site", "cross-site")
		if a.StatusCode != http.StatusOK || len(a.Cookies()) != 0 || l.taken != 0 {
			t.Fatalf("to look gives status %d and cookies %v", a.StatusCode, a.Cookies())
		}
		wantAll(t, reading(text), "Did this letter reach you?", "It reached me, Ada")
		wantNone(t, text, "/sign-out", "on the way")
	}
	for _, one := range []struct {
		what, token, says string
		status            int
	}{
		{"an older one", tokenOf(t, letterLink(links, st.base, "1", "Ada", end)), "A newer letter has been sent since", http.StatusConflict},
		{"somebody else's", tokenOf(t, letterLink(links, st.base, "2", "Ben", end)), "Letters to Ben are no longer sent", http.StatusForbidden},
		{"an ended one", tokenOf(t, letterLink(links, st.base, "2", "Ada", noon)), "This link has ended", http.StatusForbidden},
		{"one of another watch", tokenOf(t, letterLink(door.NewAckLinks([]byte("another")), st.base, "2", "Ada", end)), "this watch has not made it", http.StatusNotFound},
		{"the newest", token, "Thank you, Ada", http.StatusOK},
		{"the newest again", token, "knows already", http.StatusOK},
	} {
		a, text := st.ask("POST", "/tap", url.Values{"t": {one.token}}, "Sec-Fetch-Site", "same-origin")
		if a.StatusCode != one.status || !strings.Contains(reading(text), one.says) {
			t.Errorf("%s: status %d, %s", one.what, a.StatusCode, reading(text))
		}
	}
	if l.taken != 1 || len(f.done()) != 0 {
		t.Errorf("confirmed %d times, and %d acts", l.taken, len(f.done()))
	}
}
