package entry

import (
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net/http"
	"net/netip"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/page/words"
)

const good = "four plain garden words"

func TestTheCodeLetsOneBrowserIn(t *testing.T) {
	p := play(t, nil)
	at, code := p.code()
	ann, ben := browser(t, "127.0.0.1"), browser(t, "127.0.0.1")
	status, text := get(t, ann, at)
	wants(t, status, text, 200, "Nothing is set up here yet", `name="code"`)
	if strings.Contains(text, code) || strings.Contains(text, p.told("fingerprint")) {
		t.Error("the page tells what only who sees the terminal may know")
	}
	status, text = post(t, ben, at, "name", "Ben", "password", good, "again", good)
	wants(t, status, text, 403, `name="code"`)
	status, text = post(t, ann, at, "code", strings.ToLower(code))
	wants(t, status, text, 200, `name="password"`)
	// The code is used up; only Ann's browser goes on.
	status, text = post(t, ben, at, "code", code)
	wants(t, status, text, 403, "The code has been used", "stop Telltale at once")
	status, text = post(t, ben, at, "name", "Ben", "password", good, "again", good)
	wants(t, status, text, 403, "The code has been used")
	status, text = get(t, ann, at)
	wants(t, status, text, 200, `name="password"`)
	status, text = post(t, ann, at, "name", `A"nn`, "password", good, "again", "other plain words")
	wants(t, status, text, 422, "The two passwords are not the same.", `value="A&#34;nn"`)
	if strings.Contains(text, good) {
		t.Error("the page repeats a password")
	}
	p.mu.Lock()
	p.refuse = &Refused{Field: "password", Say: "The password is too short."}
	p.mu.Unlock()
	status, text = post(t, ann, at, "name", "Ann", "password", good, "again", good)
	wants(t, status, text, 422, "The password is too short.")
	p.mu.Lock()
	p.refuse = errors.New("the disk is full")
	p.mu.Unlock()
	status, text = post(t, ann, at, "name", "Ann", "password", good, "again", good)
	wants(t, status, text, 500, "the log of Telltale says why")
	if strings.Contains(text, "disk") || !p.says("the disk is full") {
		t.Error("the cause is shown to a visitor, or is not logged")
	}
	p.mu.Lock()
	p.refuse = nil
	p.mu.Unlock()
	var both sync.WaitGroup // somebody presses twice
	for range 2 {
		both.Go(func() {
			status, text := post(t, ann, at, "name", "Ann", "password", good, "again", good)
			wants(t, status, text, 200, "It is written", "<strong>ann</strong>", `href="/first"`, `location.replace("/first")`)
		})
	}
	both.Wait()
	status, text = get(t, ann, at)
	wants(t, status, text, 200, "It is written")
	status, text = get(t, ben, at)
	wants(t, status, text, 200, "The code has been used")
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.accounts) == 1 && p.accounts[0].Authority {
		t.Error("an authority is made that nobody asked for")
	}
	if len(p.accounts) != 1 || p.reloads != 1 || p.accounts[0].Name != "Ann" || p.accounts[0].Password != good {
		t.Errorf("%d accounts were made, and Telltale began anew %d times, want one each", len(p.accounts), p.reloads)
	}
	if _, err := tls.X509KeyPair([]byte(p.accounts[0].Certificate.CertPEM), []byte(p.accounts[0].Certificate.KeyPEM)); err != nil {
		t.Error(err)
	}
	if strings.Contains(p.log.String(), good) {
		t.Error("the password is logged")
	}
}

// Who guesses from many addresses, all at once, has five tries like anybody.
func TestGuessesAreBoundedOverAllAddresses(t *testing.T) {
	p := play(t, nil)
	at, code := p.code()
	p.stopAtEnd(t)
	var all sync.WaitGroup
	var wrongs, others atomic.Int64
	for i := range 40 {
		c := browser(t, fmt.Sprintf("127.0.0.%d", 2+i))
		all.Go(func() {
			r, err := c.PostForm(at, url.Values{"code": {fmt.Sprintf("2222-22%02d", i)}})
			if err != nil {
				others.Add(1) // it is closed already
				return
			}
			_, text := got(t, r, err)
			if strings.Contains(text, "That is not the code") || strings.Contains(text, "The code is no good any more") && r.StatusCode == 403 {
				wrongs.Add(1)
			}
		})
	}
	all.Wait()
	<-p.ended // nothing listens any more
	if !p.says("Five wrong codes were given.") || strings.Count(p.logged(), "A wrong code was given") > tries {
		t.Errorf("it is told like this:\n%s", p.logged())
	}
	if wrongs.Load() == 0 {
		t.Error("nobody was told that the code is wrong")
	}
	if _, err := browser(t, "127.0.0.1").PostForm(at, url.Values{"code": {code}}); err == nil {
		t.Error("it still answers")
	}
}

func (p *played) logged() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.log.String()
}

// stopAtEnd demands that the server ends by itself.
func (p *played) stopAtEnd(t *testing.T) {
	t.Cleanup(func() {
		select {
		case <-p.ended:
		default:
			t.Error("it listens on")
		}
	})
}

