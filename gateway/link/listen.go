package link

import (
	"context"
	"crypto/tls"
	"log/slog"
	"net"
	"sync"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/rs/zerolog"
	"golang.org/x/net/netutil"
)

// helloTimeout bounds TLS handshake and CONNECT of a client of the broker.
const helloTimeout = 10 * time.Second

// listener accepts the broker's clients. It bounds their number and how long
// they may take to say who they are, which the library does not, and it knows
// all of them, so that stop ends also those that have not said so yet.
type listener struct {
	net.Listener
	mu      sync.Mutex
	stopped bool
	open    map[net.Conn]struct{}
}

// listen opens address; with cfg not nil, for TLS.
func listen(address string, cfg *tls.Config) (*listener, error) {
	ln, err := net.Listen("tcp", address)
	if err != nil {
		return nil, err
	}
	ln = netutil.LimitListener(ln, maxConnections)
	if cfg != nil {
		ln = tls.NewListener(ln, cfg)
	}
	return &listener{Listener: ln, open: make(map[net.Conn]struct{})}, nil
}

func (l *listener) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		// The broker sets the client's own deadline after CONNECT.
		if err := c.SetDeadline(time.Now().Add(helloTimeout)); err != nil {
			_ = c.Close()
			continue
		}
		if tracked, ok := l.track(c); ok {
			return tracked, nil
		}
		_ = c.Close()
	}
}

func (l *listener) track(c net.Conn) (net.Conn, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.stopped {
		return nil, false
	}
	t := &tracked{Conn: c, from: l}
	l.open[t] = struct{}{}
	return t, true
}

// stop closes the listener and every connection.
func (l *listener) stop() {
	_ = l.Close()
	l.mu.Lock()
	l.stopped = true
	var all []net.Conn
	for c := range l.open {
		all = append(all, c)
	}
	l.mu.Unlock()
	for _, c := range all {
		_ = c.Close()
	}
}

// door is the library's view of the listener. Its own, listeners.Net, asks for
// the list of clients as it closes, takes a lock twice for it, and hangs for
// ever if a client leaves in between; it also waits for no client that has just
// been let in. This one only ends when every client has ended, which stop makes
// them do.
type door struct {
	*listener
	clients sync.WaitGroup
	hellos  *hellos

	making sync.Mutex // held from when limits are set until a client has been made by them
	limits *mochi.Capabilities
}

// ID implements listeners.Listener, as do the following.
func (d *door) ID() string              { return listenerID }
func (d *door) Address() string         { return d.Addr().String() }
func (d *door) Protocol() string        { return d.Addr().Network() }
func (d *door) Init(*slog.Logger) error { return nil }
func (d *door) Close(listeners.CloseFn) { d.stop(); d.clients.Wait() }

func (d *door) Serve(establish listeners.EstablishFn) {
	for {
		c, err := d.Accept()
		if err != nil {
			return
		}
		if !d.admit(func() { d.greet(c, establish) }) {
			_ = c.Close()
		}
	}
}

// admit serves one client, whose end is its own to notice, unless the broker is
// being closed.
func (d *door) admit(serve func()) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.stopped {
		return false
	}
	d.clients.Go(serve)
	return true
}

// greet hands a client to the library once it has said who it is: before that
// it costs little here, and far more there.
func (d *door) greet(c net.Conn, establish listeners.EstablishFn) {
	host, _, _ := net.SplitHostPort(c.RemoteAddr().String())
	if !d.hellos.begin(host, c) {
		_ = c.Close()
		return
	}
	hello, err := readHello(c)
	d.hellos.end(host, c)
	if err != nil {
		_ = c.Close()
		return
	}
	out := newAhead(&greeted{Conn: c, hello: hello}, bytesOfEach)
	d.clients.Go(out.run)
	d.hand(out, pendingOfEach, establish)
}

// hand gives c to the library, for which it may have so many messages waiting.
// The library makes each client by the same limits, which it reads before it
// asks for the address of the connection: until then nobody else may set them.
func (d *door) hand(c net.Conn, pending int32, establish listeners.EstablishFn) {
	d.making.Lock()
	d.limits.MaximumClientWritesPending = pending
	m := &making{Conn: c, made: sync.OnceFunc(d.making.Unlock)}
	defer m.made()
	_ = establish(listenerID, m)
}

// making reports when its address is asked for.
type making struct {
	net.Conn
	made func()
}

func (m *making) RemoteAddr() net.Addr {
	m.made()
	return m.Conn.RemoteAddr()
}

type tracked struct {
	net.Conn
	from *listener
}

func (t *tracked) Close() error {
	t.from.mu.Lock()
	delete(t.from.open, t)
	t.from.mu.Unlock()
	return t.Conn.Close()
}

// quiet passes the broker library's log on at a lower level: it warns of
// every client that leaves.
type quiet struct{ log zerolog.Logger }

func (q quiet) level(l slog.Level) zerolog.Level {
	if l >= slog.LevelError {
		return zerolog.WarnLevel
	}
	if l >= slog.LevelInfo {
		return zerolog.DebugLevel
	}
	return zerolog.TraceLevel
}

func (q quiet) Enabled(_ context.Context, l slog.Level) bool {
	return q.level(l) >= max(q.log.GetLevel(), zerolog.GlobalLevel())
}

func (q quiet) Handle(_ context.Context, r slog.Record) error {
	e := q.log.WithLevel(q.level(r.Level))
	r.Attrs(func(a slog.Attr) bool {
		// Packets hold payloads and passwords.
		switch a.Key {
		case "error", "client", "listener", "remote", "len":
			e = e.Str(a.Key, a.Value.String())
		}
		return true
	})
	e.Msg(r.Message)
	return nil
}

func (q quiet) WithAttrs([]slog.Attr) slog.Handler { return q }
func (q quiet) WithGroup(string) slog.Handler      { return q }
