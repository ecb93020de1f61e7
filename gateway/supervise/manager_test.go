package supervise

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"
)

const patience = 5 * time.Minute // matters only when a test fails

// serviceManager is a datagram socket as systemd gives one.
type serviceManager struct {
	t    *testing.T
	conn *net.UnixConn
}

func newServiceManager(t *testing.T, name string) *serviceManager {
	t.Helper()
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: name, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	return &serviceManager{t: t, conn: conn}
}

func (s *serviceManager) next() string {
	s.t.Helper()
	if err := s.conn.SetReadDeadline(time.Now().Add(patience)); err != nil {
		s.t.Fatal(err)
	}
	buf := make([]byte, 4096)
	n, err := s.conn.Read(buf)
	if err != nil {
		s.t.Fatalf("no datagram came: %v", err)
	}
	return string(buf[:n])
}

// drain reads away what has come and returns how many datagrams that were.
func (s *serviceManager) drain() (n int) {
	s.t.Helper()
	if err := s.conn.SetReadDeadline(time.Now().Add(20 * time.Millisecond)); err != nil {
		s.t.Fatal(err)
	}
	for buf := make([]byte, 64); ; n++ {
		if _, err := s.conn.Read(buf); err != nil {
			return n
		}
	}
}

func environment(pairs ...string) func(string) string {
	return func(key string) string {
		for i := 0; i < len(pairs); i += 2 {
			if pairs[i] == key {
				return pairs[i+1]
			}
		}
		return ""
	}
}

// TestManagerMessages checks the words of sd_notify(3) on a real socket, by
// path and in the abstract namespace.
func TestManagerMessages(t *testing.T) {
	for _, name := range []string{filepath.Join(t.TempDir(), "notify"), fmt.Sprintf("@telltale-test-%d", time.Now().UnixNano())} {
		s := newServiceManager(t, name)
		m, err := NewManager(environment("NOTIFY_SOCKET", name), 1, zerolog.Nop())
		if err != nil {
			t.Fatal(err)
		}
		if m.socket == "" || m.watchdog != 0 {
			t.Errorf("present %v, watchdog %v", m.socket != "", m.watchdog)
		}
		for _, c := range []struct {
			send func() error
			want string
		}{
			{m.Ready, "READY=1"},
			{m.Stopping, "STOPPING=1"},
			{func() error { return m.Status("Long House: all well.\nREADY=1") }, "STATUS=Long House: all well. READY=1"},
		} {
			if err := c.send(); err != nil {
				t.Fatal(err)
			}
			if got := s.next(); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		}
		before, _ := monotonicMicroseconds()
		if err := m.Reloading(); err != nil {
			t.Fatal(err)
		}
		after, _ := monotonicMicroseconds()
		text, ok := strings.CutPrefix(s.next(), "RELOADING=1\nMONOTONIC_USEC=")
		if at, err := strconv.ParseInt(text, 10, 64); !ok || err != nil || at < before || at > after || before == 0 {
			t.Errorf("reload at %q, want between %d and %d", text, before, after)
		}
	}
}

func TestManagerEnvironment(t *testing.T) {
	for _, c := range []struct {
		env      []string
		watchdog time.Duration
		err      string
	}{
		{nil, 0, ""},
		{[]string{"WATCHDOG_USEC", "1000000"}, 0, ""}, // nobody to tell
		{[]string{"NOTIFY_SOCKET", "/run/n", "WATCHDOG_USEC", "30000000"}, 30 * time.Second, ""},
		{[]string{"NOTIFY_SOCKET", "/run/n", "WATCHDOG_USEC", "30000000", "WATCHDOG_PID", "42"}, 30 * time.Second, ""},
		{[]string{"NOTIFY_SOCKET", "/run/n", "WATCHDOG_USEC", "30000000", "WATCHDOG_PID", "43"}, 0, ""},
		{[]string{"NOTIFY_SOCKET", "run/n"}, 0, `NOTIFY_SOCKET is "run/n"; want a path`},
		{[]string{"NOTIFY_SOCKET", "@"}, 0, `NOTIFY_SOCKET is "@"`},
		{[]string{"NOTIFY_SOCKET", "/run/n", "WATCHDOG_USEC", "soon"}, 0, `WATCHDOG_USEC is "soon"; want microseconds`},
		{[]string{"NOTIFY_SOCKET", "/run/n", "WATCHDOG_USEC", "0"}, 0, `WATCHDOG_USEC is "0"`},
	} {
		m, err := NewManager(environment(c.env...), 42, zerolog.Nop())
		switch {
		case c.err != "":
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%q: error %v, want %q", c.env, err, c.err)
			}
		case err != nil:
			t.Errorf("%q: %v", c.env, err)
		case m.watchdog != c.watchdog:
			t.Errorf("%q: watchdog %v, want %v", c.env, m.watchdog, c.watchdog)
		}
	}
	m, err := NewManager(environment(), 42, zerolog.Nop())
	if err != nil || m.socket != "" || m.Ready() != nil || m.Reloading() != nil || m.Status("x") != nil || m.Stopping() != nil {
		t.Error("without a service manager everything must be quiet")
	}
	gone, err := NewManager(environment("NOTIFY_SOCKET", filepath.Join(t.TempDir(), "none")), 42, zerolog.Nop())
	if err != nil {
		t.Fatal(err)
	}
	if err := gone.Ready(); err == nil || !strings.Contains(err.Error(), `telling the service manager "READY=1"`) {
		t.Errorf("a socket that is not there: %v", err)
	}
}

// TestManagerWatchdog: signs of life come while the owner loop turns, and not
// while it does not. The real time is short; nothing is measured.
func TestManagerWatchdog(t *testing.T) {
	name := filepath.Join(t.TempDir(), "notify")
	s := newServiceManager(t, name)
	var log lockedBuffer
	m, err := NewManager(environment("NOTIFY_SOCKET", name, "WATCHDOG_USEC", "20000"), 1, zerolog.New(&log))
	if err != nil {
		t.Fatal(err)
	}
	var asked atomic.Int64
	var stuck atomic.Bool
	alive := func() error {
		asked.Add(1)
		if stuck.Load() {
			return errors.New("stuck")
		}
		return nil
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- m.Run(ctx, alive) }()
	for range 3 {
		if got := s.next(); got != "WATCHDOG=1" {
			t.Errorf("got %q", got)
		}
	}
	stuck.Store(true)
	askedAgain := func() {
		t.Helper()
		end := time.Now().Add(patience)
		for base := asked.Load(); asked.Load() < base+5; time.Sleep(time.Millisecond) {
			if time.Now().After(end) {
				t.Fatal("the owner loop is not asked any more")
			}
		}
	}
	askedAgain()
	s.drain() // sent before it stuck
	askedAgain()
	if n := s.drain(); n != 0 {
		t.Errorf("%d signs of life from a loop that sticks", n)
	}
	stuck.Store(false)
	if got := s.next(); got != "WATCHDOG=1" {
		t.Errorf("got %q", got)
	}
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
	if n := strings.Count(log.String(), "no sign of life"); n != 1 {
		t.Errorf("logged %d times, want once:\n%s", n, log.String())
	}
}

type lockedBuffer struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.String()
}
