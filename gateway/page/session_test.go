package page

import (
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"

	"telltale/gateway/page/door"
)

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
	with := func(accounts ...door.Account) Options {
		return Options{Watch: newFake(), Accounts: accounts, Memory: m, Key: key}
	}
	ada, ben := door.Account{ID: "ada", May: door.MayAct, Password: password}, people()[1]
	st := start(t, with(ada, ben))
	st.signInAs("ada", password)
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
	if a, _ := next.ask("POST", "/degrees", url.Values{"degrees": {"c"}}); a.StatusCode != http.StatusSeeOther {
		t.Errorf("a form from before the restart: got status %d", a.StatusCode)
	}
	changed := ada
	changed.Password = "another password now"
	signedIn(again(t, st, with(changed, ben)), false, "a changed password")
	signedIn(again(t, &phone, with(changed, ben)), true, "another's changed password")
	look := ben
	look.May = door.MayAct
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
	var r struct{ Sessions []struct{ Account string } }
	if err := json.Unmarshal(m.data, &r); err != nil || len(r.Sessions) != 1 || r.Sessions[0].Account != "ben" {
		t.Errorf("memory has %s", m.data)
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
