package gateway

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

const pushConfig = `
[house.long-house]
name = "Long House"
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 33
delay = "1s"
quick-delay = "1s"
[probe.bench-1]
place = "long-house/bench"
every = "10m"
topic = "g/bench"
temperature = { jump = "any" }
[own-broker]
address = "127.0.0.1:0"
[page]
address = "127.0.0.1:0"
[channel.phones]
kind = "push"
contact = "mailto:grower@example.org"
[person.ada]
name = "Ada"
channels = ["phones"]
[[tell]]
people = ["ada"]
from-priority = "low"
`

// phone is a device of Ada and its push service in one.
type phone struct {
	*httptest.Server
	key  *ecdh.PrivateKey
	auth []byte
	got  chan map[string]any
}

func newPhone(t *testing.T) *phone {
	key, err := ecdh.P256().GenerateKey(rand.Reader)
	ok(t, err)
	p := &phone{key: key, auth: make([]byte, 16), got: make(chan map[string]any, 100)}
	_, _ = rand.Read(p.auth)
	p.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		var m map[string]any
		if err == nil {
			err = json.Unmarshal(p.open(body), &m)
		}
		if err != nil {
			t.Error(err)
		}
		p.got <- m
		w.WriteHeader(http.StatusCreated)
	}))
	t.Cleanup(p.Close)
	return p
}

// open reads a message as RFC 8291, section 3.4, and RFC 8188 say; nil for one
// that is not for this phone.
func (p *phone) open(body []byte) []byte {
	sender, err := ecdh.P256().NewPublicKey(body[21:86])
	if err != nil {
		return nil
	}
	shared, err := p.key.ECDH(sender)
	if err != nil {
		return nil
	}
	derive := func(from, salt []byte, about string, n int) []byte {
		out, err := hkdf.Key(sha256.New, from, salt, about, n)
		if err != nil {
			return nil
		}
		return out
	}
	material := derive(shared, p.auth, "WebPush: info\x00"+string(p.key.PublicKey().Bytes())+string(sender.Bytes()), 32)
	block, err := aes.NewCipher(derive(material, body[:16], "Content-Encoding: aes128gcm\x00", 16))
	if err != nil {
		return nil
	}
	gcm, err := cipher.NewGCM(block)
	if err != nil {
		return nil
	}
	text, err := gcm.Open(nil, derive(material, body[:16], "Content-Encoding: nonce\x00", 12), body[86:], nil)
	if err != nil {
		return nil
	}
	return []byte(strings.TrimSuffix(string(text), "\x02"))
}

// next returns the next message that fits.
func (p *phone) next(t *testing.T, what string, fits func(map[string]any) bool) map[string]any {
	t.Helper()
	end := time.After(5 * time.Minute)
	for {
		select {
		case m := <-p.got:
			if fits(m) {
				return m
			}
		case <-end:
			t.Fatalf("did not come: %s", what)
		}
	}
}

// visitor is a browser without scripts at the page of a watch.
type visitor struct {
	t      *testing.T
	client *http.Client
	base   string
}

func visit(t *testing.T, base string) *visitor {
	jar, err := cookiejar.New(nil)
	ok(t, err)
	return &visitor{t, &http.Client{Jar: jar, Timeout: 20 * time.Second}, base}
}

func (v *visitor) read(a *http.Response, err error) (int, string) {
	v.t.Helper()
	ok(v.t, err)
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	ok(v.t, err)
	return a.StatusCode, string(text)
}

func (v *visitor) post(path string, form url.Values) (int, string) {
	v.t.Helper()
	return v.read(v.client.PostForm(v.base+path, form))
}

