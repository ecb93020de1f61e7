package gateway

import (
	"context"
	"sync"
	"time"

	"telltale/alarms/companion"
	"telltale/alarms/tongue"
	asking "telltale/gateway/companion"
	"telltale/gateway/config"
	"telltale/gateway/link"
	"telltale/gateway/page/service"
	"telltale/gateway/topic"
)

// accompanied is what another watch, which accompanies this one, asks of it.
type accompanied struct {
	p        *parts
	byBroker *asking.Answering

	mu    sync.Mutex
	ever  bool       // it was heard, in some run
	began time.Time  // of the core
	heard time.Time  // of the core; zero: not in this run
	state link.State // as a broker keeps it
}

// companionKept is under which the store has that a companion was heard.
const companionKept = "companion heard"

// openCompanion makes what a companion asks, where an account lets one in.
func (p *parts) openCompanion(Options) error {
	if err := p.openAccompanying(); err != nil {
		return err
	}
	var tokens []string
	for _, a := range p.cfg.Page.Accounts {
		if a.May == config.MayAccompany {
			tokens = append(tokens, a.Token.Reveal())
		}
	}
	if len(tokens) == 0 {
		return nil
	}
	a := &accompanied{p: p}
	var err error
	if a.byBroker, err = asking.NewAnswering(tokens, p.say, a.Report); err != nil {
		return err
	}
	p.accompanied = a
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
		r.Untold = tongue.Keep(nobodySetUp)
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
	return unheard(a.p.clock.Wall(last), a.state, ""), true
}

// say publishes at the broker of this watch.
func (p *parts) say(ctx context.Context, topic string, payload []byte) error {
	return p.link.Publish(ctx, topic, payload, 1, false)
}

// fellowTopics are those on which the other watch of the garden speaks.
func (p *parts) fellowTopics() []string {
	var all []string
	if p.accompanied != nil {
		all = append(all, asking.AskTopic, topic.Companion+topic.State)
	}
	if p.accompanying != nil {
		all = append(all, asking.ReportTopic, topic.Own+topic.State)
	}
	return all
}

// overhear takes what came on a topic of the other watch, or else of those who follow.
// It never blocks.
func (p *parts) overhear(name string, payload []byte) {
	switch {
	case name == asking.AskTopic && p.accompanied != nil:
		p.accompanied.byBroker.Heard(payload)
	case name == topic.Companion+topic.State && p.accompanied != nil:
		p.accompanied.left(link.StateIn(payload))
	case name == asking.ReportTopic && p.accompanying != nil:
		p.accompanying.overheard(payload)
	case name == topic.Own+topic.State && p.accompanying != nil:
		p.accompanying.left(link.StateIn(payload))
	default:
		p.hearForeign(name, payload)
	}
}

// left notes what a broker keeps of the companion.
func (a *accompanied) left(s link.State) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.state = s
}
