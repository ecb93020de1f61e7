package link

import (
	"cmp"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"net/url"
	"os"
	"slices"
	"time"

	"github.com/rs/zerolog"

	"telltale/gateway/topic"
)

// Options say which broker to connect to and what to listen for. The zero
// value of a field means its default.
type Options struct {
	// Broker is the embedded broker of this process, which is then reached
	// within the process as the watch's own account, wherever it listens and
	// with whatever certificate. Servers, User, Password and the certificate
	// files must then be empty.
	Broker *Broker
	// Servers are tried in order: mqtt:// or tcp:// (port 1883), mqtts://,
	// ssl:// or tls:// (port 8883). At least one, unless Broker is given.
	Servers []string
	// ClientID must be the only one of its kind at the broker; default
	// "telltale". The broker keeps the session under this name.
	ClientID string
	User     string
	Password string

	CAFile     string // PEM; default the system's authorities
	CertFile   string // PEM, client certificate; with KeyFile
	KeyFile    string // PEM
	ServerName string // name in the broker's certificate; default the host

	Filters      []string      // what to subscribe to; at least one, unless PublishOnly
	PublishOnly  bool          // listens to nothing, for a heartbeat to a second broker
	QoS          byte          // of subscriptions: 0 or 1
	CleanSession bool          // the broker forgets the session when the link ends
	KeepAlive    time.Duration // whole seconds, 5 s to 18 h; default 30 s

	// silent leaves no word at the broker: neither state nor will nor marks.
	silent bool

	// Below begins the topics of the link itself; default topic.Own. A companion at
	// the same broker has its own.
	Below string
	// StateTopic carries, retained, how the watch is: see stateNote. Default
	// "telltale/watch/state".
	StateTopic string
	// Will, where given, is what the broker publishes, retained, when the link
	// ends without a word, in place of the state topic, which is then not used:
	// a client has one will, and its owner keeps that topic up to date itself.
	Will *Will
	// Own are filters of topics that the watch alone writes, retained. What comes
	// there is no reading: Overheard is called with it, in order, and must not
	// block. That the broker refuses them is no trouble.
	Own       []string
	Overheard func(topic string, payload []byte)

	QueueSize  int // messages; default 4096
	maxPayload int // bytes; longer payloads are counted and left out; default 65536

	// For tests.
	holdBack           time.Duration // longest wait for a full queue; 5 s, below pingTimeout, or a full queue would break the connection
	retryMin, retryMax time.Duration // first and longest pause between attempts; 1 s and 10 s

	// Speed is how many times as fast as real time the probes send; default 1. The
	// bound of each topic goes by it.
	Speed  float64
	Now    func() time.Time // stamps messages and changes; nil: time.Now
	random func() float64   // in [0,1), spreads the pauses; nil: math/rand/v2
	Log    zerolog.Logger
}

const (
	defaultClientID = "telltale"
	// pingTimeout is how long the broker may take to answer a ping.
	pingTimeout = 10 * time.Second
)

// withDefaults returns o with every default set.
func (o Options) withDefaults() Options {
	o.ClientID = cmp.Or(o.ClientID, defaultClientID)
	o.Below = cmp.Or(o.Below, topic.Own)
	o.StateTopic = cmp.Or(o.StateTopic, o.Below+topic.State)
	o.KeepAlive = cmp.Or(o.KeepAlive, 30*time.Second)
	o.QueueSize = cmp.Or(o.QueueSize, 4096)
	o.holdBack = cmp.Or(o.holdBack, 5*time.Second)
	o.maxPayload = cmp.Or(o.maxPayload, 64<<10)
	o.retryMin = cmp.Or(o.retryMin, time.Second)
	o.retryMax = cmp.Or(o.retryMax, 10*time.Second)
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.random == nil {
		o.random = rand.Float64
	}
	return o
}

// inProcess points o to its embedded broker.
func (o Options) inProcess() (Options, error) {
	if o.Broker == nil {
		return o, nil
	}
	if len(o.Servers) > 0 || o.User != "" || o.Password != "" || o.CAFile != "" || o.CertFile != "" || o.KeyFile != "" {
		return o, errors.New("the embedded broker is used, and an address, an account or a certificate of another broker is given too; want one of them")
	}
	o.Servers = []string{"mqtt://" + o.Broker.Addr().String()}
	o.User, o.Password = o.Broker.Login()
	if !o.silent && !o.PublishOnly {
		o.Broker.gate.watch.Store(&o.ClientID)
	}
	return o, nil
}

