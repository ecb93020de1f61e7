package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// post is a mail server, by a library that others run: what it took is real mail.
type post struct {
	address, authority string // host:port; the file of what signed its certificate

	mu    sync.Mutex
	mails []string
}

const (
	postUser     = "watch@example.org"
	postPassword = "seven green ladders"
)

// office starts a mail server that takes mail over TLS from who signs in.
func office(t *testing.T) *post {
	t.Helper()
	p := &post{authority: filepath.Join(t.TempDir(), "authority.pem")}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	ok(t, err)
	c := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "post"}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign}
	der, err := x509.CreateCertificate(rand.Reader, c, c, key.Public(), key)
	ok(t, err)
	ok(t, os.WriteFile(p.authority, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
	l, err := net.Listen("tcp", "127.0.0.1:0")
	ok(t, err)
	p.address = l.Addr().String()
	s := smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) { return &letterbox{post: p}, nil }))
	s.Domain, s.TLSConfig = "localhost", &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}
	served := make(chan error, 1)
	go func() { served <- s.Serve(l) }() // waited for by the cleanup
	t.Cleanup(func() {
		ok(t, s.Close())
		if err := <-served; err != nil && !errors.Is(err, smtp.ErrServerClosed) {
			t.Error(err)
		}
	})
	return p
}

// has reports whether a mail came that holds all of some words.
func (p *post) has(words ...string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
next:
	for _, m := range p.mails {
		for _, w := range words {
			if !strings.Contains(m, w) {
				continue next
			}
		}
		return true
	}
	return false
}

// letterbox is one connection to a post.
type letterbox struct {
	post     *post
	known    bool
	envelope string
}

func (b *letterbox) AuthMechanisms() []string { return []string{sasl.Plain} }

func (b *letterbox) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		b.known = user == postUser && password == postPassword
		if !b.known {
			return smtp.ErrAuthFailed
		}
		return nil
	}), nil
}

func (b *letterbox) Mail(from string, _ *smtp.MailOptions) error {
	if !b.known {
		return smtp.ErrAuthRequired
	}
	b.envelope = "From " + from
	return nil
}

func (b *letterbox) Rcpt(to string, _ *smtp.RcptOptions) error {
	b.envelope += " to " + to + "\n"
	return nil
}

func (b *letterbox) Data(r io.Reader) error {
	text, err := io.ReadAll(io.LimitReader(r, 1<<20))
	if err != nil {
		return err
	}
	b.post.mu.Lock()
	defer b.post.mu.Unlock()
	b.post.mails = append(b.post.mails, b.envelope+string(text))
	return nil
}

func (b *letterbox) Reset()        {}
func (b *letterbox) Logout() error { return nil }

// sends publishes as a probe with the account of an address does, until the test
// ends: its air in tenths of a degree, and what a fan draws.
func sends(t *testing.T, u *url.URL, air *atomic.Int64) {
	t.Helper()
	secret, _ := u.User.Password()
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("mqtt://" + u.Host).SetClientID("bench-1").SetUsername(u.User.Username()).SetPassword(secret).
		SetConnectRetry(true).SetConnectRetryInterval(100 * time.Millisecond))
	if tok := c.Connect(); !tok.WaitTimeout(5*time.Minute) || tok.Error() != nil {
		t.Fatalf("the probe cannot connect: %v", tok.Error())
	}
	done := make(chan struct{})
	var publishing sync.WaitGroup
	publishing.Go(func() {
		for now := int64(214); ; now += max(-9, min(9, air.Load()-now)) {
			publishAt(c, strings.TrimPrefix(u.Path, "/")+"/state", fmt.Sprintf(`{"temperature":%d.%d,"current":0.02}`, now/10, now%10))
			select {
			case <-done:
				return
			case <-time.After(200 * time.Millisecond):
			}
		}
	})
	t.Cleanup(func() { close(done); publishing.Wait(); c.Disconnect(0) })
}

// walker is somebody at a browser whose every step counts.
type walker struct {
	*browser
	language string
	steps    int
}

func (w *walker) step(all ...chromedp.Action[chromedp.Void]) {
	w.t.Helper()
	w.steps += len(all)
	w.do(all...)
}

// named selects an element by its ID, which may hold dots.
func named(id string) chromedp.CSS { return chromedp.CSS(fmt.Sprintf("[id=%q]", id)) }

func (w *walker) types(id, text string) {
	w.t.Helper()
	w.step(chromedp.SendKeys(named(id), text))
}

// fills types into empty fields, in any order.
func (w *walker) fills(fields map[string]string) {
	w.t.Helper()
	for id, text := range fields {
		w.types(id, text)
	}
}

func (w *walker) chooses(id, text string) {
	w.t.Helper()
	w.step(chromedp.SetValue(named(id), text))
}
func (w *walker) clicks(css string) { w.t.Helper(); w.step(chromedp.Click(chromedp.CSS(css))) }

// follows opens a form from the list of all that can be changed.
func (w *walker) follows(at string) {
	w.t.Helper()
	w.truth("the list is there", `document.querySelector(".things")`)
	w.clicks(fmt.Sprintf(`.things a[href="/change/form?at=%s" i]`, url.QueryEscape(at)))
	w.truth("the form is there", fmt.Sprintf(`document.getElementById("show") && document.documentElement.lang === %q`, w.language))
}

