package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"os/signal"
	"runtime/debug"
	"sync/atomic"
	"syscall"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"telltale/gateway"
	"telltale/gateway/config"
	"telltale/gateway/supervise"
)

func newWatch() *cobra.Command {
	var level, at string
	c := &cobra.Command{
		Use: "watch FILE", Short: "Watch the greenhouse that a config file describes",
		Long: "Watch the greenhouse that a config file describes, until it is asked to stop.\n" +
			"On SIGHUP the file is read again: a good one takes over, with a bad one the old one stays.\n" +
			"A file that is not there is begun. While it has no house nothing is watched, and the page\n" +
			"helps to set up the first probe. While the file says nothing of page and broker either, a\n" +
			"code is told here by which a browser on another machine makes the first account.",
		Args: oneConfig,
		RunE: func(cmd *cobra.Command, args []string) error {
			if _, err := logger(level); err != nil {
				return err // before any file is read
			}
			if err := checkFirstAt(at); err != nil {
				return usage(err)
			}
			cfg, err := loadOrBegin(args[0], cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			level = cmp.Or(level, cfg.Log.Level)
			log, err := logger(level)
			if err != nil {
				return err
			}
			if os.Getenv("GOGC") == "" {
				debug.SetGCPercent(gcPercent)
			}
			manager, err := supervise.NewManager(os.Getenv, os.Getpid(), log)
			if err != nil {
				return err
			}
			w := &watching{file: args[0], at: at, log: log, manager: manager, asked: make(chan struct{}, 1)}
			stopping := context.AfterFunc(cmd.Context(), func() { w.tell(manager.Stopping()) })
			defer stopping()
			return w.run(cmd.Context(), cfg)
		},
	}
	c.Flags().StringVar(&level, "log-level", "", "debug, info, warn or error; default as in the config")
	c.Flags().StringVar(&at, "first-at", "", "where the first account may be made from another machine, such as 192.168.1.9:8470, or nowhere;\n"+
		"default the port of the page at each address of this machine")
	return c
}

// gcPercent trades a little computing for memory, which a small board has less of.
const gcPercent = 40

// watching runs a config and swaps it when asked to.
type watching struct {
	file    string
	at      string // see gateway.SetUp
	log     zerolog.Logger
	manager *supervise.Manager
	proven  atomic.Bool   // the config in force has come as far as watching
	asked   chan struct{} // the page has written the file
}

// reload asks for the file to be read again; it does not wait.
func (w *watching) reload() {
	select {
	case w.asked <- struct{}{}:
	default:
	}
}

func (w *watching) run(ctx context.Context, cfg *config.Config) error {
	again := make(chan os.Signal, 1)
	signal.Notify(again, syscall.SIGHUP)
	defer signal.Stop(again)
	var old *config.Config
	for {
		next, err := w.until(ctx, cfg, again)
		switch {
		case next != nil:
			old, cfg = cfg, next
		case err != nil && old != nil && !w.proven.Load() && ctx.Err() == nil:
			w.log.Error().Err(err).Msg("the watch cannot run with the new config; going back to the old one")
			cfg, old = old, nil
		default:
			return w.hint(cfg, err)
		}
	}
}

// until runs cfg until ctx ends, it fails, or a better config is there, which
// it then returns.
func (w *watching) until(ctx context.Context, cfg *config.Config, again <-chan os.Signal) (*config.Config, error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	ver, revision := build()
	w.proven.Store(false)
	done := make(chan error, 1)
	go func() {
		done <- gateway.Run(ctx, gateway.Options{Config: cfg, Log: w.log, Manager: w.manager, Version: ver, Revision: revision, Ready: func(r gateway.Running) { w.readyWith(cfg, r) },
			SetUp: &gateway.SetUp{File: w.file, Env: os.LookupEnv, Reload: w.reload, At: w.at}})
	}()
	for {
		select {
		case err := <-done:
			return nil, err
		case <-again:
		case <-w.asked:
		}
		next := w.read(cfg)
		if next == nil {
			continue
		}
		w.log.Info().Msg("a new config takes over")
		stop()
		if err := <-done; err != nil { // everything is closed all the same
			w.log.Warn().Err(err).Msg("the old config did not stop cleanly")
		}
		return next, nil
	}
}

// read reads the file again; nil when it is not good. One without a house is
// good only as long as nothing is watched anyway.
func (w *watching) read(cfg *config.Config) *config.Config {
	w.tell(w.manager.Reloading())
	load := config.Load
	if !cfg.Watches() {
		load = config.LoadToSetUp
	}
	next, problems := load(w.file, os.LookupEnv)
	for _, p := range problems {
		w.log.Warn().Msg(p.String())
	}
	if next == nil {
		w.tell(w.manager.Ready())
		w.log.Error().Msgf("%s has %s; the old config stays in force", w.file, count(len(problems.Errors()), "problem"))
	}
	return next
}

// hint says, where nothing is set up yet, what to do about a broker that is
// there already.
func (w *watching) hint(cfg *config.Config, err error) error {
	if errors.Is(err, gateway.ErrAddress) && !cfg.Watches() && cfg.Broker.Run {
		return fmt.Errorf("%w. If that is the broker your probes use, write [broker] with servers = [\"mqtt://%s\"] into %s and start again",
			err, cfg.Broker.Address, w.file)
	}
	return err
}

func (w *watching) tell(err error) {
	if err != nil {
		w.log.Warn().Err(err).Msg("the service manager could not be told")
	}
}

// pageURL is where a browser finds the page: as people know it, else on this machine.
func pageURL(cfg *config.Config, r gateway.Running) string {
	if cfg.Page.URL != "" {
		return cfg.Page.URL
	}
	host, port, err := net.SplitHostPort(r.Page)
	if ip := net.ParseIP(host); err != nil || ip != nil && ip.IsUnspecified() {
		host = "localhost" // one of its addresses
	}
	u := url.URL{Scheme: "http", Host: net.JoinHostPort(host, port), Path: "/"}
	if cfg.Page.CertFile != "" {
		u.Scheme = "https"
	}
	return u.String()
}

// readyWith reports that cfg is in force.
func (w *watching) readyWith(cfg *config.Config, r gateway.Running) {
	debug.FreeOSMemory() // what reading the config took
	w.proven.Store(true)
	e := w.log.Info().Str("page", r.Page).Str("open", pageURL(cfg, r))
	if r.Broker != "" {
		e = e.Str("broker", r.Broker)
	}
	if !cfg.Watches() && cfg.Companion.First != "" {
		e.Str("first", cfg.Companion.First).Msg("nothing is watched yet: the plan of the first watch is fetched")
		return
	}
	if !cfg.Watches() {
		e.Msgf("nothing is watched yet: open the page at /first and set up a probe")
		return
	}
	e.Msg("watching")
}
