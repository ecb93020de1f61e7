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
	"syscall"
	"time"

	"telltale/gateway/page/answer"
	"telltale/gateway/page/door"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"

	"github.com/rs/zerolog"
)

// Limits on what a client may send and how long it may take.
const (
	readHeaderTimeout = 5 * time.Second
	readTimeout       = 15 * time.Second
	writeTimeout      = 30 * time.Second // /live sets its own for each write
	idleTimeout       = 2 * time.Minute
	maxHeader         = 16 << 10
	shutdownGrace     = 5 * time.Second
)

// Server serves the page. Make it with New, start it with Run.
type Server struct {
	watch    service.Watch
	words    words.Words
	options  Options
	log      zerolog.Logger
	door     *door.Door
	refusals sparing // of what is logged
	views    views
	hub      *hub
	handler  http.Handler
	tls      *tls.Config
	testing  testPause
	served   []string // patterns of all routes, in the order of their making
	limits   timeLimits
	now      func() time.Time // by the machine's clock

	mu       sync.Mutex
	listener net.Listener
}

// timeLimits are how long a request may take to arrive and its answer to leave.
type timeLimits struct{ read, write time.Duration }

// New checks the options, reads the certificate and prepares the page; it
// opens no port. Errors: errPasswordNeeded, passwords.ErrHash and
// others, joined.
func New(o Options) (*Server, error) {
	if err := o.Check(); err != nil {
		return nil, err
	}
	d, err := door.New(o.door())
	if err != nil {
		return nil, err
	}
	o.forgetSecrets()
	s := &Server{watch: o.Watch, words: words.New(o.Words).Telling(o.Plan), options: o, log: o.Log, door: d, limits: timeLimits{readTimeout, writeTimeout}, now: time.Now}
	if o.Certificate != nil {
		s.tls = &tls.Config{GetCertificate: o.Certificate, NextProtos: []string{"h2", "http/1.1"}}
	}
	if o.CertFile != "" {
		pair, err := tls.LoadX509KeyPair(o.CertFile, o.KeyFile)
		if err != nil {
			return nil, fmt.Errorf("the page's certificate cannot be read: %w", err)
		}
		s.tls = &tls.Config{Certificates: []tls.Certificate{pair}, NextProtos: []string{"h2", "http/1.1"}}
	}
	if s.views, err = readViews(); err != nil {
		return nil, err
	}
	s.hub = newHub(s)
	routes, err := s.routes()
	if err != nil {
		return nil, err
	}
	s.handler = d.Guard(routes, s.fail)
	return s, nil
}

// Listen opens the port, so that Addr is known before Run. Errors:
// ErrAddressInUse, errPasswordNeeded.
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
	s.door.Loopback.Store(ok && tcp.IP.IsLoopback())
	if !s.door.Locked() && !s.door.Loopback.Load() { // a name that means something else than it should
		return errors.Join(fmt.Errorf("%w (%s is %s)", errPasswordNeeded, s.options.Address, l.Addr()), l.Close())
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
	if !s.door.Loopback.Load() && !s.door.Secure {
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
		ConnState:   door.NewConnections(s.options.ProxyTLS).State,
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
	answer.JSON(w, http.StatusOK, s.watch.Picture())
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
