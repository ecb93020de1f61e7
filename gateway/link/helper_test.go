package link

import (
	"bytes"
	"context"
	"crypto/rand"
	"fmt"
	"net"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"
)

// patience bounds every wait in these tests; none of them waits that long
// unless it fails.
const patience = 2 * time.Minute

// waitFor polls until cond holds.
func waitFor(t testing.TB, what string, cond func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !cond(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited %v in vain for: %s", patience, what)
		}
	}
}

// running is a Link with Run in a goroutine.
type running struct {
	*Link
	t    testing.TB
	stop func() // ends Run and waits for it; may be called twice
}

func startLink(t testing.TB, o Options) *running {
	t.Helper()
	if o.retryMin == 0 {
		o.retryMin, o.retryMax = 10*time.Millisecond, 50*time.Millisecond
	}
	if o.Filters == nil && !o.PublishOnly {
		o.Filters = []string{"thimble-garth/#"}
	}
	l, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return run(t, l)
}

func run(t testing.TB, l *Link) *running {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- l.Run(ctx) }()
	ended := false
	stop := func() {
		cancel()
		if ended {
			return
		}
		ended = true
		select {
		case err := <-done:
			if err != nil {
				t.Errorf("Run: %v", err)
			}
		case <-time.After(patience):
			t.Error("Run did not return")
		}
	}
	t.Cleanup(stop)
	return &running{Link: l, t: t, stop: stop}
}

// change waits for the next change and checks its direction.
func (r *running) change(up bool) Change {
	r.t.Helper()
	select {
	case c := <-r.Changes():
		if c.Up != up {
			r.t.Fatalf("change: up %v (%s), want up %v", c.Up, c.Why, up)
		}
		return c
	case <-time.After(patience):
		r.t.Fatalf("no change came, want up %v", up)
	}
	return Change{}
}

// take waits for n messages.
func (r *running) take(n int) []Message {
	r.t.Helper()
	var got []Message
	for len(got) < n {
		select {
		case m := <-r.Messages():
			got = append(got, m)
		case <-time.After(patience):
			r.t.Fatalf("got %d messages, want %d; %+v", len(got), n, r.Stats())
		}
	}
	return got
}

// client is a plain client, for publishing and for watching.
func client(t testing.TB, change func(*mqtt.ClientOptions)) mqtt.Client {
	t.Helper()
	o := mqtt.NewClientOptions().SetProtocolVersion(4).SetClientID("test-" + rand.Text()[:10]).SetAutoReconnect(false)
	change(o)
	c := mqtt.NewClient(o)
	must(t, c.Connect())
	t.Cleanup(func() { c.Disconnect(100) })
	return c
}

func must(t testing.TB, token mqtt.Token) {
	t.Helper()
	if !token.WaitTimeout(patience) {
		t.Fatal("the broker does not answer")
	}
	if token.Error() != nil {
		t.Fatal(token.Error())
	}
}

// settle waits until the broker has passed on all that c has published. An
// acknowledgement alone does not say so: the embedded broker gives it first.
// But it takes a client's messages one after another.
func settle(t testing.TB, c mqtt.Client) {
	t.Helper()
	must(t, c.Publish("settle", 1, false, ""))
}

// embedded starts the embedded broker at a free port.
func embedded(t testing.TB, o BrokerOptions) *Broker {
	t.Helper()
	o.Address = "127.0.0.1:0"
	b, err := StartBroker(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

func at(a net.Addr) string { return "mqtt://" + a.String() }

// watchOf are the options of the watch's own link to b.
func watchOf(b *Broker) Options {
	user, password := b.Login()
	return Options{Servers: []string{at(b.Addr())}, User: user, Password: password, QoS: 1}
}

// freePort returns a loopback address that nothing listens at now.
func freePort(t testing.TB) string {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	return ln.Addr().String()
}

// noLeak fails the test if more goroutines run at its end than at its begin.
func noLeak(t *testing.T) {
	before := runtime.NumGoroutine()
	t.Cleanup(func() {
		for end := time.Now().Add(patience); runtime.NumGoroutine() > before; time.Sleep(5 * time.Millisecond) {
			if time.Now().After(end) {
				buf := make([]byte, 1<<16)
				t.Fatalf("%d goroutines, %d before:\n%s", runtime.NumGoroutine(), before, buf[:runtime.Stack(buf, true)])
			}
		}
	})
}

func testLog(t testing.TB) zerolog.Logger {
	return zerolog.New(zerolog.NewTestWriter(t)).Level(zerolog.InfoLevel)
}

func wantSentence(t *testing.T, got string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(got, p) {
			t.Errorf("sentence %q lacks %q", got, p)
		}
	}
	if !strings.HasSuffix(got, ".") {
		t.Errorf("sentence %q has no end", got)
	}
}

// reading is the payload of the i-th reading of a test.
func reading(i int) string { return fmt.Sprintf(`{"celsius":21.5,"n":%d}`, i) }

type safeBuffer struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (b *safeBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.Write(p)
}

func (b *safeBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.String()
}
