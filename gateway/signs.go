package gateway

import (
	"context"
	"errors"
	"time"

	"telltale/gateway/supervise"
)

// stuck is how long the owner may take for one turn before the watch counts
// as dead. A slow card may hold up a save for seconds, not for this long.
const stuck = 30 * time.Second

// afterBegin makes a run that begins with the owner's first turn: before, there
// is no life that could be shown. When even the first turn is stuck it begins
// all the same, to say so.
func afterBegin(begun <-chan struct{}, run func(context.Context) error) func(context.Context) error {
	return func(ctx context.Context) error {
		late := time.NewTimer(stuck)
		defer late.Stop()
		select {
		case <-begun:
		case <-late.C:
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
		Name: p.cfg.Page.Name, Every: h.Every, Senders: []supervise.Sender{sender}, Alive: p.owner.pulse.Within(stuck),
		Words: func() string { return p.watch.Picture().Sentence }, Log: p.logger("heartbeat"),
	})
	return err
}

// reportTo tells the service manager that the watch is up, how it is, and by
// its watchdog that the owner turns, until ctx ends.
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
		err := m.Run(ctx, p.owner.pulse.Within(stuck))
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
	}
}

func (p *parts) warn(err error, what string) {
	if err != nil && !errors.Is(err, context.Canceled) {
		p.log.Warn().Err(err).Msg(what)
	}
}