// The whole way: a phone is registered on the page, the bench gets too hot,
// the phone is told, and acknowledges by what it was sent.
func TestAPhoneIsToldAndAcknowledges(t *testing.T) {
	t.Parallel()
	c, err := read(pushConfig, t.TempDir())
	ok(t, err)
	var log lines
	o := Options{Config: c, Log: zerolog.New(&log).Level(zerolog.WarnLevel), pushOnLoopback: true}
	p, err := build(o)
	ok(t, err)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- p.run(ctx, o) }()
	defer func() {
		stop()
		ok(t, errors.Join(<-done, p.close()))
	}()
	if got := log.String(); strings.Count(got, "no device of this person takes alarms yet") != 1 {
		t.Errorf("the log says\n%s", got)
	}

	ph, v := newPhone(t), visit(t, "http://"+p.page.Addr())
	b64 := base64.RawURLEncoding.EncodeToString
	grant := func() url.Values {
		return url.Values{"person": {"ada"}, "label": {"phone"}, "endpoint": {ph.URL + "/s3cr3t"}, "p256dh": {b64(ph.key.PublicKey().Bytes())}, "auth": {b64(ph.auth)}}
	}
	inner := grant()
	inner.Set("endpoint", "https://192.168.1.1/s3cr3t")
	if status, text := v.post("/push/subscribe", inner); status != http.StatusConflict || strings.Contains(text, "s3cr3t") || !strings.Contains(text, "inner network") {
		t.Errorf("a push service in the house: got status %d:\n%s", status, text)
	}
	if status, text := v.post("/push/subscribe", grant()); status != http.StatusOK || !strings.Contains(text, "This device takes alarms now.") {
		t.Fatalf("got status %d:\n%s", status, text)
	}
	if status, _ := v.post("/push/test", url.Values{"endpoint": {ph.URL + "/s3cr3t"}}); status != http.StatusOK {
		t.Errorf("test: got status %d", status)
	}
	ph.next(t, "the test", func(m map[string]any) bool { return m["test"] == true })

	user, password := p.broker.Login()
	probe := dial(t, p.broker.Addr().String(), user, password)
	defer probe.Disconnect(0)
	await(t, "the bench is too hot", func() bool {
		probe.Publish("g/bench", 1, false, "41.5").WaitTimeout(time.Second)
		return stateOf(p.watch.Picture(), benchHigh) == alarms.Unacknowledged
	})
	m := ph.next(t, "the alarm", func(m map[string]any) bool { return m["alarm"] == string(benchHigh) })
	if body := fmt.Sprint(m["body"]); !strings.Contains(body, "41.5 °C") || m["page"] != "/alarm?id=long-house%2Fbench%2Ftemperature%2Fhigh" {
		t.Errorf("got %v", m)
	}
	if status, text := v.read(http.PostForm(v.base+"/tap", url.Values{"t": {fmt.Sprint(m["tap"])}})); status != http.StatusOK {
		t.Errorf("tap: got status %d:\n%s", status, text)
	}
	if s := stateOf(p.watch.Picture(), benchHigh); s != alarms.Acknowledged {
		t.Errorf("the alarm is %v", s)
	}
	info, err := os.Stat(filepath.Join(c.Store.Directory, pushKeyFile))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the key file: %v, %v", info, err)
	}
	if strings.Contains(log.String(), "s3cr3t") {
		t.Errorf("the log shows the endpoint:\n%s", log.String())
	}
}

// A key that cannot be read stops no watch; the page then offers no devices.
func TestAWatchRunsWithoutItsPushKey(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	ok(t, os.WriteFile(filepath.Join(dir, pushKeyFile), []byte("no key"), 0o600))
	c, err := read(pushConfig, dir)
	ok(t, err)
	p := runningBy(t, c, nil)
	a, err := http.Get("http://" + p.page.Addr() + "/device")
	ok(t, err)
	a.Body.Close()
	if a.StatusCode != http.StatusNotFound {
		t.Errorf("got status %d", a.StatusCode)
	}
	_, err = p.watch.TestMessage(context.Background(), "")
	ok(t, err)
	await(t, "the failure is told", func() bool {
		s := p.worker.Stats()[0]
		return s.Failed == 1 && strings.Contains(s.LastError, "the key for push services cannot be read")
	})
}

// A device that its push service no longer knows is forgotten, and that is said
// to its person over another channel.
func TestAForgottenDeviceIsTold(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	said := filepath.Join(dir, "said")
	script := filepath.Join(dir, "say")
	ok(t, os.WriteFile(script, []byte("#!/bin/sh\ncat >>"+said+"\n"), 0o700))
	text := strings.Replace(pushConfig, `channels = ["phones"]`, `channels = ["phones", "say"]`, 1) + "\n[channel.say]\nkind = \"command\"\nrun = [\"" + script + "\"]\n"
	c, err := read(text, filepath.Join(dir, "store"))
	ok(t, err)
	p := runningBy(t, c, nil)
	id, err := p.store.Devices.Subscribe(context.Background(), store.Subscription{Person: "ada", Label: "old phone", Endpoint: "https://push.example.org/s3cr3t",
		P256DH: make([]byte, 65), Auth: make([]byte, 16), Made: p.clock.Now()})
	ok(t, err)
	p.push.Heard(context.Background(), reach.Device{ID: id, Label: "old phone", Endpoint: "https://push.example.org/s3cr3t"}, reach.DeviceNews{Gone: true, Why: "410"})
	await(t, "it is told over the other channel", func() bool {
		got, _ := os.ReadFile(said)
		return strings.Contains(string(got), `The device \"old phone\" of Ada takes no alarms any more`)
	})
	if devices, err := p.push.Of(context.Background(), "Ada"); err != nil || len(devices) != 0 {
		t.Errorf("it is still there: %v, %v", devices, err)
	}
	if got, _ := os.ReadFile(said); strings.Contains(string(got), "s3cr3t") {
		t.Error("the message shows the endpoint")
	}
}
