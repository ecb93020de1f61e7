package page

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	stdlog "log"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/rs/zerolog"
)

// Limits on what a client may send and how long it may take.
const (
	readHeaderTimeout = 5 * time.Second
	readTimeout       = 15 * time.Second
	writeTimeout      = 30 * time.Second // /live sets its own for each write
	idleTimeout       = 2 * time.Minute
	maxHeader         = 16 << 10
	maxBody           = 64 << 10
	shutdownGrace     = 5 * time.Second
)

// Server serves the page. Make it with New, start it with Run.
type Server struct {
	watch    Watch
	words    words
	options  Options
	log      zerolog.Logger
	keys     keyring
	locked   bool // somebody must prove who they are
	sessions *sessions
	limiter  *limiter      // of guessing, by client
	byName   *limiter      // and by account
	refusals sparing       // of what is logged
	hashing  chan struct{} // holds one: a hash takes much memory
	views    views
	hub      *hub
	handler  http.Handler
	tls      *tls.Config
	testing  testPause
	arranged arrangements    // of text in the drawings of the houses
	served   []string        // patterns of all routes, in the order of their making
	acts     map[string]bool // paths of the forms that act
	limits   timeLimits

	mu       sync.Mutex
	listener net.Listener
	loopback atomic.Bool
}

// timeLimits are how long a request may take to arrive and its answer to leave.
type timeLimits struct{ read, write time.Duration }

// New checks the options, reads the certificate and prepares the page; it
// opens no port. Errors: ErrPasswordNeeded, ErrPasswordShort, ErrPasswordHash
// and others, joined.
func New(o Options) (*Server, error) {
	err := o.check()
	sessions, ring, errKeys := o.openSessions()
	if err = errors.Join(err, errKeys); err != nil {
		return nil, err
	}
	o.forgetSecrets()
	s := &Server{watch: o.Watch, words: newWords(o.Words), options: o, log: o.Log, acts: map[string]bool{}, keys: ring, locked: len(ring) > 0,
		limits:  timeLimits{readTimeout, writeTimeout},
		limiter: newLimiter(freeTries), byName: newLimiter(freeForName), hashing: make(chan struct{}, 1), sessions: sessions}
	if o.CertFile != "" {
		pair, err := tls.LoadX509KeyPair(o.CertFile, o.KeyFile)
		if err != nil {
			return nil, fmt.Errorf("the page's certificate cannot be read: %w", err)
		}
		s.tls = &tls.Config{Certificates: []tls.Certificate{pair}, NextProtos: []string{"h2", "http/1.1"}}
	}
	if s.views, err = parseViews(); err != nil {
		return nil, err
	}
	s.hub = newHub(s)
	s.handler = squeezed(s.guard(s.routes()))
	if s.locked {
		s.sessions.save() // of passwords that changed, the sessions are gone
	}
	return s, nil
}

// Listen opens the port, so that Addr is known before Run. Errors:
// ErrAddressInUse, ErrPasswordNeeded.
func (s *Server) Listen() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.listener != nil {
		return nil
	}
	l, err := net.Listen("tcp", s.options.Address)
	if errors.Is(err, syscall.EADDRINUSE) {
		return fmt.Errorf("%w: %s; stop the other program or choose another port", ErrAddressInUse, s.options.Address)
	}
	if err != nil {
		return fmt.Errorf("the page cannot listen on %s: %w", s.options.Address, err)
	}
	tcp, ok := l.Addr().(*net.TCPAddr)
	s.loopback.Store(ok && tcp.IP.IsLoopback())
	if !s.locked && !s.loopback.Load() { // a name that means something else than it should
		return errors.Join(fmt.Errorf("%w (%s is %s)", ErrPasswordNeeded, s.options.Address, l.Addr()), l.Close())
	}
	s.listener = l
	return nil
}

// Addr is where the page listens, "" before Listen.
func (s *Server) Addr() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.listener == nil {
		return ""
	}
	return s.listener.Addr().String()
}

// Run serves until ctx ends, then tells the browsers, waits for answers under
// way and returns nil once all it started has ended. It can run once.
func (s *Server) Run(ctx context.Context) error {
	if err := s.Listen(); err != nil {
		return err
	}
	if !s.loopback.Load() && !s.sessions.secure {
		s.log.Warn().Str("address", s.Addr()).Msg("the page's password travels readable on this network: " +
			"use it in a network you trust, or give the page a certificate")
	}
	srv := s.httpServer(ctx)
	var parts sync.WaitGroup
	hubCtx, stopHub := context.WithCancel(context.WithoutCancel(ctx))
	parts.Go(func() { s.hub.run(hubCtx) })
	served := make(chan error, 1)
	parts.Go(func() { served <- s.serve(srv) })
	var err error
	select {
	case <-ctx.Done():
		err = s.shutdown(ctx, srv)
		<-served
	case err = <-served:
		s.hub.farewell()
		err = errors.Join(fmt.Errorf("the page stopped serving: %w", err), srv.Close())
	}
	stopHub()
	parts.Wait()
	return err
}

func (s *Server) httpServer(ctx context.Context) *http.Server {
	srv := &http.Server{
		Handler:           s.handler,
		TLSConfig:         s.tls,
		ReadHeaderTimeout: readHeaderTimeout, ReadTimeout: s.limits.read, WriteTimeout: s.limits.write,
		IdleTimeout: idleTimeout, MaxHeaderBytes: maxHeader,
		ErrorLog:    stdlog.New(s.log, "", 0),
		ConnState:   newConnections(s.options.ProxyTLS).state,
		BaseContext: func(net.Listener) context.Context { return context.WithoutCancel(ctx) },
	}
	srv.RegisterOnShutdown(s.hub.farewell)
	return srv
}

func (s *Server) serve(srv *http.Server) error {
	if s.tls != nil {
		return srv.ServeTLS(s.listener, "", "")
	}
	return srv.Serve(s.listener)
}

// shutdown ends srv within the grace period.
func (s *Server) shutdown(ctx context.Context, srv *http.Server) error {
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownGrace)
	defer cancel()
	if err := srv.Shutdown(grace); err != nil {
		return errors.Join(fmt.Errorf("the page cut off answers still under way: %w", err), srv.Close())
	}
	return nil
}

// state answers with the whole picture.
func (s *Server) state(w http.ResponseWriter, _ *http.Request) error {
	writeJSON(w, http.StatusOK, s.watch.Picture())
	return nil
}

// healthz tells a supervisor whether pictures still move. It tells nothing
// about the houses and needs no password.
func (s *Server) healthz(w http.ResponseWriter, _ *http.Request) error {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	if s.hub.standsStill() {
		w.WriteHeader(http.StatusServiceUnavailable)
		_, _ = w.Write([]byte("the watch stands still\n")) // a visitor who has gone cannot be told
		return nil
	}
	_, _ = w.Write([]byte("ok\n"))
	return nil
}