// writes has the form shown and written.
func (w *walker) writes(name, line string) {
	w.t.Helper()
	w.clicks("#show")
	w.truth("the lines are shown", fmt.Sprintf(`document.querySelector(".diff ins") && document.querySelector(".diff").innerText.includes(%q)`, line))
	w.shot("walk-" + name)
	w.clicks("#write")
	w.truth("it is written", `!document.getElementById("write") && document.querySelector('a[href="/test-message"]')`)
}

// most is how many steps of a hand the whole set-up may take.
const most = 60

// From an empty folder on another machine to a garden that watches its fan and has
// told a person by mail, with no file touched, in each language.
func TestEverythingIsSetUpInTheBrowser(t *testing.T) {
	t.Parallel()
	for _, language := range []string{"en", "de"} {
		t.Run(language, func(t *testing.T) { setUpAll(t, language) })
	}
}

func setUpAll(t *testing.T, language string) {
	at, far := free(t, 2), other(t)
	mail := office(t)
	file := filepath.Join(t.TempDir(), "thimble-garth.toml")
	ok(t, os.WriteFile(file, fmt.Appendf(nil, "[page]\naddress = %q\n\n[own-broker]\naddress = %q\n\n[store]\ndirectory = \"kept\"\n", at[0], at[1]), 0o600))
	p := startWith(t, []string{"SSL_CERT_FILE=" + mail.authority}, "watch", file, "--first-at", far)
	code, open, fingerprint := p.told(1)
	w := &walker{language: language, browser: openBrowser(t, chromedp.Flag("accept-lang", language), chromedp.Flag("ignore-certificate-errors-spki-list", keyOf(t, far, fingerprint)))}

	w.step(chromedp.Navigate(open))
	w.truth("it asks for the code", `document.getElementById("code")`)
	w.types("code", code)
	w.clicks("button")
	w.truth("it asks for an account", `document.getElementById("again")`)
	w.types("name", "Ada Lark")
	w.types("password", ownPassword)
	w.types("again", ownPassword)
	w.clicks("button")
	w.truth("the page opens by itself", `document.getElementById("account")`)
	w.types("account", "ada-lark")
	w.types("password", ownPassword)
	w.clicks(".signin button")
	w.truth("it leads on to the set-up", `document.querySelector('.topwarning a[href="/first"]')`)
	w.clicks(".topwarning a")
	w.truth("the set-up is there", `document.getElementById("arrivals") && document.getElementById("name")`)
	typed := giveAccount(t, w.browser, open, file)
	w.steps += 2
	air := &atomic.Int64{}
	air.Store(214)
	sends(t, typed, air)
	w.truth("the first message shows by itself", `document.querySelectorAll("#topics a").length === 1`)
	w.clicks("#topics a")
	w.truth("the form comes", `document.getElementById("house")`)
	w.types("house", "Long House")
	w.types("latitude", "52")
	w.types("longitude", "-2")
	w.types("place", "bench")
	w.chooses("degrees", "°C")
	w.clicks("#tell-mail")
	w.fills(map[string]string{"person": "Ada", "mail": "ada@example.org", "server": mail.address, "from": postUser, "user": postUser})
	w.step(chromedp.SendKeys(chromedp.CSS(".setup #password"), postPassword))
	w.clicks(".setup button.take")
	w.truth("every line is shown", `document.getElementById("write")`)
	w.clicks("#write")
	w.truth("it is watched", `document.querySelector("[data-watched]") && /21[.,]4.°C/.test(document.body.innerText)`)

	w.step(chromedp.Navigate(open + "change"))
	w.follows("house/long-house/form")
	w.chooses("roof", "lean-to")
	w.fills(map[string]string{"width": "3.5", "eaves": "1.7", "ridge": "2.8"})
	w.writes("form", `roof = "lean-to"`)
	w.follows("house/long-house/place/bench/+")
	w.fills(map[string]string{"called": "temperature", "high": "33", "high-high": "36"})
	w.writes("limits", "[house.long-house.place.bench.temperature]")
	w.follows("house/long-house/control/+")
	w.fills(map[string]string{"called": "Above the door", "place": "bench", "stage.+stage0": "Hot", "stage.+stage0.set-point": "29", "+drive": "Exhaust fan"})
	w.chooses("stage.+stage0.mode", "cooling")
	w.chooses("+drive.kind", "exhaust-fan")
	w.writes("thermostat", `drives = ["exhaust-fan"]`)
	w.follows("house/long-house/drive/exhaust-fan/evidence")
	w.fills(map[string]string{"0.probe": "bench-1", "0.quantity": "current", "0.above": "0.15"})
	w.writes("evidence", "above = 0.15")
	t.Logf("%d steps", w.steps)
	if w.steps >= most {
		t.Errorf("it took %d steps of a hand, want fewer than %d", w.steps, most)
	}

	air.Store(381)
	eventually(t, "a person is told by mail that it is too hot", func() bool {
		return mail.has("From "+postUser+" to ada@example.org", "Long House, bench")
	})
	p.stop(syscall.SIGTERM)
	ends(t, 0, []string{"check", file})
}
