package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/trials"
)

// mosquitto starts a broker, or skips where there is none; where
// TELLTALE_REQUIRE_BROKER=1 says that this must run it fails instead.
func mosquitto(t *testing.T) (address string) {
	t.Helper()
	path, err := exec.LookPath("mosquitto")
	if err != nil {
		path = "/usr/sbin/mosquitto"
	}
	if _, err := os.Stat(path); err != nil {
		if os.Getenv("TELLTALE_REQUIRE_BROKER") == "1" {
			t.Fatal("mosquitto is not installed, and TELLTALE_REQUIRE_BROKER=1 asks for this test")
		}
		t.Skip("mosquitto is not installed")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	ok(t, err)
	address = l.Addr().String()
	_, port, err := net.SplitHostPort(address)
	ok(t, err)
	ok(t, l.Close())
	file := filepath.Join(t.TempDir(), "broker.conf")
	ok(t, os.WriteFile(file, fmt.Appendf(nil, "listener %s 127.0.0.1\nallow_anonymous true\npersistence false\n", port), 0o600))
	cmd := exec.Command(path, "-c", file)
	ok(t, cmd.Start())
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // it may have ended
		_ = cmd.Wait()         // killed
	})
	eventually(t, "the broker answers", func() bool {
		c, err := net.Dial("tcp", address)
		if err == nil {
			c.Close()
		}
		return err == nil
	})
	return address
}

const (
	hookKey    = "a shared secret for tests"
	hookSecret = "whsec_YSBzaGFyZWQgc2VjcmV0IGZvciB0ZXN0cw==" // the same, as the config has it
)

// hook receives what is told, and demands that it is signed and that an event
// never comes with another content than before.
type hook struct {
	*httptest.Server
	t *testing.T

	mu     sync.Mutex
	events map[string]string // content by ID
	moves  map[alarms.AlarmID][]alarms.Move
	count  int
}

func newHook(t *testing.T) *hook {
	h := &hook{t: t, events: map[string]string{}, moves: map[alarms.AlarmID][]alarms.Move{}}
	h.Server = httptest.NewServer(http.HandlerFunc(h.take))
	t.Cleanup(h.Close)
	return h
}

func (h *hook) take(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return // its sender was killed
	}
	signed := reach.Sign([]byte(hookKey), r.Header.Get(reach.IDHeader), r.Header.Get(reach.TimestampHeader), body)
	if got := r.Header.Get(reach.SignatureHeader); got != signed {
		h.t.Errorf("a message is not signed well: got %q, want %q", got, signed)
	}
	var d reach.Document
	if err := json.Unmarshal(body, &d); err != nil {
		h.t.Errorf("a message cannot be read: %v", err)
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, e := range d.Events {
		content, err := json.Marshal(e)
		if err != nil {
			h.t.Error(err)
		}
		h.count++
		if before, again := h.events[e.ID]; again && before != string(content) {
			h.t.Errorf("%s was told as\n%s\nand as\n%s", e.ID, before, content)
		} else if !again {
			h.moves[e.Alarm] = append(h.moves[e.Alarm], e.Move)
		}
		h.events[e.ID] = string(content)
	}
	w.WriteHeader(http.StatusNoContent)
}

func (h *hook) told(id alarms.AlarmID) []alarms.Move {
	h.mu.Lock()
	defer h.mu.Unlock()
	return append([]alarms.Move(nil), h.moves[id]...)
}

// with is the part of a config that tells through h.
func (h *hook) with(t *testing.T) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "secret")
	ok(t, os.WriteFile(file, []byte(hookSecret+"\n"), 0o600))
	return fmt.Sprintf("\n[channel.phone]\nkind = \"webhook\"\nurl = %q\nsecret-file = %q\nat-once = 100\n[person.grower]\nchannels = [\"phone\"]\n[[tell]]\npeople = [\"grower\"]\n", h.URL, file)
}

func TestAKilledWatchWithARealBrokerStillTells(t *testing.T) {
	t.Parallel()
	address := mosquitto(t)
	h := newHook(t)
	file := small(t, 30, fmt.Sprintf("[broker]\nservers = [\"mqtt://%s\"]\nqos = 1\nkeep-session = true\n", address)+h.with(t))

	// A bench that gets warmer all the time, whoever listens.
	c := probe(t, address, "bench-1")
	quit := make(chan struct{})
	var publishing sync.WaitGroup
	publishing.Go(func() {
		tick := time.NewTicker(40 * time.Millisecond)
		defer tick.Stop()
		for n := 0; ; n++ {
			select {
			case <-quit:
				return
			case <-tick.C:
				publish(c, fmt.Sprintf("%.2f", min(28+0.02*float64(n), 34)))
			}
		}
	})
	defer publishing.Wait()
	defer close(quit)

	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 2))
	for range 5 {
		p := start(t, "watch", file)
		p.line("watching", 1)
		time.Sleep(time.Duration(random.Int64N(int64(1500 * time.Millisecond)))) // the moment
		ok(t, p.cmd.Process.Kill())
		p.exit()
	}
	p := start(t, "watch", file)
	page := p.line("watching", 1)["page"].(string)
	eventually(t, "the page shows the alarm and a warm bench", func() bool {
		got, err := picture(t, page)
		if err != nil || len(got.Houses) != 1 || alarmState(got, high) != alarms.Unacknowledged {
			return false
		}
		for _, pt := range got.Houses[0].Places[0].Points {
			if pt.Quantity == alarms.Temperature && pt.Live && pt.Value > 30 {
				return true
			}
		}
		return false
	})
	eventually(t, "the alarm was told", func() bool { return len(h.told(high)) > 0 })
	if moves := h.told(high); moves[0] != alarms.Raise || len(moves) != 1 {
		t.Errorf("of %s were told %v, want one raise", high, moves)
	}
	p.stop(syscall.SIGTERM)
	h.mu.Lock()
	t.Logf("%d events, told %d times", len(h.events), h.count)
	trials.Report(t, "killed 5 times beside a real broker", trials.Lost(1-len(h.moves[high])), trials.Twice(h.count-len(h.events)))
	h.mu.Unlock()
}
