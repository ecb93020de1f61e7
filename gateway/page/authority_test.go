package page

import (
	"bytes"
	"context"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/authority"
	"telltale/gateway/page/answer"
)

// fakeAuthority is one that the test sets.
type fakeAuthority struct {
	mu     sync.Mutex
	state  AuthorityState
	refuse error
	acts   []string // what was done by whom
}

func newFakeAuthority() *fakeAuthority {
	return &fakeAuthority{state: AuthorityState{Names: []string{"garden-board.local", "192.0.2.10"}, Port: "8470"}}
}

// made is the state of a real authority.
func (f *fakeAuthority) made(t *testing.T) *authority.Authority {
	t.Helper()
	a, err := authority.New(authority.NamesOf([]string{"garden-board.local"}, []netip.Addr{netip.MustParseAddr("192.0.2.10")}), time.Now())
	if err != nil {
		t.Fatal(err)
	}
	f.set(func(s *AuthorityState) {
		*s = AuthorityState{Made: true, Certificate: a.Certificate(), Name: a.Name(), Fingerprint: a.Fingerprint(), Until: a.Until(), Names: a.Names().Words(), Port: "8470"}
	})
	return a
}

func (f *fakeAuthority) set(change func(*AuthorityState)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	change(&f.state)
}

func (f *fakeAuthority) Look() AuthorityState {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.state
}

func (f *fakeAuthority) act(what, by string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.refuse == nil {
		f.acts = append(f.acts, what+" by "+by)
	}
	return f.refuse
}

func (f *fakeAuthority) Make(by string) error                   { return f.act("made", by) }
func (f *fakeAuthority) Use(_ context.Context, by string) error { return f.act("used", by) }

// tight is what is read of a page, without the places where a line may end.
func tight(page string) string { return strings.ReplaceAll(reading(page), " ", "") }

func TestTheAuthorityIsOfferedAndTaken(t *testing.T) {
	t.Parallel()
	f := newFakeAuthority()
	st := start(t, Options{Watch: newFake(), Accounts: people(), Authority: f})
	stranger := *st
	stranger.client = st.browser()
	st.signInAs("ada", password)
	if a, _ := stranger.get("/authority.cer"); a.StatusCode != http.StatusNotFound {
		t.Errorf("a certificate that is not there: %d", a.StatusCode)
	}
	_, text := st.get("/authority")
	for _, want := range []string{"Browsers warn of this page", "It could vouch for this board alone", "garden-board.local", "192.0.2.10", "Make the authority"} {
		if !strings.Contains(tight(text), tight(want)) {
			t.Errorf("before it is made the page lacks %q:\n%s", want, reading(text))
		}
	}
	if a, _ := st.post("/authority/make"); a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != "/authority" {
		t.Errorf("making it: %d to %s", a.StatusCode, a.Header.Get("Location"))
	}
	made := f.made(t)
	_, text = st.get("/authority")
	for _, want := range []string{"This page is served without it until", made.Fingerprint(), made.Name(), made.Until().Format("2 January 2006"), st.base + "/authority.cer",
		"https://garden-board.local:8470/", "own-authority = true", "Serve the page with it"} {
		if !strings.Contains(tight(text), tight(want)) {
			t.Errorf("once it is made the page lacks %q:\n%s", want, reading(text))
		}
	}
	// Everybody may take the certificate, and nothing else is in it.
	a, body := stranger.get("/authority.cer")
	if a.StatusCode != http.StatusOK || a.Header.Get("Content-Type") != "application/x-x509-ca-cert" || !bytes.Equal([]byte(body), made.Certificate()) {
		t.Errorf("a stranger gets %d, %s, %d bytes", a.StatusCode, a.Header.Get("Content-Type"), len(body))
	}
	if a, _ := stranger.get("/authority"); a.StatusCode == http.StatusOK {
		t.Error("a stranger sees the page")
	}
	if a, text := st.post("/authority/use"); a.StatusCode != http.StatusOK || !strings.Contains(reading(text), "The watch starts anew with it.") {
		t.Errorf("using it: %d\n%s", a.StatusCode, reading(text))
	}
	if got := strings.Join(f.acts, ", "); got != "made by Ada, used by Ada" {
		t.Errorf("it was %s", got)
	}
	f.set(func(s *AuthorityState) { s.InUse = true })
	if _, text := st.get("/authority"); !strings.Contains(reading(text), "3. It is in use") || strings.Contains(text, "/authority/use") {
		t.Errorf("in use it reads\n%s", reading(text))
	}
	f.set(func(s *AuthorityState) { s.Lacking = []string{"192.0.2.77"} })
	if _, text := st.get("/authority"); !strings.Contains(tight(text), tight("for which the authority does not vouch: 192.0.2.77")) || !strings.Contains(text, "/authority/make") {
		t.Errorf("with another address it reads\n%s", reading(text))
	}
	f.set(func(s *AuthorityState) { s.Lacking, s.Until = nil, time.Now().AddDate(0, 3, 0) })
	if _, text := st.get("/authority"); !strings.Contains(reading(text), "Make a new one before that") {
		t.Errorf("near its end it reads\n%s", reading(text))
	}
	f.set(func(s *AuthorityState) {
		*s = AuthorityState{Wrong: tongue.Bare("page-authority: it is not whole"), Names: s.Names}
	})
	if _, text := st.get("/authority"); !strings.Contains(tight(text), tight("The authority of this board cannot be used. page-authority: it is not whole")) {
		t.Errorf("damaged it reads\n%s", reading(text))
	}
}

