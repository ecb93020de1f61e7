package gateway

import (
	"context"
	"encoding/json"
	"errors"
	"os"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/companion"
	asking "telltale/gateway/companion"
	"telltale/gateway/config"
	"telltale/gateway/link"
)

// accompanying follows the first watch of the garden: asks it how it is, takes over
// what people did there, gives it what they did here, and keeps a copy of its plan.
type accompanying struct {
	p        *parts
	set      *SetUp
	client   askedFirst
	byBroker *asking.Asking // where client gets no answer
	reports  chan answered  // that came by it
	log      zerolog.Logger

	asked atomic.Uint64 // questions that came to an end

	mu     sync.Mutex
	began  time.Time        // of the core
	heard  *companion.Heard // the newest report; nil: none yet
	fault  string           // why the last question got no answer
	old    string           // why the first's newer plan is not taken; "": it is
	spoilt string           // version of a plan that could not be taken
	again  time.Time        // of the core: when that is tried again
	kept   keptOfFirst
	broker link.State // as a broker keeps it
}

// answered is what the first said of itself, and when it was asked, by the core.
type answered struct {
	companion.Report
	from time.Time
}

// askedFirst is what is asked of the first watch.
type askedFirst interface {
	Report(context.Context) (companion.Report, error)
	Plan(context.Context) ([]byte, error)
	Give(context.Context, companion.Act) error
	Close()
}

// keptOfFirst is what a companion keeps.
type keptOfFirst struct {
	Followed companion.Followed `json:"followed"`
	Acts     []companion.Act    `json:"acts,omitempty"` // on their way to the first, oldest first
	Last     int                `json:"last,omitempty"` // ID of the newest act
}

const (
	firstKept = "first watch"
	mostActs  = 500              // on their way; beyond it the oldest are given up
	planAgain = 10 * time.Minute // of the core, between tries to take a plan that could not be taken
)

// openAccompanying makes what follows the first watch, where there is one.
func (p *parts) openAccompanying() error {
	c := p.cfg.Companion
	if c.First == "" {
		return nil
	}
	roots, err := rootsOf(c.CAFile)
	if err != nil {
		return err
	}
	a := &accompanying{p: p, log: p.logger("companion"), client: asking.New(asking.Options{First: c.First, Token: c.Token.Reveal(), Roots: roots}), reports: make(chan answered, 1)}
	if a.byBroker, err = asking.NewAsking(c.Token.Reveal(), p.say); err != nil {
		return err
	}
	if err := recall(context.Background(), &p.store.Notes, firstKept, &a.kept); err != nil {
		a.log.Error().Err(err).Msg("what was taken over from the first watch cannot be read; it is taken over anew")
	}
	p.accompanying = a
	return nil
}

// run asks until ctx ends.
func (a *accompanying) run(ctx context.Context) error {
	defer a.client.Close()
	every := time.Duration(float64(companion.AskEvery) / a.p.clock.Speed())
	tick := time.NewTicker(max(every, 20*time.Millisecond))
	defer tick.Stop()
	for {
		a.ask(ctx)
		a.asked.Add(1)
		select {
		case <-ctx.Done():
			return nil
		case r := <-a.reports:
			a.take(ctx, r, nil)
		case <-tick.C:
		}
	}
}

// ask has the first and this watch know of one another what is new.
func (a *accompanying) ask(ctx context.Context) {
	given := a.give(ctx)
	from := a.p.clock.Core()
	r, err := a.client.Report(ctx)
	if err == nil {
		a.fail("")
		a.take(ctx, answered{r, from}, given)
		return
	}
	if ctx.Err() == nil {
		a.fail(err.Error())
		_ = a.byBroker.Ask(ctx, from) // unanswered it is as if nothing had been asked
	}
}

// overheard takes what the first said over a broker. It never blocks.
func (a *accompanying) overheard(payload []byte) {
	if r, from, ok := a.byBroker.Heard(payload); ok {
		select {
		case a.reports <- answered{r, from}:
		default: // the next comes soon
		}
	}
}

// take takes over what the first said; given are the acts that it was given before.
func (a *accompanying) take(ctx context.Context, r answered, given map[int]bool) {
	own := a.p.watch.fresh()
	h := &companion.Heard{Report: r.Report, From: r.from, Deaf: r.Deaf(own.At.Sub(own.Newest), !own.Newest.IsZero())}
	a.mu.Lock()
	older := a.heard != nil && r.from.Before(a.heard.From) // it came round by the broker
	if !older {
		a.heard = h
	}
	a.mu.Unlock()
	if older {
		return
	}
	a.takePlan(ctx, r.Plan, r.from)
	if a.p.cfg.Watches() {
		a.follow(ctx, own, &r.Report, given)
	}
	a.p.owner.hub.notify()
}

// fail notes why the last question got no answer, "" if it got one.
func (a *accompanying) fail(why string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	switch {
	case why != "" && a.fault == "":
		a.log.Warn().Str("why", why).Msg("the first watch does not answer")
	case why == "" && (a.heard == nil || a.fault != ""):
		a.log.Info().Msg("the first watch answers")
	}
	a.fault = why
}

