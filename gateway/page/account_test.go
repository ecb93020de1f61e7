package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

const benPassword = "thistle harbour spoon"

// quickHash is a hash that is quick to check, as good as it must be here.
func quickHash(password string) string {
	h := hash{memory: 8 * 1024, passes: 1, lanes: 1, salt: []byte("salt of the tests")}
	h.key = h.compute(password, hashKeyLen)
	return h.String()
}

// signInAs signs a browser in.
func (st *started) signInAs(name, password string) {
	st.t.Helper()
	if a, text := st.post("/sign-in", "account", name, "password", password); a.StatusCode != http.StatusSeeOther {
		st.t.Fatalf("sign in as %s: got status %d: %s", name, a.StatusCode, reading(text))
	}
}

func TestAccountsAreRefused(t *testing.T) {
	for name, c := range map[string]struct {
		o    Options
		says string
	}{
		"both ways":         {Options{Accounts: people(), Password: password}, "keep one of the two"},
		"no name":           {Options{Accounts: []Account{{May: MayAct, Password: password}}}, `small letters without colon and space, got ""`},
		"a capital":         {Options{Accounts: []Account{{ID: "Ada", May: MayAct, Password: password}}}, `got "Ada"`},
		"twice":             {Options{Accounts: append(people(), people()[0])}, `"ada" is there twice`},
		"may what":          {Options{Accounts: []Account{{ID: "ada", May: "do", Password: password}}}, `"ada" may "do"; it must be "act" or "look"`},
		"no way in":         {Options{Accounts: []Account{{ID: "ada", May: MayAct}}}, "neither a password nor a token"},
		"password and hash": {Options{Accounts: []Account{{ID: "ada", May: MayAct, Password: password, PasswordHash: "x"}}}, "give one of them"},
		"short":             {Options{Accounts: []Account{{ID: "ada", May: MayAct, Password: "short"}}}, "account ada: the page's password is too short"},
		"a bad hash":        {Options{Accounts: []Account{{ID: "ada", May: MayAct, PasswordHash: "x"}}}, "account ada: the page's password hash cannot be read"},
	} {
		c.o.Watch = newFake()
		if _, err := New(c.o); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v, want an error that says %q", name, err, c.says)
		}
	}
	if _, err := New(Options{Watch: newFake(), Address: ":0", Accounts: people()}); err != nil {
		t.Errorf("accounts let others in: %v", err)
	}
}

// full are options with every feature, so that every route is there.
func fullOptions(f *fakeWatch) Options {
	return Options{Watch: f, Accounts: people(), Tending: plainTending(f), Course: newFakeCourse(f), First: newFakeFirst(),
		Push: newFakePush(), Taps: NewTaps([]byte("k")), Metrics: http.NotFoundHandler()}
}

// mayAlways are the forms that change nothing of the watch, or are for who is
// not signed in: the only ones that somebody who may look only can send.
var mayAlways = []string{"POST /sign-in", "POST /sign-out", "POST /sign-out-everywhere", "POST /name", "POST /degrees", "POST /tap",
	"POST /push/subscribe", "POST /push/remove", "POST /push/test", "POST /push/renew"}

var inPath = regexp.MustCompile(`\{[^}]*\}`)

// TestLookingChangesNothing walks all routes: each POST is refused to an
// account that may look only, and nothing but a page reaches a stranger.
func TestLookingChangesNothing(t *testing.T) {
	f := newFake()
	st := start(t, fullOptions(f))
	stranger := *st
	stranger.client = st.browser()
	st.signInAs("ben", benPassword)
	posts, gets := 0, 0
	for _, pattern := range st.server.served {
		method, path, _ := strings.Cut(pattern, " ")
		path = inPath.ReplaceAllString(strings.TrimSuffix(path, "{$}"), "x")
		switch {
		case method == "POST" && !slices.Contains(mayAlways, pattern):
			posts++
			refusedToLook(t, st, path)
			a, _ := stranger.ask("POST", path, url.Values{"token": {stranger.token("/sign-in")}}, "Accept", "application/json")
			if a.StatusCode != http.StatusUnauthorized {
				t.Errorf("%s by a stranger: got status %d, want 401", pattern, a.StatusCode)
			}
		case method == "GET" && !slices.Contains([]string{"GET /healthz", "GET /static/{file}", "GET /sign-in", "GET /tap", "GET /worker.js", "GET /manifest.webmanifest"}, pattern):
			gets++
			a, text := stranger.get(path, "Accept", "application/json")
			if a.StatusCode != http.StatusUnauthorized || strings.Contains(text, "Long House") {
				t.Errorf("%s for a stranger: got status %d, want 401: %s", pattern, a.StatusCode, text)
			}
		}
	}
	if posts < 20 || gets < 15 {
		t.Errorf("tried %d forms and %d pages: too few to be all", posts, gets)
	}
	if len(f.done()) != 0 || f.tests != 0 {
		t.Errorf("something was done: %v, %d test messages", f.done(), f.tests)
	}
}

