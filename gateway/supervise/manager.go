package supervise

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strconv"
	"strings"
	"time"

	"github.com/rs/zerolog"
)

// Manager tells the service manager how the service is, by the protocol that
// the manual pages sd_notify(3) and sd_watchdog_enabled(3) of systemd state.
// Without a service manager it does nothing. It may be used by any goroutine.
type Manager struct {
	socket   string        // path, or @ and a name in the abstract namespace; empty: none
	watchdog time.Duration // within which WATCHDOG=1 is expected; 0: not at all
	log      zerolog.Logger
}

// NewManager reads NOTIFY_SOCKET, WATCHDOG_USEC and WATCHDOG_PID by getenv
// (os.Getenv); pid is this process. A value that cannot be used is an error.
func NewManager(getenv func(string) string, pid int, log zerolog.Logger) (*Manager, error) {
	m := &Manager{socket: getenv("NOTIFY_SOCKET"), log: log}
	if m.socket == "" {
		return m, nil
	}
	if m.socket[0] != '/' && m.socket[0] != '@' || len(m.socket) < 2 {
		return nil, fmt.Errorf("NOTIFY_SOCKET is %q; want a path that begins with / or a name that begins with @", m.socket)
	}
	usec := getenv("WATCHDOG_USEC")
	if usec == "" {
		return m, nil
	}
	n, err := strconv.ParseInt(usec, 10, 64)
	if err != nil || n <= 0 || n > int64(24*time.Hour/time.Microsecond) {
		return nil, fmt.Errorf("WATCHDOG_USEC is %q; want microseconds, more than 0 and at most a day", usec)
	}
	if forPID := getenv("WATCHDOG_PID"); forPID == "" || forPID == strconv.Itoa(pid) {
		m.watchdog = time.Duration(n) * time.Microsecond
	}
	return m, nil
}

// Ready reports that the service is up, or that reloading has ended.
func (m *Manager) Ready() error { return m.send("READY=1") }

// Reloading reports that the configuration is being read again; Ready must
// follow.
func (m *Manager) Reloading() error {
	usec, err := monotonicMicroseconds()
	if err != nil {
		return fmt.Errorf("telling the service manager of the reload: %w", err)
	}
	return m.send("RELOADING=1\nMONOTONIC_USEC=" + strconv.FormatInt(usec, 10))
}

// Stopping reports that the service is going down by intention.
func (m *Manager) Stopping() error { return m.send("STOPPING=1") }

// Status sets the one line that the manager shows beside the service.
func (m *Manager) Status(line string) error {
	return m.send("STATUS=" + strings.Join(strings.Fields(line), " "))
}

// send writes one datagram.
func (m *Manager) send(state string) error {
	if m.socket == "" {
		return nil
	}
	c, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: m.socket, Net: "unixgram"})
	if err != nil {
		return fmt.Errorf("telling the service manager %q: %w", state, err)
	}
	// A manager that takes nothing must not stop the watch.
	err = c.SetWriteDeadline(time.Now().Add(time.Second))
	if err == nil {
		_, err = c.Write([]byte(state))
	}
	if err = errors.Join(err, c.Close()); err != nil {
		return fmt.Errorf("telling the service manager %q: %w", state, err)
	}
	return nil
}

// Run sends WATCHDOG=1 at half the expected time while alive returns nil,
// until ctx ends; it then returns nil. While alive returns an error it is
// silent, and the manager will restart the service. Without a watchdog it only
// waits for ctx.
func (m *Manager) Run(ctx context.Context, alive Alive) error {
	if m.watchdog == 0 {
		<-ctx.Done()
		return nil
	}
	tick := time.Tick(m.watchdog / 2)
	var withheld, failed cause
	for {
		if err := alive(); err != nil {
			if withheld.begins() {
				m.log.Error().Err(err).Msg("the service manager gets no sign of life, and will restart the watch")
			}
		} else {
			withheld.over()
			if err := m.send("WATCHDOG=1"); err == nil {
				failed.over()
			} else if failed.begins() {
				m.log.Error().Err(err).Msg("the sign of life does not reach the service manager")
			}
		}
		select {
		case <-tick:
		case <-ctx.Done():
			return nil
		}
	}
}

// cause remembers whether something is already wrong, so that it is logged
// once.
type cause struct{ wrong bool }

// begins notes that something is wrong and reports whether it was right before.
func (c *cause) begins() bool {
	was := c.wrong
	c.wrong = true
	return !was
}

// over notes that all is right and reports whether something was wrong.
func (c *cause) over() bool {
	was := c.wrong
	c.wrong = false
	return was
}
