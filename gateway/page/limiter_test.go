package page

import (
	"bytes"
	"crypto/tls"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
)

// Guesses that are looked at: of one client, and of all in a minute.
const guessesFree, guessesOfAll = 5, 30

// A password that was right once is quick to compare; guessing at it is slowed
// all the same, from the first try on.
func TestGuessingAtARememberedPasswordIsSlowed(t *testing.T) {
	st := start(t, fullOptions(newFake()))
	st.client.Jar = nil
	ask := func(secret string) int {
		r := http.Request{Header: http.Header{}}
		r.SetBasicAuth("ada", secret)
		a, _ := st.get("/state.json", "Accept", "*/*", "Authorization", r.Header.Get("Authorization"))
		return a.StatusCode
	}
	for range 3 * guessesOfAll { // one that reads often is never held up
		if got := ask(password); got != http.StatusOK {
			t.Fatalf("the right password: got status %d", got)
		}
	}
	for range guessesFree {
		if got := ask("wrong"); got != http.StatusUnauthorized {
			t.Fatalf("a wrong password: got status %d, want 401", got)
		}
	}
	if got := ask(password); got != http.StatusTooManyRequests {
		t.Errorf("the right one as the next guess: got status %d, want 429", got)
	}
}

// Programs come in by token, name and password also to what was there before
// the interface.
func TestMachinesComeInByToken(t *testing.T) {
	metrics := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("telltale_up 1\n")) })
	st := start(t, Options{Watch: newFake(), Accounts: people(), Metrics: metrics, ProxyTLS: true})
	st.client.Jar = nil
	for _, path := range []string{"/state.json", "/metrics"} {
		for token, want := range map[string]int{programToken: 200, lookToken: 200, "wrong": 401, "": 401} {
			a, _ := st.get(path, "Accept", "*/*", "Authorization", "Bearer "+token, "X-Forwarded-For", "192.0.2.1")
			if a.StatusCode != want {
				t.Errorf("%s with the token %q: got status %d, want %d", path, token, a.StatusCode, want)
			}
			if want == 401 && len(a.Header.Values("WWW-Authenticate")) != 2 {
				t.Errorf("%s: got the challenges %q, want both ways", path, a.Header.Values("WWW-Authenticate"))
			}
		}
	}
	for range guessesFree {
		st.get("/state.json", "Accept", "*/*", "Authorization", "Bearer wrong")
	}
	if a, _ := st.get("/state.json", "Accept", "*/*", "Authorization", "Bearer wrong"); a.StatusCode != http.StatusTooManyRequests {
		t.Errorf("guessing at tokens: got status %d, want 429", a.StatusCode)
	}
	if a, _ := st.get("/state.json", "Accept", "*/*", "Authorization", "Bearer "+lookToken); a.StatusCode != http.StatusOK {
		t.Errorf("the right token beside a guesser: got status %d", a.StatusCode)
	}
}

// Every answer has all headers, whatever it is; a browser is told to insist on
// TLS only by a page that speaks it itself.
func TestEveryAnswerIsGuarded(t *testing.T) {
	cert, key, pool := certificate(t)
	plain, own := start(t, Options{Watch: newFake(), Password: password}), start(t, Options{Watch: newFake(), CertFile: cert, KeyFile: key})
	tr := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}
	defer tr.CloseIdleConnections()
	own.base, own.client.Transport = strings.Replace(own.base, "http:", "https:", 1), tr
	proxied := start(t, Options{Watch: newFake(), ProxyTLS: true})
	for name, c := range map[string]struct {
		st   *started
		hsts bool
	}{"plain": {plain, false}, "TLS": {own, true}, "behind a proxy": {proxied, false}} {
		for _, path := range []string{"/", "/sign-in", "/healthz", "/static/page.css", "/no-such-page", "/api/v1/state", "/state.json"} {
			a, _ := c.st.get(path)
			for header, want := range map[string]string{"Content-Security-Policy": "default-src 'none'", "X-Content-Type-Options": "nosniff",
				"X-Frame-Options": "DENY", "Referrer-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
				"Cross-Origin-Opener-Policy": "same-origin", "Permissions-Policy": "accelerometer=()"} {
				if got := a.Header.Get(header); !strings.HasPrefix(got, want) {
					t.Errorf("%s, %s: got %s: %q, want %q", name, path, header, got, want)
				}
			}
			if got := a.Header.Get("Strict-Transport-Security"); (got != "") != c.hsts {
				t.Errorf("%s, %s: got Strict-Transport-Security: %q", name, path, got)
			}
		}
	}
}

// What strangers cause is logged in measure, and says how much was left out.
func TestRefusalsAreLoggedInMeasure(t *testing.T) {
	var log bytes.Buffer
	s, err := New(Options{Watch: newFake(), Log: zerolog.New(&log)})
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	s.now = func() time.Time { return now }
	ask := func() {
		s.handler.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest("GET", "http://127.0.0.1/"+strings.Repeat("x", 3000), nil))
	}
	for range 3 * loggedAMinute {
		ask()
	}
	now = now.Add(time.Minute)
	ask()
	if got := strings.Count(log.String(), "There is no such page."); got != loggedAMinute+1 {
		t.Errorf("%d refusals are logged, want %d", got, loggedAMinute+1)
	}
	wantAll(t, log.String(), fmt.Sprintf(`"further":%d`, 2*loggedAMinute))
	if log.Len() > 400*loggedAMinute {
		t.Errorf("the log has %d bytes", log.Len())
	}
}

// One account cannot take every place from which the watch is followed.
func TestOneAccountLeavesOthersRoomToFollow(t *testing.T) {
	s, err := New(Options{Watch: newFake(), Accounts: people(), maxLive: 8})
	if err != nil {
		t.Fatal(err)
	}
	joined := map[string]int{}
	for _, account := range []string{"ada", "ada", "ada", "ben", "ben", "ben"} {
		if _, ok := s.hub.join(audience{}, account); ok {
			joined[account]++
		}
	}
	if joined["ada"] != 2 || joined["ben"] != 2 {
		t.Errorf("of eight places they have %v, want two each", joined)
	}
}

// Nothing that is sent turns the text around it.
func TestWhatCannotBeSeenIsShown(t *testing.T) {
	if got := visible("bench\u202e/1\x00\u200b é ä"); got != "bench\ufffd/1\ufffd\ufffd é ä" {
		t.Errorf("got %q", got)
	}
}
