package gateway

import (
	"context"
	"errors"
	"time"

	"telltale/gateway/store/copies"
	"telltale/gateway/supervise"
)

// stuck is how long the owner may take for one turn before the watch counts
// as dead. A slow card may hold up a save for seconds, not for this long.
const stuck = 30 * time.Second

// stuckTelling is how long one telling may take before the watch counts as dead:
// longer than any limit of time that a channel can be given.
const stuckTelling = 15 * time.Minute

// alive is what earns a sign of life: the owner has got round in a time that
// moves, and what tells people is not stuck. Neither waits for the disk, the
// broker or the network, so a watch that has lost one of them lives: it says so
// and goes on. Nor is the writer asked, since a disk that hangs cannot be told
// from a writer that does.
func (p *parts) alive() error {
	if err := p.owner.pulse.Within(p.turnWithin)(); err != nil {
		return err
	}
	return p.worker.Stuck(p.tellWithin)
}

// afterBegin makes a run that begins with the owner's first turn: before, there
// is no life that could be shown. When even the first turn is stuck it begins
// all the same, to say so.
func afterBegin(begun <-chan struct{}, run func(context.Context) error) func(context.Context) error {
	return func(ctx context.Context) error {
		select {
		case <-begun:
		case <-time.After(stuck):
		case <-ctx.Done():
			return nil
		}
		return run(ctx)
	}
}

// openSigns makes the sign of life that leaves this machine.
func (p *parts) openSigns(Options) error {
	h := p.cfg.Heartbeat
	if !h.URL.Given() {
		return nil
	}
	sender, err := supervise.NewPostSender(h.URL.Reveal(), "", nil)
	if err != nil {
		return err
	}
	p.heartbeat, err = supervise.NewHeartbeat(supervise.HeartbeatOptions{
		Name: p.cfg.Page.Name, Every: h.Every, Senders: []supervise.Sender{sender}, Alive: p.alive,
		Words: func() string { return p.watch.Picture().Sentence }, Log: p.logger("heartbeat"),
	})
	return err
}

// openCopies makes what keeps copies of the store.
func (p *parts) openCopies(o Options) error {
	c := p.cfg.Copies
	if c.Directory == "" {
		return nil
	}
	p.keeper = &copies.Keeper{
		Source: CopySource(p.cfg), Target: copies.Target{Dir: c.Directory, Keep: c.Keep, Version: o.Version, Now: p.clock.Now},
		Every: c.Every, LateAfter: c.LateAfter, Core: p.clock.Core, Notes: &p.store.Notes, Log: p.logger("copies"),
	}
	return nil
}

// reportTo tells the service manager that the watch is up, how it is, and by
// its watchdog that the watch lives, until ctx ends.
func (p *parts) reportTo(m *supervise.Manager) func(context.Context) error {
	return func(ctx context.Context) error {
		p.warn(m.Ready(), "the service manager could not be told")
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		status := make(chan struct{})
		go func() { // waited for below
			defer close(status)
			p.showStatus(ctx, m)
		}()
		err := m.Run(ctx, p.alive)
		cancel()
		<-status
		return err
	}
}

// showStatus keeps the manager's one line up to date.
func (p *parts) showStatus(ctx context.Context, m *supervise.Manager) {
	news, end := p.watch.Subscribe()
	defer end()
	said := ""
	for {
		if now := p.watch.Picture().Sentence; now != said {
			p.warn(m.Status(now), "the service manager could not be told")
			said = now
		}
		select {
		case <-ctx.Done():
			return
		case <-news:
		}
		select { // a picture of a large garden is not for nothing
		case <-ctx.Done():
			return
		case <-time.After(statusEvery):
		}
	}
}

// statusEvery is how often that line may change.
const statusEvery = 5 * time.Second

func (p *parts) warn(err error, what string) {
	if err != nil && !errors.Is(err, context.Canceled) {
		p.log.Warn().Err(err).Msg(what)
	}
}
