package link

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"sync"
	"sync/atomic"
	"syscall"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/rs/zerolog"

	"telltale/gateway/loopback"
)

// ErrAddressInUse is what StartBroker's error wraps when another program
// already listens at the address.
var ErrAddressInUse = errors.New("the address is in use by another program")

// BrokerOptions say how the embedded broker listens. The zero value of a field
// means its default.
type BrokerOptions struct {
	Address string // host:port; default 127.0.0.1:1883. Port 0: any free one
	// Accounts of the probes and others. Without any, everybody on this
	// machine may connect without a user name, and Address must be loopback.
	Accounts []Account
	// WatchPassword is that of the account of the watch itself, "telltale", which
	// may read and write everything; one is made up if empty, see Login.
	WatchPassword string
	// Own are beginnings of topics that the watch alone may write, beside
	// telltale/.
	Own []string
	// WatchID is the client ID of the watch. It belongs to that account, as does
	// that of its Scout, also while nobody uses it; default "telltale".
	WatchID string

	CertFile     string // PEM; with KeyFile: listen with TLS
	KeyFile      string // PEM
	ClientCAFile string // PEM; clients must show a certificate that it signed

	Speed float64 // as Options.Speed
	Log   zerolog.Logger
}

// Limits of the embedded broker, see also bounds.go. The library's own lose
// part of a burst.
const (
	pendingOfWatch    = 16384 // messages not yet written to the watch
	inflightPerClient = 65535 // messages of QoS 1 not yet acknowledged by the watch
	maxPacket         = 1 << 17
	maxConnections    = 1000
	sessionSeconds    = 24 * 3600 // for which the session of an absent client is kept
	sysEvery          = 10        // seconds between its own figures on $SYS
)

const (
	listenerID = "link"     // at the library
	watchUser  = "telltale" // the watch's own account
)

// Broker is a running embedded broker.
type Broker struct {
	server   *mochi.Server
	gate     *gate
	listen   *door
	password string
	close    sync.Once
}

// BrokerStats are counts since StartBroker.
type BrokerStats struct {
	Clients       int    // connected now
	Dropped       uint64 // messages not delivered to a client that was too slow or too long away
	Lost          uint64 // those of them that were for the watch
	Retained      int    // messages kept
	RefusedLogins uint64
	Flooded       uint64 // passed on to nobody because their topic brought too many
	FloodedBy     string // topic of the newest of these
	RefusedTopics uint64 // publications, subscriptions and deliveries without a right
}

// StartBroker listens and serves until Close.
func StartBroker(o BrokerOptions) (*Broker, error) {
	o = o.withDefaults()
	o.WatchPassword = cmp.Or(o.WatchPassword, rand.Text())
	if err := o.Check(); err != nil {
		return nil, fmt.Errorf("embedded broker: %w", err)
	}
	cfg, err := o.tlsConfig()
	if err != nil {
		return nil, fmt.Errorf("embedded broker: %w", err)
	}
	ln, err := listen(o.Address, cfg)
	if errors.Is(err, syscall.EADDRINUSE) {
		return nil, fmt.Errorf("embedded broker: cannot listen at %s: %w. Perhaps another broker or another watch is running: stop it, or choose another port", o.Address, ErrAddressInUse)
	}
	if err != nil {
		return nil, fmt.Errorf("embedded broker: cannot listen at %s: %w", o.Address, err)
	}
	b, err := serve(o, ln)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("embedded broker: %w", err), ln.Close())
	}
	if cfg == nil && !loopback.Address(o.Address) {
		o.Log.Warn().Str("address", o.Address).Msg("the embedded broker listens without TLS: passwords and readings cross the network unencrypted")
	}
	return b, nil
}

func serve(o BrokerOptions, ln *listener) (*Broker, error) {
	limits := mochi.NewDefaultServerCapabilities()
	limits.MaximumInflight = inflightPerClient
	limits.MaximumPacketSize = maxPacket
	limits.MaximumClients = maxConnections
	limits.MaximumSessionExpiryInterval = sessionSeconds
	limits.MaximumMessageExpiryInterval = 0 // the library's default forgets retained messages after a day
	s := mochi.New(&mochi.Options{
		Capabilities:             limits,
		ClientNetReadBufferSize:  4096,
		ClientNetWriteBufferSize: 4096,
		Logger:                   slog.New(quiet{o.Log}),
		SysTopicResendInterval:   sysEvery,
	})
	g := &gate{book: newBook(o), clients: s.Clients, hellos: newHellos(), log: o.Log,
		user: watchUser, ids: []string{o.WatchID, o.WatchID + scoutSuffix}, flood: newFloodgate(o.Speed, o.Log)}
	g.bounds = &bounds{gate: g, waiting: map[string]*backlog{}, retained: map[string]int{}}
	if err := errors.Join(s.AddHook(g, nil), s.AddHook(g.bounds, nil), s.AddHook(&turns{}, nil)); err != nil {
		return nil, err
	}
	d := &door{listener: ln, hellos: g.hellos, limits: limits}
	if err := s.AddListener(d); err != nil {
		return nil, err
	}
	if err := s.Serve(); err != nil {
		return nil, err
	}
	return &Broker{server: s, gate: g, listen: d, password: o.WatchPassword}, nil
}

