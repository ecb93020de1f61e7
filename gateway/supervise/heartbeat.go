package supervise

import (
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
// has been taken there, or why not; the caller counts and logs that. A Beat
// may be sent twice.
type Sender interface {
	Send(ctx context.Context, b Beat) error
	// String names the sender in logs and figures; it shows no secret.
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

// SenderStats are the counts of one sender since NewHeartbeat.
type SenderStats struct {
	Sender   string
	Sent     uint64
	Failed   uint64
	Withheld uint64    // not sent because the owner loop did not turn
	Last     time.Time // of the last one sent; zero: none yet
	Trouble  string    // why the last attempt failed; empty: it did not
}

// NewHeartbeat checks o. All problems are reported at once, joined.
func NewHeartbeat(o HeartbeatOptions) (*Heartbeat, error) {
	if o.Every == 0 {
		o.Every = time.Minute
	}
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
		h.paths = append(h.paths, &path{opt: &h.opt, sender: s, stats: SenderStats{Sender: s.String()}})
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

// Stats returns the counts of each sender, in the order of the options.
func (h *Heartbeat) Stats() []SenderStats {
	all := make([]SenderStats, len(h.paths))
	for i, p := range h.paths {
		all[i] = p.get()
	}
	return all
}

// path is one sender with its counts.
type path struct {
	opt    *HeartbeatOptions
	sender Sender

	mu    sync.Mutex
	stats SenderStats

	// Touched by run alone.
	withheld, failed cause
	why              string
}

func (p *path) get() SenderStats {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.stats
}

func (p *path) run(ctx context.Context) {
	tick := time.NewTicker(p.opt.Every)
	defer tick.Stop()
	for {
		p.beat(ctx, "alive")
		select {
		case <-tick.C:
		case <-ctx.Done():
			p.beat(context.WithoutCancel(ctx), "stopping")
			return
		}
	}
}

// beat sends one sign of life if the owner loop turns. The last one is sent
// also when the loop has already ended.
func (p *path) beat(ctx context.Context, state string) {
	if err := p.opt.Alive(); err != nil && state == "alive" {
		p.count(func(s *SenderStats) { s.Withheld++ })
		if p.withheld.begins() {
			p.opt.Log.Error().Err(err).Str("to", p.sender.String()).Msg("no sign of life is sent, so that others notice")
		}
		return
	}
	p.withheld.over()
	ctx, cancel := context.WithTimeout(ctx, p.opt.Timeout)
	defer cancel()
	now := time.Now()
	err := p.sender.Send(ctx, Beat{Service: "telltale", Name: p.opt.Name, State: state, At: now.UTC(),
		Every: p.opt.Every.Seconds(), Words: p.opt.Words()})
	if err != nil {
		p.fail(err)
		return
	}
	p.count(func(s *SenderStats) { s.Sent++; s.Last = now; s.Trouble = "" })
	if p.failed.over() {
		p.opt.Log.Info().Str("to", p.sender.String()).Msg("signs of life arrive again")
	}
}

// fail counts, and logs when the trouble is new or another than before.
func (p *path) fail(err error) {
	why := err.Error()
	p.count(func(s *SenderStats) { s.Failed++; s.Trouble = why })
	if p.failed.begins() || why != p.why {
		p.opt.Log.Warn().Err(err).Str("to", p.sender.String()).Msg("a sign of life did not arrive")
	}
	p.why = why
}

func (p *path) count(change func(*SenderStats)) {
	p.mu.Lock()
	defer p.mu.Unlock()
	change(&p.stats)
}
