package entry

import (
	"bytes"
	"context"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"
)

func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// played is a server at work, with what it told and was asked.
type played struct {
	*Server
	t     *testing.T
	ahead atomic.Int64 // of the clock, ns
	ended chan struct{}
	stop  func()

	mu       sync.Mutex
	log      bytes.Buffer
	accounts []Account
	refuse   error
	reloads  int
}

func (p *played) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.log.Write(b)
}

// told is the last of a field that was logged, "" while it was not.
func (p *played) told(field string) (found string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for line := range strings.Lines(p.log.String()) {
		var fields map[string]any
		if json.Unmarshal([]byte(line), &fields) == nil && fields[field] != nil {
			found = fmt.Sprint(fields[field])
		}
	}
	return found
}

func (p *played) says(words string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return strings.Contains(p.log.String(), words)
}

// play starts a server at loopback addresses.
func play(t *testing.T, addresses func() []netip.AddrPort) *played {
	t.Helper()
	p := &played{t: t, ended: make(chan struct{})}
	if addresses == nil {
		at := []netip.AddrPort{netip.MustParseAddrPort("127.0.0.1:0")}
		addresses = func() []netip.AddrPort { return at }
	}
	p.Server = New(Options{Addresses: addresses, Names: []string{"long-house", "long-house.local"}, Log: zerolog.New(p),
		Make: func(a Account) (string, error) {
			p.mu.Lock()
			defer p.mu.Unlock()
			if p.refuse != nil {
				return "", p.refuse
			}
			p.accounts = append(p.accounts, a)
			return strings.ToLower(a.Name), nil
		},
		Made: func() { p.mu.Lock(); p.reloads++; p.mu.Unlock() }})
	p.now = func() time.Time { return time.Now().Add(time.Duration(p.ahead.Load())) }
	p.every = time.Millisecond
	ctx, stop := context.WithCancel(context.Background())
	p.stop = stop
	go func() { // waited for below
		defer close(p.ended)
		if err := p.Run(ctx); err != nil {
			t.Error(err)
		}
	}()
	t.Cleanup(func() { stop(); <-p.ended })
	return p
}

func await(t *testing.T, what string, f func() bool) {
	t.Helper()
	for end := time.Now().Add(5 * time.Minute); !f(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("it did not come about: %s", what)
		}
	}
}

// code is what was told, where it can be typed.
func (p *played) code() (base, code string) {
	p.t.Helper()
	await(p.t, "the code is told", func() bool { return p.told("fingerprint") != "" })
	p.mu.Lock()
	defer p.mu.Unlock()
	_, rest, _ := strings.Cut(p.log.String(), "from another machine is ")
	return p.first(), rest[:codeLength+1]
}

// first is the address that was told last. It is called with mu held.
func (p *played) first() string {
	_, rest, _ := strings.Cut(p.log.String(), `"open":"`)
	address, _, _ := strings.Cut(rest, `"`)
	return address
}

// browser is one with cookies of its own, which comes from an address of loopback.
func browser(t *testing.T, from string) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	ok(t, err)
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}}
	tr := &http.Transport{DialContext: d.DialContext, TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}
	t.Cleanup(tr.CloseIdleConnections)
	return &http.Client{Jar: jar, Transport: tr, Timeout: 5 * time.Minute}
}

func got(t *testing.T, r *http.Response, err error) (int, string) {
	t.Helper()
	ok(t, err)
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	ok(t, err)
	return r.StatusCode, string(text)
}

func get(t *testing.T, c *http.Client, at string) (int, string) {
	t.Helper()
	r, err := c.Get(at)
	return got(t, r, err)
}

func post(t *testing.T, c *http.Client, at string, pairs ...string) (int, string) {
	t.Helper()
	v := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		v.Set(pairs[i], pairs[i+1])
	}
	r, err := c.PostForm(at, v)
	return got(t, r, err)
}

func wants(t *testing.T, status int, text string, wantStatus int, words ...string) {
	t.Helper()
	if status != wantStatus {
		t.Errorf("it is answered with %d, want %d:\n%s", status, wantStatus, text)
	}
	for _, w := range words {
		if !strings.Contains(text, w) {
			t.Errorf("the page lacks %q:\n%s", w, text)
		}
	}
}
