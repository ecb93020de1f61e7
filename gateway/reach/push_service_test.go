package reach

import (
	"context"
	"crypto/ecdh"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/big"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// pushService is a push service on loopback together with the devices that it
// serves: it takes messages as RFC 8030, section 5, has it and reads them as
// the devices would.
type pushService struct {
	*httptest.Server
	t *testing.T

	mu      sync.Mutex
	devices map[string]*userAgent // by path
	status  int
	header  http.Header
	most    int // bytes that it takes; 0: all
	hang    bool
	got     []letterIn
}

// userAgent is one device.
type userAgent struct {
	Device
	private *ecdh.PrivateKey
	gone    bool
}

// letterIn is a message that reached a device.
type letterIn struct {
	device int64
	header http.Header
	pushed
}

func startPushService(t *testing.T) *pushService {
	t.Helper()
	s := &pushService{t: t, devices: map[string]*userAgent{}, status: http.StatusCreated}
	s.Server = httptest.NewServer(s)
	t.Cleanup(s.Close)
	return s
}

func (s *pushService) set(change func(*pushService)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	change(s)
}

// register makes a device that the service knows.
func (s *pushService) register(id int64, label string) *userAgent {
	s.t.Helper()
	private, err := ecdh.P256().GenerateKey(rand.Reader)
	if err != nil {
		s.t.Fatal(err)
	}
	auth := make([]byte, authBytes)
	_, _ = rand.Read(auth)
	path := fmt.Sprintf("/push/s3cr3t-%d", id)
	u := &userAgent{private: private, Device: Device{ID: id, Label: label, Endpoint: s.URL + path, Key: private.PublicKey().Bytes(), Auth: auth}}
	s.set(func(s *pushService) { s.devices[path] = u })
	return u
}

func (s *pushService) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		s.t.Error(err)
	}
	s.mu.Lock()
	status, hangs, most, u, header := s.status, s.hang, s.most, s.devices[r.URL.Path], s.header.Clone()
	s.mu.Unlock()
	if hangs {
		<-r.Context().Done()
		return
	}
	if err := checkPost(r, s.URL); err != nil {
		s.t.Error(err)
	}
	for name, v := range header {
		w.Header()[name] = v
	}
	switch {
	case u == nil || u.gone:
		status = http.StatusGone
	case most > 0 && len(body) > most:
		status = http.StatusRequestEntityTooLarge
	case status < 300:
		s.take(u, r.Header, body)
	}
	w.Header().Set("Location", s.URL+"/elsewhere")
	w.WriteHeader(status)
}

// take decrypts and keeps a message.
func (s *pushService) take(u *userAgent, header http.Header, body []byte) {
	text, err := unseal(body, u.private, u.Auth)
	m := letterIn{device: u.ID, header: header}
	if err == nil {
		err = json.Unmarshal(text, &m.pushed)
	}
	if err != nil {
		s.t.Errorf("the device cannot read its message: %v", err)
	}
	if len(text) > mostPush {
		s.t.Errorf("the message has %d bytes, want at most %d", len(text), mostPush)
	}
	s.set(func(s *pushService) { s.got = append(s.got, m) })
}

func (s *pushService) letters() []letterIn {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.got)
}

// checkPost judges a request by RFC 8030, section 5, and RFC 8292.
func checkPost(r *http.Request, origin string) error {
	h := r.Header
	ttl, err := strconv.Atoi(h.Get("TTL"))
	switch {
	case r.Method != http.MethodPost || h.Get("Content-Encoding") != "aes128gcm":
		return fmt.Errorf("got %s in coding %q", r.Method, h.Get("Content-Encoding"))
	case err != nil || ttl <= 0:
		return fmt.Errorf("the TTL is %q", h.Get("TTL"))
	case !slices.Contains([]string{"very-low", "low", "normal", "high"}, h.Get("Urgency")):
		return fmt.Errorf("the urgency is %q", h.Get("Urgency"))
	case len(h.Get("Topic")) == 0 || len(h.Get("Topic")) > 32:
		return fmt.Errorf("the topic is %q, want at most 32 characters", h.Get("Topic"))
	}
	if _, err := base64.RawURLEncoding.DecodeString(h.Get("Topic")); err != nil {
		return fmt.Errorf("the topic is %q: %w", h.Get("Topic"), err)
	}
	_, err = checkToken(h.Get("Authorization"), origin, noon)
	return err
}

