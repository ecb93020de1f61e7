package page

import (
	"bytes"
	"crypto/tls"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
)

// What a client waits after so many wrong tries.
func TestLimiterWaits(t *testing.T) {
	for _, c := range []struct {
		free, wrong int
		want        time.Duration
	}{
		{5, 0, 0}, {5, 4, 0}, {5, 5, 2 * time.Second}, {5, 6, 4 * time.Second}, {5, 9, 32 * time.Second},
		{5, 12, 256 * time.Second}, {5, 13, longestWait}, {5, 1000, longestWait}, {10, 9, 0}, {10, 10, 2 * time.Second},
	} {
		l := newLimiter(c.free)
		for range c.wrong {
			l.wrong("client", noon)
		}
		if got := l.wait("client", noon); got != c.want {
			t.Errorf("after %d wrong of %d free: wait %s, want %s", c.wrong, c.free, got, c.want)
		}
		if got := l.wait("another", noon); got != 0 {
			t.Errorf("another waits %s", got)
		}
		if l.wait("client", noon.Add(c.want)) != 0 {
			t.Errorf("after %s of waiting it still waits", c.want)
		}
		l.right("client")
		if l.wait("client", noon) != 0 {
			t.Error("it waits after a right one")
		}
	}
}

func TestLimiterForgetsAndIsBounded(t *testing.T) {
	l := newLimiter(1)
	l.wrong("client", noon)
	if later := noon.Add(forgetAfter + time.Second); l.wait("client", later) != 0 {
		t.Error("it waits after half an hour")
	}
	for i := range 3 * maxClients {
		l.wrong(strings.Repeat("x", i+1), noon.Add(time.Duration(i)*time.Millisecond))
	}
	if len(l.clients) > maxClients {
		t.Errorf("%d clients are remembered, at most %d should be", len(l.clients), maxClients)
	}
	all := newLimiter(5)
	for i := range allTries {
		if all.count(noon) != 0 {
			t.Fatalf("try %d of a minute waits", i)
		}
	}
	if got := all.count(noon.Add(20 * time.Second)); got != 40*time.Second {
		t.Errorf("more than %d tries in a minute: wait %s, want the rest of it, 40s", allTries, got)
	}
}

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
	for range 3 * allTries { // one that reads often is never held up
		if got := ask(password); got != http.StatusOK {
			t.Fatalf("the right password: got status %d", got)
		}
	}
	for range freeTries {
		if got := ask("wrong"); got != http.StatusUnauthorized {
			t.Fatalf("a wrong password: got status %d, want 401", got)
		}
	}
	if got := ask(password); got != http.StatusTooManyRequests {
		t.Errorf("the right one as the next guess: got status %d, want 429", got)
	}
}

// However much others try, who was signed in here before comes in again.
func TestAKnownBrowserIsNotKeptOut(t *testing.T) {
	st := start(t, fullOptions(newFake()))
	st.signInAs("ada", password)
	if a, _ := st.post("/sign-out"); a.StatusCode != http.StatusSeeOther {
		t.Fatalf("signing out: got status %d", a.StatusCode)
	}
	stranger := *st
	stranger.client = st.browser()
	for range allTries { // from everywhere, and at ada's account
		st.server.limiter.count(st.server.sessions.now())
		st.server.byName.wrong(limiterName("ada"), st.server.sessions.now())
		st.server.limiter.wrong("127.0.0.1", st.server.sessions.now())
	}
	if a, _ := stranger.post("/sign-in", "account", "ada", "password", password); a.StatusCode != http.StatusTooManyRequests {
		t.Errorf("a stranger: got status %d, want 429", a.StatusCode)
	}
	if a, _ := st.post("/sign-in", "account", "ben", "password", benPassword); a.StatusCode != http.StatusTooManyRequests {
		t.Errorf("another account than the one it is known for: got status %d, want 429", a.StatusCode)
	}
	for range freeTries {
		if a, _ := st.post("/sign-in", "account", "ada", "password", "wrong"); a.StatusCode != http.StatusUnauthorized {
			t.Fatalf("a wrong password there: got status %d, want 401", a.StatusCode)
		}
	}
	if a, _ := st.post("/sign-in", "account", "ada", "password", password); a.StatusCode != http.StatusTooManyRequests {
		t.Errorf("guessing there: got status %d, want 429", a.StatusCode)
	}
	st.server.sessions.now = func() time.Time { return time.Now().Add(2 * longestWait) }
	for range allTries {
		st.server.limiter.count(st.server.sessions.now())
	}
	if a, _ := st.post("/sign-in", "account", "ada", "password", password); a.StatusCode != http.StatusSeeOther {
		t.Errorf("its owner: got status %d, want 303", a.StatusCode)
	}
}

// Behind a proxy of ours the client is whom the proxy names; from elsewhere,
// and without a proxy, nobody is believed.
func TestClientBehindAProxy(t *testing.T) {
	for _, c := range []struct {
		proxy       bool
		from, named string
		want        string
	}{
		{true, "127.0.0.1:9", "198.51.100.7", "198.51.100.7"},
		{true, "[::1]:9", "203.0.113.9, 198.51.100.7", "198.51.100.7"}, // the first is what the client wrote
		{true, "192.168.1.5:9", "2001:db8:1:2:3::4", "2001:db8:1:2::/64"},
		{true, "198.51.100.9:9", "203.0.113.9", "198.51.100.9"},
		{true, "127.0.0.1:9", "unknown", "127.0.0.1"},
		{true, "127.0.0.1:9", "", "127.0.0.1"},
		{false, "127.0.0.1:9", "198.51.100.7", "127.0.0.1"},
	} {
		s := &Server{options: Options{ProxyTLS: c.proxy}}
		r := &http.Request{RemoteAddr: c.from, Header: http.Header{"X-Forwarded-For": {c.named}}}
		if got := s.clientOf(r); got != c.want {
			t.Errorf("%+v: got %s", c, got)
		}
	}
}

