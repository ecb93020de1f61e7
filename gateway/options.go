package gateway

import (
	"context"
	"errors"
	"syscall"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/link"
	"telltale/gateway/page"
	"telltale/gateway/supervise"
)

// Errors of Run, to be told apart with errors.Is: for the exit code of whoever
// called it. The error that Run returns says itself what is wrong and where.
var (
	ErrStore   = errors.New("the store cannot be opened")
	ErrAddress = errors.New("an address is in use")
)

// Options say what to run.
type Options struct {
	Config *config.Config
	// Clock is the watch's time; nil is real time. The demo runs on fast time.
	Clock *Clock
	Log   zerolog.Logger
	// Manager is the service manager to be told how the watch is; it may be nil.
	Manager *supervise.Manager
	// Version and Revision are shown among the metrics.
	Version, Revision string
	// Ready is called when everything listens, again where Run begins again; it
	// may be nil.
	Ready func(Running)
	// Heard is called by the owner with each saved transition; it may be nil
	// and must not block.
	Heard func(alarms.Transition)
	// Played says, for every page, in a language, what is played where nothing of it is real; nil: all is.
	// The log then says that what the store holds of before was played too.
	Played func(tongue.Tongue) string
	// SetUp lets people change the config on the page; nil: they may not.
	SetUp *SetUp

	pushOnLoopback bool             // tests: this machine may be a push service
	storeNow       func() time.Time // tests: by which the store waits before it tries its disk again
}

// Running says where a running watch is found.
type Running struct {
	Page   string // address of the page, host:port
	Broker string // address of the embedded broker, "" where there is none
	// User and Password are the watch's own account at the embedded broker.
	User, Password string
	// Do and Picture are what the page uses, for programs that embed the watch.
	Do      func(context.Context, alarms.Input) error
	Picture func() alarms.Picture
	// Settled reports whether the broker is reached, and nothing that is due waits to be
	// told: for programs that move a stepped clock.
	Settled func() bool
	// First is when the watch that this one accompanies was heard last, by the core's
	// time; zero: not yet, or there is none.
	First func() time.Time
}

// classify marks err, from starting a part, with the error that callers know.
func classify(err error) error {
	if errors.Is(err, link.ErrAddressInUse) || errors.Is(err, page.ErrAddressInUse) || errors.Is(err, syscall.EADDRINUSE) {
		return marked{ErrAddress, err}
	}
	return err
}

// marked is err, which says what is wrong, and mark for errors.Is alone.
type marked struct{ mark, err error }

func (m marked) Error() string { return m.err.Error() }

func (m marked) Unwrap() []error { return []error{m.mark, m.err} }