// checkToken verifies a token as a push service does and returns its contact.
func checkToken(header, origin string, now time.Time) (sub string, err error) {
	rest, ok := strings.CutPrefix(header, "vapid t=")
	token, key, both := strings.Cut(rest, ", k=")
	parts := strings.Split(token, ".")
	if !ok || !both || len(parts) != 3 {
		return "", fmt.Errorf("the authorization is %q", header)
	}
	var raws [4][]byte
	for i, p := range append(parts, key) {
		if raws[i], err = base64.RawURLEncoding.DecodeString(p); err != nil {
			return "", err
		}
	}
	public, err := ecdsa.ParseUncompressedPublicKey(elliptic.P256(), raws[3])
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256([]byte(parts[0] + "." + parts[1]))
	if len(raws[2]) != 64 || !ecdsa.Verify(public, sum[:], new(big.Int).SetBytes(raws[2][:32]), new(big.Int).SetBytes(raws[2][32:])) {
		return "", errors.New("the signature is not good")
	}
	var head struct{ Typ, Alg string }
	var claims struct {
		Aud, Sub string
		Exp      int64
	}
	if err := errors.Join(json.Unmarshal(raws[0], &head), json.Unmarshal(raws[1], &claims)); err != nil {
		return "", err
	}
	left := time.Unix(claims.Exp, 0).Sub(now)
	if head.Alg != "ES256" || head.Typ != "JWT" || claims.Aud != origin || left <= 0 || left > 24*time.Hour {
		return "", fmt.Errorf("the token says %+v %+v, want the audience %s and at most a day", head, claims, origin)
	}
	return claims.Sub, nil
}

// drawer is a Devices in memory.
type drawer struct {
	mu   sync.Mutex
	of   map[string][]Device
	news map[int64][]DeviceNews
	err  error
}

func newDrawer(person string, agents ...*userAgent) *drawer {
	d := &drawer{of: map[string][]Device{}, news: map[int64][]DeviceNews{}}
	for _, a := range agents {
		d.of[person] = append(d.of[person], a.Device)
	}
	return d
}

func (d *drawer) Of(_ context.Context, person string) ([]Device, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.Clone(d.of[person]), d.err
}

func (d *drawer) Heard(_ context.Context, dev Device, n DeviceNews) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.news[dev.ID] = append(d.news[dev.ID], n)
	if n.Gone {
		for person := range d.of {
			d.of[person] = slices.DeleteFunc(d.of[person], func(o Device) bool { return o.ID == dev.ID })
		}
	}
}

// last returns the newest news of a device.
func (d *drawer) last(id int64) DeviceNews {
	d.mu.Lock()
	defer d.mu.Unlock()
	if n := d.news[id]; len(n) > 0 {
		return n[len(n)-1]
	}
	return DeviceNews{}
}

func pushTo(t *testing.T, d *drawer) *Push {
	t.Helper()
	key, err := OpenPushKey(filepath.Join(t.TempDir(), "push.key"))
	if err != nil {
		t.Fatal(err)
	}
	p, err := NewPush(PushOptions{Key: key, Contact: "mailto:ada@example.org", Devices: d, OnLoopback: true, Now: func() time.Time { return noon },
		Links: func(person string, e Event) (tap, page string) {
			return "tap-of-" + person + "-" + e.ID, "/alarm?id=" + string(e.Alarm)
		}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.Close)
	return p
}

func pushStand(t *testing.T) stand {
	s := startPushService(t)
	return stand{
		Notifier: pushTo(t, newDrawer("Ada", s.register(1, "phone"))),
		arrived: func() (all []arrival) {
			for _, m := range s.letters() {
				all = append(all, arrival{m.ID, m.Body})
			}
			return all
		},
		temporary: func() { s.set(func(s *pushService) { s.status = http.StatusServiceUnavailable }) },
		permanent: func(*Telling) { s.set(func(s *pushService) { s.status = http.StatusBadRequest }) },
		recover:   func() { s.set(func(s *pushService) { s.status = http.StatusCreated }) },
		hang:      func() { s.set(func(s *pushService) { s.hang = true }) },
	}
}
