package supervise

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/rs/zerolog"
)

// Beat is one sign of life.
type Beat struct {
	Service string    `json:"service"` // always telltale
	Name    string    `json:"name"`    // which watch
	State   string    `json:"state"`   // alive, or stopping: the last one, by intention
	At      time.Time `json:"at"`
	Every   float64   `json:"every_s"` // seconds until the next one
	Words   string    `json:"words"`   // how things are, for people
}

// Sender carries a sign of life away from this machine. Send returns when it
// has been taken there, or why not; the caller logs that. A Beat
// may be sent twice.
type Sender interface {
	Send(ctx context.Context, b Beat) error
	// String names the sender in logs; it shows no secret.
	String() string
}

// HeartbeatOptions say what is sent and when. The zero value of a field means
// its default.
type HeartbeatOptions struct {
	Name    string        // of this watch, as others know it
	Every   time.Duration // default 1 min, at least 1 s
	Timeout time.Duration // of one attempt; default 10 s, at most Every
	Senders []Sender      // at least one
	Alive   Alive         // required: nothing is sent while it returns an error
	Words   func() string // how things are; nil: nothing is said
	Log     zerolog.Logger
}

// Heartbeat sends signs of life by every sender, each at its own pace, so that
// one that hangs does not hold up another.
type Heartbeat struct {
	opt   HeartbeatOptions
	paths []*path
}

// NewHeartbeat checks o. All problems are reported at once, joined.
func NewHeartbeat(o HeartbeatOptions) (*Heartbeat, error) {
	o.Every = cmp.Or(o.Every, time.Minute)
	if o.Timeout == 0 {
		o.Timeout = min(10*time.Second, o.Every)
	}
	if o.Words == nil {
		o.Words = func() string { return "" }
	}
	var errs []error
	if o.Every < time.Second || o.Timeout < 0 || o.Timeout > o.Every {
		errs = append(errs, fmt.Errorf("heartbeat every %v with at most %v for an attempt; want at least 1s, and the second not above the first", o.Every, o.Timeout))
	}
	if len(o.Senders) == 0 {
		errs = append(errs, errors.New("a heartbeat that is sent nowhere; want at least one sender"))
	}
	if o.Alive == nil {
		errs = append(errs, errors.New("a heartbeat without a proof of life; want Alive"))
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	h := &Heartbeat{opt: o}
	for _, s := range o.Senders {
		h.paths = append(h.paths, &path{opt: &h.opt, sender: s})
	}
	return h, nil
}

// Run sends at once and then at the given pace, until ctx ends. It then sends
// a last one that says stopping, waits for it at most the timeout, and returns
// nil.
func (h *Heartbeat) Run(ctx context.Context) error {
	var wg sync.WaitGroup
	for _, p := range h.paths {
		wg.Go(func() { p.run(ctx) })
	}
	wg.Wait()
	return nil
}

// path is one sender, and what is wrong with it.
type path struct {
	opt              *HeartbeatOptions
	sender           Sender
	withheld, failed cause
	why              string
}

func (p *path) run(ctx context.Context) {
	tick := time.Tick(p.opt.Every)
	for {
		p.beat(ctx, "alive")
		select {
		case <-tick:
		case <-ctx.Done():
			p.beat(context.WithoutCancel(ctx), "stopping")
			return
		}
	}
}

// beat sends one sign of life if the owner loop turns. The last one is sent
// also when the loop has already ended. One that is cut off because run ends
// is no failure of the receiver.
func (p *path) beat(run context.Context, state string) {
	if err := p.opt.Alive(); err != nil && state == "alive" {
		if p.withheld.begins() {
			p.opt.Log.Error().Err(err).Str("to", p.sender.String()).Msg("no sign of life is sent, so that others notice")
		}
		return
	}
	p.withheld.over()
	ctx, cancel := context.WithTimeout(run, p.opt.Timeout)
	defer cancel()
	err := p.sender.Send(ctx, Beat{Service: "telltale", Name: p.opt.Name, State: state, At: time.Now().UTC(),
		Every: p.opt.Every.Seconds(), Words: p.opt.Words()})
	if err != nil {
		if run.Err() == nil {
			p.fail(err)
		}
		return
	}
	if p.failed.over() {
		p.opt.Log.Info().Str("to", p.sender.String()).Msg("signs of life arrive again")
	}
}

// fail logs when the trouble is new or another than before.
func (p *path) fail(err error) {
	why := err.Error()
	if p.failed.begins() || why != p.why {
		p.opt.Log.Warn().Err(err).Str("to", p.sender.String()).Msg("a sign of life did not arrive")
	}
	p.why = why
}
