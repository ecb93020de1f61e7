package door

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/gateway/page/scenes"
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
			l.wrong("client", scenes.Noon)
		}
		if got := l.wait("client", scenes.Noon); got != c.want {
			t.Errorf("after %d wrong of %d free: wait %s, want %s", c.wrong, c.free, got, c.want)
		}
		if got := l.wait("another", scenes.Noon); got != 0 {
			t.Errorf("another waits %s", got)
		}
		if l.wait("client", scenes.Noon.Add(c.want)) != 0 {
			t.Errorf("after %s of waiting it still waits", c.want)
		}
		l.right("client")
		if l.wait("client", scenes.Noon) != 0 {
			t.Error("it waits after a right one")
		}
	}
}

func TestLimiterForgetsAndIsBounded(t *testing.T) {
	l := newLimiter(1)
	l.wrong("client", scenes.Noon)
	if later := scenes.Noon.Add(forgetAfter + time.Second); l.wait("client", later) != 0 {
		t.Error("it waits after half an hour")
	}
	for i := range 3 * maxClients {
		l.wrong(strings.Repeat("x", i+1), scenes.Noon.Add(time.Duration(i)*time.Millisecond))
	}
	if len(l.clients) > maxClients {
		t.Errorf("%d clients are remembered, at most %d should be", len(l.clients), maxClients)
	}
	all := newLimiter(5)
	for i := range allTries {
		if all.count(scenes.Noon) != 0 {
			t.Fatalf("try %d of a minute waits", i)
		}
	}
	if got := all.count(scenes.Noon.Add(20 * time.Second)); got != 40*time.Second {
		t.Errorf("more than %d tries in a minute: wait %s, want the rest of it, 40s", allTries, got)
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
		d := &Door{proxied: c.proxy}
		r := &http.Request{RemoteAddr: c.from, Header: http.Header{"X-Forwarded-For": {c.named}}}
		if got := d.ClientOf(r); got != c.want {
			t.Errorf("%+v: got %s", c, got)
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
		c := NewConnections(one.proxied)
		var open []*fakeConn
		for i := range 2 * maxConnections {
			f := &fakeConn{from: &net.TCPAddr{IP: net.ParseIP(one.from), Port: 1024 + i}}
			c.State(f, http.StateNew)
			if f.closed {
				c.State(f, http.StateClosed)
				continue
			}
			open = append(open, f)
		}
		if len(open) != one.want {
			t.Errorf("%+v: %d connections are held", one, len(open))
		}
		for _, f := range open {
			c.State(f, http.StateClosed)
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

func (f *fakeConn) Close() error { f.closed = true; return nil }

// Sessions are bounded for each account, end unused, and are not written for
// every visit. Memory that refuses costs nobody the session.
func TestSessionsAreBounded(t *testing.T) {
	m := &countedMemory{}
	s := newSessions(false, nil)
	now := scenes.Noon
	s.now, s.memory = func() time.Time { return now }, m
	refused := 0
	s.failed = func(error) { refused++ }
	visit := func(w *recorder) bool {
		r, _ := http.NewRequest("GET", "/", nil)
		for _, c := range (&http.Response{Header: w.Header()}).Cookies() {
			r.AddCookie(c)
		}
		return s.SignedIn(r)
	}
	ben := newRecorder()
	s.SignIn(ben, "ben")
	var all []*recorder
	for range maxSessions + 1 {
		now = now.Add(time.Minute)
		w := newRecorder()
		s.SignIn(w, "ada")
		all = append(all, w)
	}
	if visit(all[0]) || !visit(all[1]) || !visit(all[maxSessions]) || !visit(ben) || s.Count("ada") != maxSessions {
		t.Errorf("of %d sessions the oldest alone must end, and no other account's; counted %d", maxSessions+1, s.Count("ada"))
	}
	writes := m.writes
	for range 20 {
		now = now.Add(time.Hour / 2)
		visit(ben)
	}
	if m.writes != writes {
		t.Errorf("written %d times for visits of one day", m.writes-writes)
	}
	now = now.Add(saveUsedAfter)
	if visit(ben); m.writes != writes+1 {
		t.Errorf("written %d times for a visit on another day, want once", m.writes-writes)
	}
	m.err = errors.New("no room")
	last := newRecorder()
	s.SignIn(last, "ada")
	if refused != 1 || !visit(last) {
		t.Errorf("memory refused: told %d times; signed in: %v", refused, visit(last))
	}
	now = now.Add(sessionLife + time.Second)
	if visit(last) || visit(ben) {
		t.Error("a session outlives its time")
	}
}

// recorder takes the headers of an answer.
type recorder struct{ head http.Header }

func newRecorder() *recorder { return &recorder{http.Header{}} }

func (r *recorder) Header() http.Header { return r.head }

func (r *recorder) Write(b []byte) (int, error) { return len(b), nil }

func (r *recorder) WriteHeader(int) {}

// countedMemory counts how often it is written.
type countedMemory struct {
	writes int
	err    error
}

func (m *countedMemory) Load() ([]byte, error) { return nil, nil }

func (m *countedMemory) Save([]byte) error {
	m.writes++
	return m.err
}

const password, benPassword = "lettuce kettle bramble", "another long password"

// two is a door for Ada and Ben, whose clock the test sets, and for a program.
func two(t *testing.T) (d *Door, clock *time.Time) {
	t.Helper()
	d, err := New(Options{Log: zerolog.Nop(), Accounts: []Account{{ID: "ada", Name: "Ada", May: MayAct, Password: password},
		{ID: "ben", May: MayView, Password: benPassword}, {ID: "lamp", May: MayAct, Token: "a token that nobody guesses"}}})
	if err != nil {
		t.Fatal(err)
	}
	now := scenes.Noon
	d.now = func() time.Time { return now }
	return d, &now
}

// from is a request of a client with the cookies that w was given.
func from(client string, w *recorder) *http.Request {
	r := &http.Request{RemoteAddr: client + ":9", Header: http.Header{}}
	if w != nil {
		for _, c := range (&http.Response{Header: w.Header()}).Cookies() {
			r.AddCookie(c)
		}
	}
	return r
}

// The work done for an unknown name is that of a known one: the settings of
// its hash decide how long it takes.
func TestUnknownNamesCostAsMuch(t *testing.T) {
	d, _ := two(t)
	known := *d.keys["ada"].lock
	for _, name := range []string{"nobody", "", "lamp", "x"} {
		h := d.lockOf(name)
		if h.Memory != known.Memory || h.Passes != known.Passes || h.Lanes != known.Lanes || len(h.Key) == 0 || h.Matches(password) {
			t.Errorf("%q is checked by m=%d, t=%d, p=%d, want those of an account", name, h.Memory, h.Passes, h.Lanes)
		}
	}
}

// tries gives a password and says what came of it: "in", "wrong" or "wait".
func (d *Door) tries(r *http.Request, name, secret string) string {
	switch k, err := d.Proven(r, name, secret); {
	case err != nil:
		return "wait"
	case k == nil:
		return "wrong"
	}
	return "in"
}

// However much others try, who was signed in here before comes in again.
func TestAKnownBrowserIsNotKeptOut(t *testing.T) {
	d, clock := two(t)
	w := newRecorder()
	d.SignIn(w, "ada")
	known, stranger := from("127.0.0.1", w), from("127.0.0.1", nil)
	for range allTries { // from everywhere, and at ada's account
		d.limiter.count(d.now())
		d.byName.wrong(limiterName("ada"), d.now())
		d.limiter.wrong("127.0.0.1", d.now())
	}
	for _, c := range []struct {
		by               *http.Request
		name, secret, is string
	}{
		{stranger, "ada", password, "wait"},
		{known, "ben", benPassword, "wait"}, // it is known for another account
		{known, "ada", "wrong", "wrong"}, {known, "ada", "wrong", "wrong"}, {known, "ada", "wrong", "wrong"},
		{known, "ada", "wrong", "wrong"}, {known, "ada", "wrong", "wrong"},
		{known, "ada", password, "wait"}, // that was guessing
	} {
		if got := d.tries(c.by, c.name, c.secret); got != c.is {
			t.Errorf("%s with %q: got %q, want %q", c.name, c.secret, got, c.is)
		}
	}
	*clock = clock.Add(2 * longestWait)
	for range allTries {
		d.limiter.count(d.now())
	}
	if got := d.tries(known, "ada", password); got != "in" {
		t.Errorf("its owner: got %q", got)
	}
}

// One account is guessed at from many clients: that is slowed too, whether it
// is there or not. Who is signed in already goes on.
func TestGuessingAtOneAccountIsSlowed(t *testing.T) {
	d, _ := two(t)
	w := newRecorder()
	d.SignIn(w, "ada")
	for _, name := range []string{"ada", "nobody"} {
		for i := range freeForName {
			if got := d.tries(from(fmt.Sprintf("192.0.2.%d", i), nil), name, "wrong"); got != "wrong" {
				t.Fatalf("%s, try %d: got %q", name, i, got)
			}
		}
		if got := d.tries(from("192.0.2.99", nil), name, password); got != "wait" {
			t.Errorf("%s: got %q, want it to wait", name, got)
		}
	}
	if d.MustSignIn(from("127.0.0.1", w)) {
		t.Error("who was signed in is kept out")
	}
	if got := d.tries(from("192.0.2.100", nil), "ben", benPassword); got != "in" {
		t.Errorf("another account: got %q", got)
	}
}

func TestTheContentPolicyAllowsNothingInline(t *testing.T) {
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