func TestWhyTheAuthorityIsNotMadeOrUsed(t *testing.T) {
	t.Parallel()
	f := newFakeAuthority()
	st := start(t, Options{Watch: newFake(), Accounts: people(), Authority: f})
	st.signInAs("ada", password)
	for _, one := range []struct {
		err    error
		status int
		say    string
	}{
		{&FirstRefused{[]tongue.Saying{tongue.Put("The clock is wrong.")}}, http.StatusUnprocessableEntity, "The clock is wrong."},
		{answer.Errorf(answer.Away, "The disk is full."), http.StatusServiceUnavailable, "The disk is full."},
	} {
		f.refuse = one.err
		for _, path := range []string{"/authority/make", "/authority/use"} {
			if a, text := st.post(path); a.StatusCode != one.status || !strings.Contains(reading(text), one.say) {
				t.Errorf("%s: %d\n%s", path, a.StatusCode, reading(text))
			}
		}
	}
	f.refuse = ErrFirstChanged
	if a, text := st.post("/authority/use"); a.StatusCode != http.StatusConflict || !strings.Contains(reading(text), "nothing was written. Try again.") {
		t.Errorf("changed meanwhile: %d\n%s", a.StatusCode, reading(text))
	}
}

// A browser may have been told to trust an authority that is lost later: the page
// must not bind it to a certificate that nobody can make any more.
func TestOnlyAPageWithAFileOfItsOwnBindsBrowsersToTLS(t *testing.T) {
	t.Parallel()
	cert, key, _ := certificate(t)
	for say, one := range map[string]struct {
		o     Options
		binds bool
	}{"a file": {Options{CertFile: cert, KeyFile: key}, true}, "an authority": {Options{Certificate: newFakeAuthority().made(t).Pages(time.Now).Certificate}, false}} {
		one.o.Watch = newFake()
		s, err := New(one.o)
		if err != nil {
			t.Fatal(err)
		}
		if !s.door.Secure {
			t.Errorf("%s: cookies go without TLS", say)
		}
		w := httptest.NewRecorder()
		s.handler.ServeHTTP(w, httptest.NewRequest("GET", "http://127.0.0.1/healthz", nil))
		if got := w.Header().Get("Strict-Transport-Security") != ""; got != one.binds {
			t.Errorf("%s: it binds browsers: %v", say, got)
		}
	}
	both := Options{Watch: newFake(), CertFile: cert, KeyFile: key, Certificate: newFakeAuthority().made(t).Pages(time.Now).Certificate}
	if _, err := New(both); err == nil || !strings.Contains(err.Error(), "from two sides") {
		t.Errorf("two certificates: %v", err)
	}
}