func refusedToLook(t *testing.T, st *started, path string) {
	t.Helper()
	var a *http.Response
	var text string
	if strings.HasPrefix(path, "/api/") {
		a, text = st.ask("POST", path, url.Values{}, "Content-Type", "application/json", tokenHeader, st.token("/account"), "Accept", "text/html")
	} else {
		a, text = st.ask("POST", path, url.Values{"token": {st.token("/account")}, "alarm": {string(ridgeHigh)}, "seen": {string(ridgeHigh) + "#3"},
			"house": {"long-house"}, "season": {"winter"}, "probe": {"ridge-1"}, "reason": {"because"}, "for": {"2h"}}, "Accept", "application/json")
	}
	if a.StatusCode != http.StatusForbidden || !strings.Contains(text, lookOnly) {
		t.Errorf("POST %s by somebody who may look only: got status %d, want 403 and %q: %s", path, a.StatusCode, lookOnly, text)
	}
}

// A form of a page that may look only: there is none but those about oneself.
func TestLookingSeesNoForms(t *testing.T) {
	st := start(t, fullOptions(newFake()))
	st.signInAs("Ben", benPassword)
	action := regexp.MustCompile(`action="([^"]*)"`)
	pages := 0
	for _, e := range st.server.navigation(st.requestAs("/")) {
		a, text := st.get(e.Address)
		if a.StatusCode != http.StatusOK {
			t.Errorf("%s: got status %d", e.Address, a.StatusCode)
			continue
		}
		pages++
		for _, m := range action.FindAllStringSubmatch(text, -1) {
			own := slices.Contains(mayAlways, "POST "+m[1]) || strings.HasPrefix(m[1], "/log") || strings.HasPrefix(m[1], "/told") || strings.HasPrefix(m[1], "/back")
			if !own && strings.Contains(text, `method="post" action="`+m[1]) {
				t.Errorf("%s offers the form %s to somebody who may look only", e.Address, m[1])
			}
		}
	}
	if pages < 6 {
		t.Errorf("looked at %d pages only", pages)
	}
}

// requestAs is a request of the browser of st, as the server would get it.
func (st *started) requestAs(path string) *http.Request {
	r, err := http.NewRequest("GET", st.base+path, nil)
	if err != nil {
		st.t.Fatal(err)
	}
	for _, c := range st.client.Jar.Cookies(r.URL) {
		r.AddCookie(c)
	}
	return r
}

func TestActsCarryTheAccountsName(t *testing.T) {
	f := newFake()
	st := start(t, fullOptions(f))
	st.signInAs(" ADA ", password)
	a, _ := st.post("/season", "house", "long-house", "season", "winter", "who", "Ben")
	if a.StatusCode != http.StatusSeeOther || len(f.done()) != 1 || f.done()[0].By != "Ada" {
		t.Errorf("got status %d and %+v, want an act of Ada, whatever name the form had", a.StatusCode, f.done())
	}
}

// Unknown names, wrong passwords, and accounts that nobody can sign in to get
// the same answer, but for what changes with each answer.
func TestNobodyLearnsWhichAccountsThereAre(t *testing.T) {
	st := start(t, fullOptions(newFake()))
	var first string
	varying := regexp.MustCompile(`name="token" value="[^"]*"|name="account" type="text" value="[^"]*"`)
	for _, name := range []string{"ada", "ben", "lamp", "nobody", "", "ada ", "телефон"} {
		a, text := st.post("/sign-in", "account", name, "password", "wrong password")
		head := a.Header.Clone()
		for _, h := range []string{"Date", "Content-Length", "Set-Cookie"} {
			head.Del(h)
		}
		got := fmt.Sprint(a.StatusCode, head, varying.ReplaceAllString(text, ""))
		if first == "" {
			first = got
		}
		if got != first || a.StatusCode != http.StatusUnauthorized {
			t.Errorf("%q: got\n%s\nwant\n%s", name, got, first)
		}
		wantAll(t, reading(text), "That name and that password do not belong together.")
		st.server.limiter.right("127.0.0.1")
	}
}