// Programs come in by token, name and password also to what was there before
// the interface.
func TestMachinesComeInByToken(t *testing.T) {
	metrics := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("telltale_up 1\n")) })
	st := start(t, Options{Watch: newFake(), Accounts: people(), Metrics: metrics})
	st.client.Jar = nil
	for _, path := range []string{"/state.json", "/metrics"} {
		for token, want := range map[string]int{programToken: 200, lookToken: 200, "wrong": 401, "": 401} {
			a, _ := st.get(path, "Accept", "*/*", "Authorization", "Bearer "+token)
			if a.StatusCode != want {
				t.Errorf("%s with the token %q: got status %d, want %d", path, token, a.StatusCode, want)
			}
			if want == 401 && len(a.Header.Values("WWW-Authenticate")) != 2 {
				t.Errorf("%s: got the challenges %q, want both ways", path, a.Header.Values("WWW-Authenticate"))
			}
			st.server.limiter.right("127.0.0.1")
		}
	}
	for range freeTries {
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
			for header, want := range map[string]string{"Content-Security-Policy": contentPolicy, "X-Content-Type-Options": "nosniff",
				"X-Frame-Options": "DENY", "Referrer-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
				"Cross-Origin-Opener-Policy": "same-origin", "Permissions-Policy": permissionsPolicy} {
				if got := a.Header.Get(header); got != want {
					t.Errorf("%s, %s: got %s: %q, want %q", name, path, header, got, want)
				}
			}
			if got := a.Header.Get("Strict-Transport-Security"); (got != "") != c.hsts {
				t.Errorf("%s, %s: got Strict-Transport-Security: %q", name, path, got)
			}
		}
	}
	for _, unwanted := range []string{"unsafe", "*", "data:", "http:", "https:"} {
		if strings.Contains(contentPolicy, unwanted) {
			t.Errorf("the content policy allows %q", unwanted)
		}
	}
	for _, needed := range []string{"default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"} {
		if !strings.Contains(contentPolicy, needed) {
			t.Errorf("the content policy lacks %q", needed)
		}
	}
}

// One client has so many connections and no more; this machine and a proxy of
// ours have more; what ends makes room.
func TestConnectionsOfOneClientAreBounded(t *testing.T) {
	for _, one := range []struct {
		from    string
		proxied bool
		want    int
	}{{"198.51.100.7", false, connectionsOfEach}, {"192.168.1.5", false, connectionsOfEach}, {"192.168.1.5", true, maxConnections},
		{"198.51.100.7", true, connectionsOfEach}, {"127.0.0.1", false, maxConnections}} {
		c := newConnections(one.proxied)
		var open []*fakeConn
		for i := range 2 * maxConnections {
			f := &fakeConn{from: &net.TCPAddr{IP: net.ParseIP(one.from), Port: 1024 + i}}
			c.state(f, http.StateNew)
			if f.closed {
				c.state(f, http.StateClosed)
				continue
			}
			open = append(open, f)
		}
		if len(open) != one.want {
			t.Errorf("%+v: %d connections are held", one, len(open))
		}
		for _, f := range open {
			c.state(f, http.StateClosed)
		}
		if c.all != 0 || len(c.from) != 0 {
			t.Errorf("%+v: all have ended, %d are counted, %v", one, c.all, c.from)
		}
	}
}

type fakeConn struct {
	net.Conn
	from   net.Addr
	closed bool
}

func (f *fakeConn) RemoteAddr() net.Addr { return f.from }
func (f *fakeConn) Close() error         { f.closed = true; return nil }

// What strangers cause is logged in measure, and says how much was left out.
func TestRefusalsAreLoggedInMeasure(t *testing.T) {
	var log bytes.Buffer
	s, err := New(Options{Watch: newFake(), Log: zerolog.New(&log)})
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	s.sessions.now = func() time.Time { return now }
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
	s, err := New(Options{Watch: newFake(), Accounts: people(), MaxLive: 8})
	if err != nil {
		t.Fatal(err)
	}
	joined := map[string]int{}
	for _, account := range []string{"ada", "ada", "ada", "ben", "ben", "ben"} {
		if _, ok := s.hub.join(manner{}, account); ok {
			joined[account]++
		}
	}
	if joined["ada"] != 2 || joined["ben"] != 2 {
		t.Errorf("of eight places they have %v, want two each", joined)
	}
}

// No name makes a spreadsheet calculate.
func TestNoCellIsAFormula(t *testing.T) {
	got := safeCells([]string{"=1+1", "+bench", "-bench", "@x", "\tx", "-59", "+2.5", "", "bench", "1=1"})
	want := []string{"'=1+1", "'+bench", "'-bench", "'@x", "'\tx", "-59", "+2.5", "", "bench", "1=1"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

// Nothing that is sent turns the text around it.
func TestWhatCannotBeSeenIsShown(t *testing.T) {
	if got := visible("bench\u202e/1\x00\u200b é ä"); got != "bench\ufffd/1\ufffd\ufffd é ä" {
		t.Errorf("got %q", got)
	}
}
