package page

import (
	"crypto/tls"
	"net/http"
	"strings"
	"testing"
	"time"
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
		if all.wait(strings.Repeat("x", i+1), noon) != 0 {
			t.Fatalf("try %d of a minute waits", i)
		}
	}
	if got := all.wait("one more", noon.Add(20*time.Second)); got != 40*time.Second {
		t.Errorf("more than %d tries in a minute: wait %s, want the rest of it, 40s", allTries, got)
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