// The work done for an unknown name is that of a known one: the settings of
// its hash decide how long it takes.
func TestUnknownNamesCostAsMuch(t *testing.T) {
	s, err := New(fullOptions(newFake()))
	if err != nil {
		t.Fatal(err)
	}
	known := *s.keys["ada"].lock
	for _, name := range []string{"nobody", "", "lamp", "x"} {
		h := s.lockOf(name)
		if h.memory != known.memory || h.passes != known.passes || h.lanes != known.lanes || len(h.key) == 0 || h.matches(password) {
			t.Errorf("%q is checked by m=%d, t=%d, p=%d, want those of an account", name, h.memory, h.passes, h.lanes)
		}
	}
}

// One account is guessed at from many clients: that is slowed too, whether it
// is there or not. Who is signed in already goes on.
func TestGuessingAtOneAccountIsSlowed(t *testing.T) {
	st := start(t, fullOptions(newFake()))
	st.signInAs("ada", password)
	other := *st
	other.client = st.browser()
	for _, name := range []string{"ada", "nobody"} {
		for i := range freeForName {
			a, _ := other.post("/sign-in", "account", name, "password", "wrong")
			if a.StatusCode != http.StatusUnauthorized {
				t.Fatalf("%s, try %d: got status %d", name, i, a.StatusCode)
			}
			st.server.limiter.right("127.0.0.1") // as if each try came from elsewhere
		}
		if a, _ := other.post("/sign-in", "account", name, "password", password); a.StatusCode != http.StatusTooManyRequests {
			t.Errorf("%s: got status %d, want 429", name, a.StatusCode)
		}
	}
	if a, _ := st.get("/"); a.StatusCode != http.StatusOK {
		t.Errorf("who was signed in: got status %d", a.StatusCode)
	}
	if a, _ := other.post("/sign-in", "account", "ben", "password", benPassword); a.StatusCode != http.StatusSeeOther {
		t.Errorf("another account: got status %d, want 303", a.StatusCode)
	}
}

// memory is a Memory of tests.
type memory struct {
	mu     sync.Mutex
	data   []byte
	writes int
	err    error
}

func (m *memory) Load() ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.data, m.err
}

func (m *memory) Save(data []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.data, m.writes = slices.Clone(data), m.writes+1
	return m.err
}

// again serves the page once more with the same memory and browser.
func again(t *testing.T, st *started, o Options) *started {
	t.Helper()
	next := start(t, o)
	next.client.Jar.SetCookies(mustURL(next.base), st.client.Jar.Cookies(mustURL(st.base)))
	return next
}

func mustURL(text string) *url.URL {
	u, _ := url.Parse(text)
	return u
}

func TestSessionsOutliveARestart(t *testing.T) {
	m, key := &memory{}, []byte("a key that is kept")
	with := func(accounts ...Account) Options {
		return Options{Watch: newFake(), Accounts: accounts, Memory: m, Key: key}
	}
	ada, ben := Account{ID: "ada", May: MayAct, Password: password}, people()[1]
	st := start(t, with(ada, ben))
	st.signInAs("ada", password)
	token := st.token("/")
	phone := *st
	phone.client = st.browser()
	phone.signInAs("ben", benPassword)
	if strings.Contains(string(m.data), st.client.Jar.Cookies(mustURL(st.base))[0].Value) || strings.Contains(string(m.data), password) {
		t.Errorf("memory holds what lets one in: %s", m.data)
	}
	signedIn := func(st *started, want bool, what string) {
		t.Helper()
		a, _ := st.get("/signed-in", "Accept", "application/json")
		if got := a.StatusCode == http.StatusNoContent; got != want {
			t.Errorf("%s: signed in: %v, want %v", what, got, want)
		}
	}
	next := again(t, st, with(ada, ben))
	signedIn(next, true, "the same password, which is hashed anew at each start")
	if a, _ := next.ask("POST", "/degrees", url.Values{"token": {token}, "degrees": {"c"}}); a.StatusCode != http.StatusSeeOther {
		t.Errorf("a form from before the restart: got status %d", a.StatusCode)
	}
	changed := ada
	changed.Password = "another password now"
	signedIn(again(t, st, with(changed, ben)), false, "a changed password")
	signedIn(again(t, &phone, with(changed, ben)), true, "another's changed password")
	look := ben
	look.May = MayAct
	signedIn(again(t, &phone, with(changed, look)), true, "may more now")
	signedIn(again(t, &phone, with(changed)), false, "an account that is gone")
	signedIn(again(t, &phone, with(changed, ben)), false, "and is back: its sessions are not")
}