func TestHalfAnHourLaterItIsClosed(t *testing.T) {
	for _, inside := range []bool{false, true} {
		p := play(t, nil)
		at, code := p.code()
		c := browser(t, "127.0.0.1")
		if inside {
			p.ahead.Store(int64(goodFor - time.Minute))
			status, text := post(t, c, at, "code", code)
			wants(t, status, text, 200, `name="password"`)
		}
		p.ahead.Add(int64(goodFor + time.Second))
		<-p.ended
		if !p.says("The half hour for it is over. For a new code start Telltale again, or send it SIGHUP.") {
			t.Errorf("it is told like this:\n%s", p.logged())
		}
		if _, err := c.Get(at); err == nil {
			t.Error("it still answers")
		}
	}
}

func TestNothingElseIsAnswered(t *testing.T) {
	p := play(t, nil)
	at, code := p.code()
	c := browser(t, "127.0.0.1")
	for _, path := range []string{"first", "healthz", "sign-in", "state.json", "metrics", "static/page.css", "api/v1/state", "favicon.ico", "%2e%2e/", "?code=" + code} {
		status, text := get(t, c, at+path)
		if strings.HasPrefix(path, "?") {
			wants(t, status, text, 200, `name="code"`) // a code in an address lets nobody in
		} else if status != 404 || text != "" {
			t.Errorf("%s is answered with %d and %q", path, status, text)
		}
	}
	for _, method := range []string{"HEAD", "PUT", "DELETE", "OPTIONS", "TRACE"} {
		r, err := http.NewRequest(method, at, nil)
		ok(t, err)
		resp, err := c.Do(r)
		if status, text := got(t, resp, err); status != 404 && status != 403 || text != "" {
			t.Errorf("%s is answered with %d and %q", method, status, text)
		}
	}
	// Another web page cannot spend the tries of who reads it.
	for range 2 * tries {
		r, err := http.NewRequest("POST", at, strings.NewReader("code=22222222"))
		ok(t, err)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", "https://elsewhere.example.org")
		resp, err := c.Do(r)
		if status, text := got(t, resp, err); status != 403 || text != "" {
			t.Errorf("a form of another web page is answered with %d and %q", status, text)
		}
	}
	status, text := post(t, c, at, "code", strings.Repeat("2", maxBody))
	wants(t, status, text, 400, "That form could not be read.")
	status, text = post(t, c, at, "code", "2222")
	wants(t, status, text, 403, "It did not count: 5 tries are left.")
	r, err := c.PostForm(at, url.Values{"code": {code}})
	ok(t, err)
	for name, want := range map[string]string{"Cache-Control": "no-store", "X-Frame-Options": "DENY", "X-Content-Type-Options": "nosniff"} {
		if r.Header.Get(name) != want {
			t.Errorf("%s: %q", name, r.Header.Get(name))
		}
	}
	if policy := r.Header.Get("Content-Security-Policy"); !strings.Contains(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") {
		t.Errorf("the policy of content is %q", policy)
	}
	if ck := r.Header.Get("Set-Cookie"); !strings.Contains(ck, "Secure") || !strings.Contains(ck, "HttpOnly") || !strings.Contains(ck, "SameSite=Strict") || !strings.HasPrefix(ck, "__Host-") {
		t.Errorf("the cookie is %q", ck)
	}
	status, text = got(t, r, nil)
	wants(t, status, text, 200, `name="password"`)
}

// After a new start neither the code of before nor the browser inside is known.
func TestANewStartKnowsNothingOfTheOldOne(t *testing.T) {
	p := play(t, nil)
	at, code := p.code()
	c := browser(t, "127.0.0.1")
	status, text := post(t, c, at, "code", code)
	wants(t, status, text, 200, `name="password"`)
	p.stop()
	<-p.ended
	p2 := play(t, nil)
	at2, code2 := p2.code()
	status, text = get(t, c, at2)
	wants(t, status, text, 200, `name="code"`)
	status, text = post(t, c, at2, "name", "Ann", "password", good, "again", good)
	wants(t, status, text, 403, `name="code"`)
	if code == code2 || p.told("fingerprint") == p2.told("fingerprint") {
		t.Error("code or certificate are the old ones")
	}
}

// A board may get its address after it has started, and further ones later.
func TestAddressesMayComeLater(t *testing.T) {
	var mu sync.Mutex
	var now []netip.AddrPort
	p := play(t, func() []netip.AddrPort { mu.Lock(); defer mu.Unlock(); return slices.Clone(now) })
	asked := func(at ...string) {
		mu.Lock()
		defer mu.Unlock()
		for _, a := range at {
			now = append(now, netip.MustParseAddrPort(a))
		}
	}
	asked("192.0.2.1:0") // of documentation (RFC 5737): this machine does not have it
	await(t, "it is told that it cannot be listened at", func() bool { return p.says("cannot listen at one address") })
	if p.told("fingerprint") != "" {
		t.Error("a code is told that can be given nowhere")
	}
	asked("127.0.0.1:0")
	_, code := p.code()
	asked("127.0.0.3:0")
	await(t, "the second address is told", func() bool { return strings.Contains(p.told("open"), "127.0.0.3") })
	status, text := post(t, browser(t, "127.0.0.1"), p.told("open"), "code", code)
	wants(t, status, text, 200, `name="password"`)
	if n := strings.Count(p.logged(), "cannot listen at one address"); n != 1 {
		t.Errorf("one cause is told %d times", n)
	}
}

