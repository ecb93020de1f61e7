package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/gateway/trials"

	"telltale/gateway/page/passwords"
)

func TestNewRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		o    Options
		is   error
		says string
	}{
		"everywhere without a password": {Options{Address: ":8470"}, errPasswordNeeded, `got the address ":8470"`},
		"all of IPv4":                   {Options{Address: "0.0.0.0:8470"}, errPasswordNeeded, "0.0.0.0"},
		"all of IPv6":                   {Options{Address: "[::]:8470"}, errPasswordNeeded, "[::]"},
		"a name":                        {Options{Address: "garden.example.org:8470"}, errPasswordNeeded, "garden"},
		"a host name for others":        {Options{Hosts: []string{"garden.example.org"}}, errPasswordNeeded, "garden.example.org"},
		"a short password":              {Options{Password: "greenhouse1"}, nil, "at least 12"},
		"no hash":                       {Options{PasswordHash: "secret"}, passwords.ErrHash, "$argon2id$"},
		"both":                          {Options{Password: password, PasswordHash: "x"}, nil, "both a password and a password hash"},
		"no port":                       {Options{Address: "127.0.0.1"}, nil, `must be host:port like 127.0.0.1:8470, got "127.0.0.1"`},
		"a key without certificate":     {Options{KeyFile: "key.pem"}, nil, "both or not at all"},
		"a missing certificate":         {Options{KeyFile: "none", CertFile: "none"}, nil, "certificate cannot be read"},
		"a host with a port":            {Options{Password: password, Hosts: []string{"a:1"}}, nil, `got "a:1"`},
	} {
		c.o.Watch = newFake()
		_, err := New(c.o)
		if err == nil || !strings.Contains(err.Error(), c.says) || c.is != nil && !errors.Is(err, c.is) {
			t.Errorf("%s: got error %v, want one that says %q", name, err, c.says)
		}
	}
	if _, err := New(Options{}); err == nil || !strings.Contains(err.Error(), "no watch") {
		t.Errorf("no watch: got %v", err)
	}
	for _, loop := range []string{"127.0.0.1:0", "[::1]:0", "localhost:0", "127.9.9.9:0", ""} {
		if _, err := New(Options{Watch: newFake(), Address: loop}); err != nil {
			t.Errorf("%q without a password: got %v, want none", loop, err)
		}
	}
	if _, err := New(Options{Watch: newFake(), Address: ":0", Password: password}); err != nil {
		t.Errorf("everywhere with a password: %v", err)
	}
}

func TestAddressInUse(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	s, err := New(Options{Watch: newFake(), Address: l.Addr().String()})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Run(t.Context()); !errors.Is(err, ErrAddressInUse) || !strings.Contains(err.Error(), l.Addr().String()) {
		t.Errorf("got %v, want ErrAddressInUse with the address", err)
	}
}

func TestNothingIsSeenBeforeThePassword(t *testing.T) {
	f := newFake()
	metrics := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("telltale_up 1\n")) })
	st := start(t, Options{Watch: f, Password: password, Metrics: metrics})
	for _, path := range []string{"/", "/log", "/back?house=long-house"} {
		a, text := st.get(path)
		if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/sign-in" {
			t.Errorf("%s: got status %d to %q, want the sign-in page", path, a.StatusCode, a.Header.Get("Location"))
		}
		wantNone(t, text, "Long House")
	}
	for _, path := range []string{"/live", "/state.json", "/metrics", "/signed-in"} {
		if a, text := st.get(path, "Accept", "*/*"); a.StatusCode != http.StatusUnauthorized {
			t.Errorf("%s: got status %d, want 401: %s", path, a.StatusCode, text)
		}
	}
	if a, _ := st.ask("POST", "/alarms/acknowledge", url.Values{"alarm": {"x"}}); a.StatusCode != http.StatusUnauthorized {
		t.Errorf("acknowledge: got status %d, want 401", a.StatusCode)
	}
	if a, text := st.get("/healthz"); a.StatusCode != http.StatusOK || text != "ok\n" {
		t.Errorf("healthz: got %d %q", a.StatusCode, text)
	}
	st.signIn()
	if a, text := st.get("/"); a.StatusCode != http.StatusOK || !strings.Contains(text, "Sign out") {
		t.Errorf("after signing in: got status %d", a.StatusCode)
	}
	if _, text := st.get("/metrics"); text != "telltale_up 1\n" {
		t.Errorf("metrics: got %q", text)
	}
	if a, _ := st.post("/sign-out"); a.StatusCode != http.StatusSeeOther {
		t.Errorf("sign out: got status %d", a.StatusCode)
	}
	if a, _ := st.get("/"); a.StatusCode != http.StatusSeeOther {
		t.Errorf("after signing out: got status %d, want 303", a.StatusCode)
	}
}