// Addr is where the broker listens.
func (b *Broker) Addr() net.Addr { return b.listen.Addr() }

// dial connects within the process: by a pair of connected sockets on
// loopback, since a pipe without a buffer would lock up when both sides write.
func (b *Broker) dial(ctx context.Context) (net.Conn, error) {
	ours, theirs, err := pair(ctx)
	if err != nil {
		return nil, err
	}
	c, ok := b.listen.track(theirs)
	if !ok || !b.listen.admit(func() { b.listen.hand(c, pendingOfWatch, b.server.EstablishConnection) }) {
		return nil, errors.Join(net.ErrClosed, ours.Close(), theirs.Close())
	}
	return ours, nil
}

// pair listens for one connection, makes it, and stops listening.
func pair(ctx context.Context) (ours, theirs net.Conn, err error) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, nil, err
	}
	defer ln.Close()
	if ours, err = (&net.Dialer{}).DialContext(ctx, "tcp", ln.Addr().String()); err != nil {
		return nil, nil, err
	}
	for {
		if theirs, err = ln.Accept(); err != nil {
			return nil, nil, errors.Join(err, ours.Close())
		}
		if theirs.RemoteAddr().String() == ours.LocalAddr().String() {
			return ours, theirs, nil
		}
		_ = theirs.Close() // a stranger who came first
	}
}

// Login returns the user name and password of the watch's own account.
func (b *Broker) Login() (user, password string) { return watchUser, b.password }

// Close stops listening, ends every connection and waits for them. It may be
// called more than once.
func (b *Broker) Close() error {
	var err error
	b.close.Do(func() {
		err = b.server.Close()
	})
	return err
}

// Stats returns the counts.
func (b *Broker) Stats() BrokerStats {
	i := b.server.Info
	flooded, by := b.gate.flood.stats()
	return BrokerStats{
		Flooded: flooded, FloodedBy: by,
		Clients:       int(atomic.LoadInt64(&i.ClientsConnected)),
		Dropped:       uint64(atomic.LoadInt64(&i.MessagesDropped)+atomic.LoadInt64(&i.InflightDropped)) + b.gate.dropped.Load(),
		Retained:      int(atomic.LoadInt64(&i.Retained)),
		Lost:          b.gate.lost.Load(),
		RefusedLogins: b.gate.refusedLogins.Load(),
		RefusedTopics: b.gate.refusedTopics.Load(),
	}
}

// withDefaults returns o with every default set but the password.
func (o BrokerOptions) withDefaults() BrokerOptions {
	o.Address = cmp.Or(o.Address, "127.0.0.1:1883")
	o.WatchID = cmp.Or(o.WatchID, defaultClientID)
	return o
}

// Check returns all that is wrong with o, joined, but for what the machine says:
// its files and its ports.
func (o BrokerOptions) Check() error {
	o = o.withDefaults()
	var errs []error
	if _, _, err := net.SplitHostPort(o.Address); err != nil {
		errs = append(errs, fmt.Errorf("address %q: want host:port, such as 127.0.0.1:1883", o.Address))
	} else if len(o.Accounts) == 0 && !loopback.Address(o.Address) {
		errs = append(errs, fmt.Errorf("address %s can be reached from other machines, but there are no accounts: anybody could send false readings; set up accounts with passwords, or listen at 127.0.0.1", o.Address))
	}
	seen := map[string]bool{watchUser: true}
	for _, a := range o.Accounts {
		if err := a.check(); err != nil {
			errs = append(errs, err)
		}
		if seen[a.User] {
			errs = append(errs, fmt.Errorf("account %q exists twice, or is the watch's own name", a.User))
		}
		seen[a.User] = true
	}
	return errors.Join(errs...)
}

func (o BrokerOptions) tlsConfig() (*tls.Config, error) {
	cert, err := readPair(o.CertFile, o.KeyFile)
	if err != nil {
		return nil, err
	}
	if cert == nil {
		if o.ClientCAFile != "" {
			return nil, errors.New("client certificates are asked for, but the broker has no certificate of its own; give certificate and key file")
		}
		return nil, nil
	}
	c := &tls.Config{MinVersion: tls.VersionTLS12, Certificates: []tls.Certificate{*cert}}
	if o.ClientCAFile != "" {
		if c.ClientCAs, err = readPool(o.ClientCAFile); err != nil {
			return nil, err
		}
		c.ClientAuth = tls.RequireAndVerifyClientCert
	}
	return c, nil
}