// give gives the first all that is on its way, and returns what was taken.
func (a *accompanying) give(ctx context.Context) (given map[int]bool) {
	a.mu.Lock()
	acts := slices.Clone(a.kept.Acts)
	a.mu.Unlock()
	given = map[int]bool{}
	for _, act := range acts {
		err := a.client.Give(ctx, act)
		switch {
		case errors.Is(err, asking.ErrRefused):
			a.log.Warn().Err(err).Str("act", act.Kind).Str("alarm", string(act.Alarm)).Msg("what somebody did here was not done there")
		case err != nil:
			return given
		}
		given[act.ID] = true
	}
	return given
}

// follow takes over what people did at the first, and strikes out what it knows.
func (a *accompanying) follow(ctx context.Context, own alarms.Picture, r *companion.Report, given map[int]bool) {
	a.mu.Lock()
	before := a.kept
	a.kept.Acts = slices.DeleteFunc(slices.Clone(before.Acts), func(act companion.Act) bool { return given[act.ID] && act.Done(own, r) })
	waiting := slices.Clone(a.kept.Acts)
	a.mu.Unlock()
	do, next := before.Followed.Follow(own, r, func(subject string) bool {
		return slices.ContainsFunc(waiting, func(act companion.Act) bool {
			in, err := act.Input()
			return err == nil && companion.Subject(in) == subject
		})
	})
	for _, in := range do {
		if _, err := a.p.watch.hand(ctx, in); err != nil {
			return // it is taken over next time
		}
	}
	a.mu.Lock()
	a.kept.Followed = next
	a.mu.Unlock()
	a.keep(before)
}

// keep keeps what was taken over, if that is another than before.
func (a *accompanying) keep(before keptOfFirst) {
	a.mu.Lock()
	was, _ := json.Marshal(before) // texts and numbers can always be written
	now, _ := json.Marshal(a.kept)
	a.mu.Unlock()
	if string(was) == string(now) {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	if err := a.p.store.Notes.Keep(ctx, firstKept, string(now)); err != nil {
		a.log.Error().Err(err).Msg("what is on its way to the first watch cannot be kept")
	}
}

// acted hears what somebody did here, with what came of it.
func (a *accompanying) acted(in alarms.Input, made []alarms.Transition) {
	if a == nil {
		return
	}
	var acts []companion.Act
	for _, one := range apart(in, made) {
		if act, ok := companion.ActOf(one); ok {
			acts = append(acts, act)
		}
	}
	if len(acts) == 0 {
		return
	}
	a.mu.Lock()
	before := a.kept
	a.kept.Acts = slices.Clone(before.Acts)
	for _, act := range acts {
		a.kept.Last++
		act.ID = a.kept.Last
		a.kept.Acts = append(a.kept.Acts, act)
	}
	a.kept.Acts = a.kept.Acts[max(0, len(a.kept.Acts)-mostActs):]
	a.mu.Unlock()
	a.keep(before)
}

// apart is what in did to each alarm; what the core refused is left out.
func apart(in alarms.Input, made []alarms.Transition) []alarms.Input {
	if in.Kind == alarms.Acknowledge {
		var all []alarms.Input
		for _, t := range made {
			if t.Move == alarms.Ack {
				one := in
				one.Alarm = t.Alarm
				all = append(all, one)
			}
		}
		return all
	}
	if in.Alarm != "" && !slices.ContainsFunc(made, func(t alarms.Transition) bool { return t.Alarm == in.Alarm && t.Move != alarms.Note }) {
		return nil
	}
	return []alarms.Input{in}
}

// takePlan fetches the plan of the first where it is another than that in force. One
// with which this watch could not run is not taken, and it says so.
func (a *accompanying) takePlan(ctx context.Context, version string, now time.Time) {
	c := a.p.cfg.Companion
	a.mu.Lock()
	if version == c.Plan {
		a.old = ""
	}
	wait := version == c.Plan || version == a.spoilt && now.Before(a.again)
	a.mu.Unlock()
	if wait || a.set == nil {
		return
	}
	err := a.fetch(ctx, c)
	a.mu.Lock()
	defer a.mu.Unlock()
	a.spoilt, a.again = version, now.Add(planAgain)
	if err != nil && ctx.Err() == nil {
		if a.old != err.Error() {
			a.log.Error().Err(err).Msg("the plan of the first watch cannot be taken; the older one stays in force")
		}
		a.old = err.Error()
	}
}

// fetch writes the first's plan beside the store, and has it taken by a reload.
func (a *accompanying) fetch(ctx context.Context, c config.Companion) error {
	text, err := a.client.Plan(ctx)
	if err != nil {
		return err
	}
	file, err := os.ReadFile(a.set.File)
	if err != nil {
		return err
	}
	next, problems := config.ParseEdited(a.set.File, file, a.set.Env, map[string]string{c.File: string(text)})
	switch {
	case next == nil:
		return problems.Errors()[0:1]
	case !next.Watches():
		return errors.New("it has no house")
	}
	if err := writePrivate(c.File, text); err != nil {
		return err
	}
	a.log.Info().Str("version", config.VersionOf(text)).Msg("the plan of the first watch was copied")
	a.set.Reload()
	return nil
}