func TestStateForMachines(t *testing.T) {
	st := start(t, Options{Watch: newFake(), Password: password})
	basic := func(pass string) *http.Request {
		r, err := http.NewRequest("GET", st.base+"/state.json", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.SetBasicAuth("anybody", pass)
		return r
	}
	for i := 0; i < 3; i++ {
		a, err := st.client.Do(basic(password))
		if err != nil {
			t.Fatal(err)
		}
		var p alarms.Picture
		if err := json.NewDecoder(a.Body).Decode(&p); err != nil || len(p.Houses) != 2 || p.Alarms[0].State != alarms.Unacknowledged {
			t.Errorf("got %v, %d houses", err, len(p.Houses))
		}
		a.Body.Close()
		if a.Header.Get("Content-Type") != "application/json; charset=utf-8" {
			t.Errorf("got type %q", a.Header.Get("Content-Type"))
		}
	}
	a, err := st.client.Do(basic("something else"))
	if err != nil {
		t.Fatal(err)
	}
	a.Body.Close()
	if a.StatusCode != http.StatusUnauthorized {
		t.Errorf("a wrong password: got status %d, want 401", a.StatusCode)
	}
}

func TestGuessingIsSlowed(t *testing.T) {
	st := start(t, Options{Watch: newFake(), Password: password})
	for i := 0; i < guessesFree; i++ {
		a, text := st.post("/sign-in", "password", "not the password")
		if a.StatusCode != http.StatusUnauthorized || !strings.Contains(text, "That is not the password.") {
			t.Fatalf("try %d: got status %d", i, a.StatusCode)
		}
	}
	a, text := st.post("/sign-in", "password", password)
	if a.StatusCode != http.StatusTooManyRequests || a.Header.Get("Retry-After") == "" {
		t.Errorf("got status %d, want 429 with Retry-After even for the right password", a.StatusCode)
	}
	wantAll(t, reading(text), "Too many wrong passwords. Try again in 5 s.")
	trials.Report(t, fmt.Sprintf("guesses at the page's password, of which %d were looked at", guessesFree))
}

func TestFormsFromElsewhereAreRefused(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	good := url.Values{"alarm": {"long-house/ridge/temperature/high"}, "seen": {"long-house/ridge/temperature/high#3"}}
	for name, headers := range map[string][]string{
		"another site":           {"Sec-Fetch-Site", "cross-site"},
		"another port":           {"Sec-Fetch-Site", "same-site"},
		"another origin":         {"Origin", "http://evil.example.org"},
		"no origin to be had":    {"Origin", "null"},
		"a foreign name":         {"Host", "evil.example.org"},
		"a foreign name and way": {"Host", "evil.example.org", "Origin", "http://evil.example.org"},
	} {
		if a, _ := st.ask("POST", "/alarms/acknowledge", good, headers...); a.StatusCode != http.StatusForbidden {
			t.Errorf("%s: got status %d, want 403", name, a.StatusCode)
		}
	}
	for _, pattern := range st.server.served {
		if path, ok := strings.CutPrefix(pattern, "POST "); ok {
			if a, _ := st.ask("POST", path, good, "Sec-Fetch-Site", "cross-site"); a.StatusCode != http.StatusForbidden {
				t.Errorf("%s from another site: got status %d, want 403", path, a.StatusCode)
			}
		}
	}
	if len(f.done()) != 0 {
		t.Fatalf("something was done: %v", f.done())
	}
	a, _ := st.ask("POST", "/alarms/acknowledge", good, "Sec-Fetch-Site", "same-origin", "Origin", st.base)
	if a.StatusCode != http.StatusSeeOther || len(f.done()) != 1 {
		t.Errorf("our own form: got status %d and %d inputs", a.StatusCode, len(f.done()))
	}
	if a, _ := st.get("/alarms/acknowledge?alarm=x"); a.StatusCode != http.StatusMethodNotAllowed && a.StatusCode != http.StatusNotFound {
		t.Errorf("a change by GET: got status %d", a.StatusCode)
	}
	big := url.Values{"reason": {strings.Repeat("x", 64<<10)}}
	if a, _ := st.ask("POST", "/alarms/shelve", big); a.StatusCode != http.StatusBadRequest {
		t.Errorf("a huge form: got status %d, want 400", a.StatusCode)
	}
}

func TestHostNames(t *testing.T) {
	open := start(t, Options{Watch: newFake()})
	for host, want := range map[string]int{"localhost:8470": 200, "127.0.0.1": 200, "[::1]:99": 200,
		"evil.example.org": 403, "192.0.2.7:8470": 403} {
		if a, _ := open.get("/", "Host", host); a.StatusCode != want {
			t.Errorf("without a password, host %s: got status %d, want %d", host, a.StatusCode, want)
		}
	}
	named := start(t, Options{Watch: newFake(), Password: password, Hosts: []string{"Garden.example.org"}})
	for host, want := range map[string]int{"garden.example.org": 200, "GARDEN.example.org:443": 200, "192.0.2.7:8470": 200,
		"evil.example.org": 403} {
		if a, _ := named.get("/sign-in", "Host", host); a.StatusCode != want {
			t.Errorf("with a password, host %s: got status %d, want %d", host, a.StatusCode, want)
		}
	}
}

func TestHeadersAndCookies(t *testing.T) {
	st := start(t, Options{Watch: newFake(), Password: password, ProxyTLS: true})
	a, text := st.get("/sign-in")
	for name, want := range map[string]string{
		"Content-Security-Policy": "default-src 'none'; script-src 'self';", "X-Content-Type-Options": "nosniff",
		"Referrer-Policy": "same-origin", "Cache-Control": "no-store"} {
		if !strings.Contains(a.Header.Get(name), want) {
			t.Errorf("%s: got %q, want %q", name, a.Header.Get(name), want)
		}
	}
	wantNone(t, a.Header.Get("Content-Security-Policy"), "unsafe")
	wantNone(t, text, "style=", "onclick", "<style", "javascript:", "http://", "https://")
	if len(a.Cookies()) != 0 {
		t.Errorf("a stranger gets cookies: %v", a.Cookies())
	}
	a, _ = st.post("/sign-in", "password", password)
	for i, name := range []string{"__Host-telltale", "__Host-telltale-known"} {
		if c := a.Cookies()[i]; !c.HttpOnly || !c.Secure || c.SameSite != http.SameSiteLaxMode || c.Name != name {
			t.Errorf("the cookie is not guarded: %v", c)
		}
	}
	plain, _ := start(t, Options{Watch: newFake(), Password: password}).post("/sign-in", "password", password)
	if c := plain.Cookies()[0]; c.Secure || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode {
		t.Errorf("without TLS: %v", c)
	}
}
