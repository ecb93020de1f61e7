package entry

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	stdlog "log"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms/tongue"
)

// Options say where to listen and what to do for who knows the code.
type Options struct {
	// Addresses are those of this machine, asked for again and again: a network may
	// come later.
	Addresses func() []netip.AddrPort
	// Names are those of this machine, for the certificate.
	Names []string
	// Make makes the first account and returns the name to sign in with. What
	// somebody can mend is a *Refused.
	Make func(Account) (id string, err error)
	// Made is called once the account is there and its maker has been answered. It
	// must not wait.
	Made func()
	// ConnState follows each connection, and may close it; may be nil.
	ConnState func(net.Conn, http.ConnState)
	Log       zerolog.Logger
}

// Account is the first one, with the certificate by which its maker came in.
type Account struct {
	Name, Password string
	Certificate    Certificate
	Authority      bool // it wants one of its own to be made
}

// Refused is why an account was not made, in a sentence, at a field of the form:
// name, password, or none.
type Refused struct {
	Field string
	Say   tongue.Text
	Args  []any
}

func (r *Refused) Error() string { return tongue.English.Say(r.Say, r.Args...) }

const (
	lookEvery  = 5 * time.Second // for further addresses
	grace      = 5 * time.Second // for answers under way
	maxBody    = 8 << 10         // bytes
	maxHeader  = 8 << 10         // bytes
	mostListen = 32              // addresses
)

// Server is the one page. Make it with New, and run it once.
type Server struct {
	o     Options
	now   func() time.Time
	every time.Duration // between looks for addresses

	// Set by Run before anybody is served.
	lock *lock // nil: no address yet
	cert Certificate

	heard map[netip.AddrPort]bool // it listens there
	told  map[netip.AddrPort]bool // why it does not was told
	id    string                  // of the account that was made; the lock guards it
	on    string                  // where its maker goes on; the lock guards it
	news  chan struct{}           // the lock has another stage
}

// New opens no port.
func New(o Options) *Server {
	return &Server{o: o, now: time.Now, every: lookEvery, told: map[netip.AddrPort]bool{}, heard: map[netip.AddrPort]bool{}, news: make(chan struct{}, 1)}
}

// Run listens until the account is made, the code is no good any more or ctx ends,
// and returns once all it started has ended.
func (s *Server) Run(ctx context.Context) error {
	srv := &http.Server{
		Handler: s.handler(), ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: 30 * time.Second,
		IdleTimeout: 30 * time.Second, MaxHeaderBytes: maxHeader, ErrorLog: stdlog.New(s.o.Log.Level(zerolog.Disabled), "", 0),
		ConnState: s.o.ConnState, TLSNextProto: map[string]func(*http.Server, *tls.Conn, http.Handler){},
	}
	var serving sync.WaitGroup
	err := s.until(ctx, srv, &serving)
	left, cancel := context.WithTimeout(context.WithoutCancel(ctx), grace)
	defer cancel()
	if srv.Shutdown(left) != nil {
		_ = srv.Close() // whoever is still connected had time enough
	}
	serving.Wait()
	return err
}

// until listens at every address that appears, until there is nothing to wait for.
func (s *Server) until(ctx context.Context, srv *http.Server, serving *sync.WaitGroup) error {
	for {
		if err := s.listen(srv, serving); err != nil {
			return err
		}
		wait := s.every
		if s.lock != nil {
			at, left, why := s.lock.ends(s.now())
			switch at {
			case made:
				<-ctx.Done() // the watch begins anew, where nobody needs a code
				return nil
			case closed:
				s.o.Log.Warn().Msg("The first set-up from another machine is closed. " + why + " For a new code start Telltale again, or send it SIGHUP.")
				return nil
			}
			wait = min(wait, left)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-s.news:
		case <-time.After(wait):
		}
	}
}

// listen opens a port at each address that is new.
func (s *Server) listen(srv *http.Server, serving *sync.WaitGroup) error {
	var fresh []net.Listener
	for _, a := range s.o.Addresses() {
		if s.heard[a] || len(s.heard) >= mostListen {
			continue
		}
		l, err := net.Listen("tcp", a.String())
		if err != nil {
			if !s.told[a] {
				s.o.Log.Warn().Err(err).Msg("the first set-up cannot listen at one address of this machine")
			}
			s.told[a] = true
			continue
		}
		s.heard[a] = true
		fresh = append(fresh, l)
	}
	if len(fresh) == 0 {
		return nil
	}
	first := s.lock == nil
	if err := s.begin(); err != nil {
		for _, l := range fresh {
			err = errors.Join(err, l.Close())
		}
		return fmt.Errorf("no certificate can be made for the first set-up: %w", err)
	}
	if first {
		s.o.Log.Warn().Msgf("Nothing is set up yet. The code for the first set-up from another machine is %s: %d tries, good for %d minutes.",
			s.lock.words(), tries, int(goodFor.Minutes()))
	}
	for _, l := range fresh {
		s.o.Log.Warn().Str("open", "https://"+l.Addr().String()+"/").Msgf("Open https://%s/ in a browser on this network and give the code there.", l.Addr())
		serving.Go(func() { _ = srv.Serve(tls.NewListener(l, s.tls())) }) // it ends by Shutdown alone
	}
	if first {
		s.o.Log.Warn().Str("fingerprint", s.cert.Fingerprint).Msgf("The browser will say that it does not know the certificate. Go on only if it shows this SHA-256 fingerprint: %s", s.cert.Fingerprint)
	}
	return nil
}

// begin makes certificate and code, once there is an address.
func (s *Server) begin() error {
	if s.lock != nil {
		return nil
	}
	var addresses []netip.Addr
	for a := range s.heard {
		addresses = append(addresses, a.Addr())
	}
	cert, err := NewCertificate(s.o.Names, addresses)
	if err != nil {
		return err
	}
	s.cert, s.lock = cert, newLock(s.now())
	return nil
}

func (s *Server) tls() *tls.Config {
	return &tls.Config{Certificates: []tls.Certificate{s.cert.pair}, MinVersion: tls.VersionTLS12, NextProtos: []string{"http/1.1"}}
}

func (s *Server) changed() {
	select {
	case s.news <- struct{}{}:
	default:
	}
}