// What is served is what the fingerprint is of: good at any date, for this machine's
// names and addresses alone, and it can sign nothing.
func TestTheCertificateIsTheOneThatWasTold(t *testing.T) {
	p := play(t, nil)
	at, _ := p.code()
	u, err := url.Parse(at)
	ok(t, err)
	c, err := tls.Dial("tcp", u.Host, &tls.Config{InsecureSkipVerify: true})
	ok(t, err)
	defer c.Close()
	leaf := c.ConnectionState().PeerCertificates[0]
	sum := sha256.Sum256(leaf.Raw)
	if got, want := p.told("fingerprint"), strings.ToUpper(fmt.Sprintf("%x", sum)); strings.ReplaceAll(got, ":", "") != want || len(got) != 95 {
		t.Errorf("told is %s, served %s", got, want)
	}
	roots := x509.NewCertPool()
	roots.AddCert(leaf)
	for name, good := range map[string]bool{"127.0.0.1": true, "long-house": true, "long-house.local": true, "127.0.0.2": false, "low-house": false, "nobody.example.org": false} {
		for _, year := range []int{1971, 2026, 2038, 2200} {
			_, err := leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: time.Date(year, 6, 1, 0, 0, 0, 0, time.UTC)})
			if (err == nil) != good {
				t.Errorf("for %q in %d: %v", name, year, err)
			}
		}
	}
	if leaf.IsCA || leaf.KeyUsage != x509.KeyUsageDigitalSignature {
		t.Error("it could sign others")
	}
	if old, err := tls.Dial("tcp", u.Host, &tls.Config{InsecureSkipVerify: true, MaxVersion: tls.VersionTLS11}); err == nil {
		old.Close()
		t.Error("it speaks TLS 1.1")
	}
}

// Who wants an authority goes on to its page, and the wish outlives a mistake.
func TestAnAuthorityIsMadeIfWanted(t *testing.T) {
	p := play(t, nil)
	at, code := p.code()
	ann := browser(t, "127.0.0.1")
	status, text := post(t, ann, at, "code", code)
	wants(t, status, text, 200, `name="authority" type="checkbox" value="1">`)
	status, text = post(t, ann, at, "name", "Ann", "password", good, "again", "other plain words", "authority", "1")
	wants(t, status, text, 422, `name="authority" type="checkbox" value="1" checked>`)
	status, text = post(t, ann, at, "name", "Ann", "password", good, "again", good, "authority", "1")
	wants(t, status, text, 200, "It is written", `href="/authority"`, `location.replace("/authority")`)
	status, text = get(t, ann, at)
	wants(t, status, text, 200, `href="/authority"`)
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.accounts) != 1 || !p.accounts[0].Authority {
		t.Errorf("made were %d accounts", len(p.accounts))
	}
}

// The way in speaks the language that is chosen on the device.
func TestTheWayInIsInGerman(t *testing.T) {
	p := play(t, nil)
	at, code := p.code()
	ada := browser(t, "127.0.0.1")
	to, err := url.Parse(at)
	ok(t, err)
	ada.Jar.SetCookies(to, []*http.Cookie{{Name: words.TongueCookie, Value: tongue.German.Code(), Path: "/", Secure: true}})
	english := regexp.MustCompile(`(?i)\b(the|and|is|your|not|with|there|this|code of|left)\b`)
	markup := regexp.MustCompile(`(?s)<style.*?</style>|<script.*?</script>|<[^>]*>`)
	in := func(status int, text string, wantStatus int, said ...string) {
		t.Helper()
		wants(t, status, text, wantStatus, append(said, `<html lang="de">`)...)
		if word := english.FindString(markup.ReplaceAllString(text, " ")); word != "" {
			t.Errorf("%q in\n%s", word, text)
		}
	}
	status, text := get(t, ada, at)
	in(status, text, 200, "Wer ist da?", "im Journal (<code>journalctl -u telltale</code>), steht ein Code")
	status, text = post(t, ada, at, "code", "0000-0000")
	in(status, text, 403, "Das ist nicht der Code: noch 4 Versuche.")
	status, text = post(t, ada, at, "code", code)
	in(status, text, 200, "Eigenes Konto", "mindestens 12 Zeichen")
	status, text = post(t, ada, at, "name", "Ada", "password", good, "again", "other")
	in(status, text, 422, "Die beiden Passwörter sind nicht gleich.")
	status, text = post(t, ada, at, "name", "Ada", "password", good, "again", good)
	in(status, text, 200, "Dort anmelden als <strong>ada</strong>.", "Noch nicht da, bitte warten")
	status, text = get(t, browser(t, "127.0.0.1"), at)
	wants(t, status, text, 200, "The code has been used", `<html lang="en">`)
}
