package gateway

import (
	"context"
	"sync"
	"time"

	"telltale/alarms/companion"
	"telltale/alarms/say"
	"telltale/gateway/config"
	"telltale/gateway/page/service"
)

// accompanied is what another watch, which accompanies this one, asks of it.
type accompanied struct {
	p *parts

	mu    sync.Mutex
	ever  bool      // it was heard, in some run
	began time.Time // of the core
	heard time.Time // of the core; zero: not in this run
}

// companionKept is under which the store has that a companion was heard.
const companionKept = "companion heard"

// openCompanion makes what a companion asks, where an account lets one in.
func (p *parts) openCompanion(Options) error {
	if err := p.openAccompanying(); err != nil {
		return err
	}
	for _, a := range p.cfg.Page.Accounts {
		if a.May == config.MayAccompany {
			p.accompanied = &accompanied{p: p}
		}
	}
	if p.accompanied == nil {
		return nil
	}
	kept, err := p.store.Notes.Kept(context.Background(), companionKept)
	if err != nil {
		p.log.Error().Err(err).Msg("whether a companion was heard before cannot be read")
	}
	p.accompanied.ever = kept != ""
	return nil
}

// hear notes a sign of life of the companion.
func (a *accompanied) hear() {
	now := a.p.clock.Core()
	a.mu.Lock()
	first := !a.ever
	a.ever, a.heard = true, now
	a.mu.Unlock()
	if !first {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	if err := a.p.store.Notes.Keep(ctx, companionKept, "yes"); err != nil {
		a.p.log.Warn().Err(err).Msg("that a companion was heard cannot be kept")
	}
}

// Report implements service.Companion.
func (a *accompanied) Report(echo string) companion.Report {
	a.hear()
	return a.report(echo)
}

func (a *accompanied) report(echo string) companion.Report {
	r := companion.Of(a.p.watch.fresh(), a.p.clock.Core(), a.p.box.heardOf)
	r.Garden, r.Program, r.Plan, r.Echo, r.Untold = a.p.garden, a.p.version, a.p.cfg.Shared.Version, echo, a.p.mute()
	if r.Untold == "" && a.p.cfg.Reach.Hearers() == 0 {
		r.Untold = "nobody is set up to be told"
	}
	return r
}

// Plan implements service.Companion.
func (a *accompanied) Plan() (text, version string) {
	s := a.p.cfg.Shared
	return string(s.Text), s.Version
}

// Act implements service.Companion.
func (a *accompanied) Act(ctx context.Context, act companion.Act) error {
	a.hear()
	in, err := act.Input()
	if err != nil {
		return err
	}
	return a.p.watch.Do(ctx, in)
}

// companionGone is how long a companion may be quiet: it is started again at times.
const companionGone = 5 * companion.GoneAfter

// trouble says that nothing is heard of the companion.
func (a *accompanied) trouble(now time.Time) (why string, known bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.began.IsZero() {
		a.began = now
	}
	last := service.Later(a.began, a.heard)
	if !a.ever {
		return "", true
	}
	if now.Sub(last) <= companionGone {
		return "", !a.heard.IsZero()
	}
	c := a.p.clock
	return say.Of(&a.p.cfg.Plan).Tongue.Say(unheardSince, say.Of(&a.p.cfg.Plan).Clock(c.Wall(last), c.Now())), true
}