func TestSignOutEverywhere(t *testing.T) {
	m := &memory{}
	o := fullOptions(newFake())
	o.Memory = m
	st := start(t, o)
	st.signInAs("ada", password)
	phone, ben := *st, *st
	phone.client, ben.client = st.browser(), st.browser()
	phone.signInAs("ada", password)
	ben.signInAs("ben", benPassword)
	_, text := st.get("/account")
	wantAll(t, reading(text), "Name in the log Ada", "Signed in 2 browsers", "Sign out everywhere")
	if a, _ := st.post("/sign-out-everywhere"); a.Header.Get("Location") != "/sign-in" {
		t.Errorf("got status %d to %q", a.StatusCode, a.Header.Get("Location"))
	}
	for name, c := range map[string]struct {
		st   *started
		want int
	}{"here": {st, 303}, "the phone": {&phone, 303}, "another account": {&ben, 200}} {
		if a, _ := c.st.get("/account"); a.StatusCode != c.want {
			t.Errorf("%s: got status %d, want %d", name, a.StatusCode, c.want)
		}
	}
	var r remembered
	if err := json.Unmarshal(m.data, &r); err != nil || len(r.Sessions) != 1 || r.Sessions[0].Account != "ben" {
		t.Errorf("memory has %s", m.data)
	}
}

// Sessions are bounded for each account, end unused, and are not written for
// every visit. Memory that refuses costs nobody the session.
func TestSessionsAreBounded(t *testing.T) {
	m := &memory{}
	s := newSessions(false, nil)
	now := noon
	s.now, s.memory = func() time.Time { return now }, m
	refused := 0
	s.failed = func(error) { refused++ }
	visit := func(w *recorder) bool {
		r, _ := http.NewRequest("GET", "/", nil)
		for _, c := range (&http.Response{Header: w.Header()}).Cookies() {
			r.AddCookie(c)
		}
		return s.signedIn(r)
	}
	ben := newRecorder()
	s.signIn(ben, "ben")
	var all []*recorder
	for range maxSessions + 1 {
		now = now.Add(time.Minute)
		w := newRecorder()
		s.signIn(w, "ada")
		all = append(all, w)
	}
	if visit(all[0]) || !visit(all[1]) || !visit(all[maxSessions]) || !visit(ben) || s.count("ada") != maxSessions {
		t.Errorf("of %d sessions the oldest alone must end, and no other account's; counted %d", maxSessions+1, s.count("ada"))
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
	s.signIn(last, "ada")
	if refused != 1 || !visit(last) {
		t.Errorf("memory refused: told %d times; signed in: %v", refused, visit(last))
	}
	now = now.Add(sessionLife + time.Second)
	if visit(last) || visit(ben) {
		t.Error("a session outlives its time")
	}
}

func TestMemoryThatCannotBeReadEndsSessionsAlone(t *testing.T) {
	for _, data := range []string{"{", `{"form":9}`, `{"form":1,"sessions":[{"id":"zz","account":"ada"}]}`} {
		o := fullOptions(newFake())
		o.Memory = &memory{data: []byte(data)}
		st := start(t, o)
		st.signInAs("ada", password)
		if a, _ := st.get("/"); a.StatusCode != http.StatusOK {
			t.Errorf("%s: got status %d", data, a.StatusCode)
		}
	}
}

// recorder takes the headers of an answer.
type recorder struct{ head http.Header }

func newRecorder() *recorder                    { return &recorder{http.Header{}} }
func (r *recorder) Header() http.Header         { return r.head }
func (r *recorder) Write(b []byte) (int, error) { return len(b), nil }
func (r *recorder) WriteHeader(int)             {}