// check returns all that is wrong with o, after withDefaults.
func (o Options) check() error {
	var errs []error
	bad := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	if len(o.Servers) == 0 {
		bad("no broker given; want at least one, such as mqtt://127.0.0.1:1883")
	}
	for _, s := range o.Servers {
		if _, err := parseServer(s); err != nil {
			errs = append(errs, err)
		}
	}
	if len(o.Filters) == 0 && !o.PublishOnly {
		bad("nothing to subscribe to; want at least one topic filter")
	}
	if len(o.Filters) > 0 && o.PublishOnly {
		bad("%d topic filters for a link that shall only publish; want none", len(o.Filters))
	}
	for _, f := range o.Filters {
		if err := topic.CheckFilter(f); err != nil {
			bad("topic filter: %w", err)
		}
	}
	if err := topic.CheckName(o.StateTopic); err != nil {
		bad("state topic: %w", err)
	}
	if o.Password != "" && o.User == "" {
		bad("a password without a user name; MQTT 3.1.1 needs the user name too")
	}
	if _, err := o.tlsConfig(); err != nil {
		errs = append(errs, err)
	}
	return errors.Join(append(errs, o.checkRanges())...)
}

func (o Options) checkRanges() error {
	var errs []error
	bad := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	if o.QoS > 1 {
		bad("quality of service %d; want 0 or 1", o.QoS)
	}
	if o.KeepAlive < 5*time.Second || o.KeepAlive > 18*time.Hour || o.KeepAlive%time.Second != 0 {
		bad("keep alive %v; want whole seconds from 5s to 18h", o.KeepAlive)
	}
	if o.QueueSize < 1 {
		bad("queue of %d messages; want at least one", o.QueueSize)
	}
	return errors.Join(errs...)
}

// server is one broker address.
type server struct {
	host   string // without port
	addr   string // host:port
	secure bool
}

func parseServer(text string) (server, error) {
	u, err := url.Parse(text)
	if err != nil {
		// The error of url.Parse repeats the text, which may hold a password.
		return server{}, errors.New("a broker address that is no URL; want one such as mqtt://127.0.0.1:1883")
	}
	if u.User != nil {
		return server{}, fmt.Errorf("broker address %s: user name and password do not belong into the address", u.Redacted())
	}
	s := server{host: u.Hostname()}
	port := "1883"
	switch u.Scheme {
	case "mqtt", "tcp":
	case "mqtts", "ssl", "tls":
		s.secure, port = true, "8883"
	default:
		return server{}, fmt.Errorf("broker address %q: want mqtt:// or tcp://, or with TLS mqtts://, ssl:// or tls://", text)
	}
	if s.host == "" || u.Path != "" && u.Path != "/" || u.RawQuery != "" || u.Fragment != "" {
		return server{}, fmt.Errorf("broker address %q: want scheme, host and port only, such as mqtt://127.0.0.1:1883", text)
	}
	s.addr = net.JoinHostPort(s.host, cmp.Or(u.Port(), port))
	return s, nil
}

// tlsConfig reads the certificate files; nil when nothing needs TLS. It is
// called for each connection, so that a renewed certificate is used.
func (o Options) tlsConfig() (*tls.Config, error) {
	secure := slices.ContainsFunc(o.Servers, func(text string) bool {
		s, err := parseServer(text)
		return err == nil && s.secure
	})
	if !secure {
		if o.CAFile != "" || o.CertFile != "" || o.KeyFile != "" {
			return nil, errors.New("certificate files are given, but no broker address uses TLS; want mqtts:// in it")
		}
		return nil, nil
	}
	c := &tls.Config{MinVersion: tls.VersionTLS12, ServerName: o.ServerName}
	if o.CAFile != "" {
		pool, err := readPool(o.CAFile)
		if err != nil {
			return nil, err
		}
		c.RootCAs = pool
	}
	cert, err := readPair(o.CertFile, o.KeyFile)
	if err != nil {
		return nil, err
	}
	if cert != nil {
		c.Certificates = []tls.Certificate{*cert}
	}
	return c, nil
}

func readPool(file string) (*x509.CertPool, error) {
	pem, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("cannot read the authority's certificate: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(pem) {
		return nil, fmt.Errorf("%s holds no PEM certificate; want the certificate of the authority that signed the other side's", file)
	}
	return pool, nil
}

// readPair returns nil when neither file is given.
func readPair(certFile, keyFile string) (*tls.Certificate, error) {
	if certFile == "" && keyFile == "" {
		return nil, nil
	}
	if certFile == "" || keyFile == "" {
		return nil, fmt.Errorf("certificate file %q and key file %q: both are needed", certFile, keyFile)
	}
	cert, err := tls.LoadX509KeyPair(certFile, keyFile)
	if err != nil {
		return nil, fmt.Errorf("certificate %s with key %s: %w", certFile, keyFile, err)
	}
	return &cert, nil
}

// Will is a retained message that the broker publishes for the link.
type Will struct {
	Topic   string
	Payload []byte
}
