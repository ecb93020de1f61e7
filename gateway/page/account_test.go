package page

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"telltale/gateway/page/door"
	"telltale/gateway/page/passwords"
)

const benPassword = "thistle harbour spoon"

// quickHash is a hash that is quick to check, as good as it must be here.
func quickHash(text string) string {
	return passwords.Hash{Memory: 8 * 1024, Passes: 1, Lanes: 1, Salt: []byte("salt of the tests")}.Of(text).String()
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
		"no name":           {Options{Accounts: []door.Account{{May: door.MayAct, Password: password}}}, `small letters without colon and space, got ""`},
		"a capital":         {Options{Accounts: []door.Account{{ID: "Ada", May: door.MayAct, Password: password}}}, `got "Ada"`},
		"twice":             {Options{Accounts: append(people(), people()[0])}, `"ada" is there twice`},
		"may what":          {Options{Accounts: []door.Account{{ID: "ada", May: "do", Password: password}}}, `"ada" may "do"; it must be "act", "look" or "accompany"`},
		"no way in":         {Options{Accounts: []door.Account{{ID: "ada", May: door.MayAct}}}, "neither a password nor a token"},
		"password and hash": {Options{Accounts: []door.Account{{ID: "ada", May: door.MayAct, Password: password, PasswordHash: "x"}}}, "give one of them"},
		"short":             {Options{Accounts: []door.Account{{ID: "ada", May: door.MayAct, Password: "short"}}}, "account ada: the page's password must hold at least 12"},
		"a bad hash":        {Options{Accounts: []door.Account{{ID: "ada", May: door.MayAct, PasswordHash: "x"}}}, "account ada: the page's password must be a hash such as $argon2id$"},
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
	return Options{Watch: f, Accounts: people(), Tending: plainTending(f), Course: newFakeCourse(f), First: newFakeFirst(), Authority: newFakeAuthority(),
		Push: newFakePush(), AckLinks: door.NewAckLinks([]byte("k")), Metrics: http.NotFoundHandler()}
}

// mayAlways are the forms that change nothing of the watch, or are for who is
// not signed in: the only ones that somebody who may look only can send.
var mayAlways = []string{"POST /sign-in", "POST /sign-out", "POST /sign-out-everywhere", "POST /name", "POST /degrees", "POST /tongue", "POST /tap",
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
			a, _ := stranger.ask("POST", path, url.Values{}, "Accept", "application/json")
			if a.StatusCode != http.StatusUnauthorized {
				t.Errorf("%s by a stranger: got status %d, want 401", pattern, a.StatusCode)
			}
		case method == "GET" && !slices.Contains([]string{"GET /healthz", "GET /authority.cer", "GET /static/{file}", "GET /sign-in", "GET /tap", "GET /worker.js", "GET /manifest.webmanifest"}, pattern):
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
		a, text = st.ask("POST", path, url.Values{}, "Content-Type", "application/json", "Accept", "text/html")
	} else {
		a, text = st.ask("POST", path, url.Values{"alarm": {string(ridgeHigh)}, "seen": {string(ridgeHigh) + "#3"},
			"house": {"long-house"}, "season": {"winter"}, "probe": {"ridge-1"}, "reason": {"because"}, "for": {"2h"}}, "Accept", "application/json")
	}
	why := "This account may look only, so nothing was done."
	if strings.HasPrefix(path, "/api/v1/companion/") {
		why = "This is for a companion alone"
	}
	if a.StatusCode != http.StatusForbidden || !strings.Contains(text, why) {
		t.Errorf("POST %s by somebody who may look only: got status %d, want 403 and why: %s", path, a.StatusCode, text)
	}
}

// A form of a page that may look only: there is none but those about oneself.
func TestLookingSeesNoForms(t *testing.T) {
	st := start(t, fullOptions(newFake()))
	st.signInAs("Ben", benPassword)
	action := regexp.MustCompile(`action="([^"]*)"`)
	pages := 0
	addresses := []string{"/alarm?id=" + string(ridgeHigh), "/probes/ridge-1", "/probes/ridge-1?quantity=temperature&against=ice"}
	for _, e := range st.server.navigation(st.requestAs("/")) {
		addresses = append(addresses, e.Address)
	}
	for _, address := range addresses {
		a, text := st.get(address)
		if a.StatusCode != http.StatusOK && !strings.Contains(address, "against") {
			t.Errorf("%s: got status %d", address, a.StatusCode)
			continue
		}
		pages++
		for _, m := range action.FindAllStringSubmatch(text, -1) {
			own := slices.Contains(mayAlways, "POST "+m[1]) || strings.HasPrefix(m[1], "/log") || strings.HasPrefix(m[1], "/told") || strings.HasPrefix(m[1], "/back")
			if !own && strings.Contains(text, `method="post" action="`+m[1]) {
				t.Errorf("%s offers the form %s to somebody who may look only", address, m[1])
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
	o := fullOptions(newFake())
	o.ProxyTLS = true
	st := start(t, o)
	var first string
	varying := regexp.MustCompile(`name="account" type="text" value="[^"]*"`)
	for i, name := range []string{"ada", "ben", "lamp", "nobody", "", "ada ", "телефон"} {
		a, text := st.ask("POST", "/sign-in", url.Values{"account": {name}, "password": {"wrong password"}}, "X-Forwarded-For", fmt.Sprintf("192.0.2.%d", i))
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
	}
}
