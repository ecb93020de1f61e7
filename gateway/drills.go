package gateway

import (
	"context"
	"encoding/json"
	"slices"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/config"
	"telltale/gateway/drill"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// drilling is the drill at the start of a season, as the page sees it: package drill,
// with what it feels by, and what is kept of it.
type drilling struct {
	w     *watch
	ways  drill.Ways
	fails func() []string // channels that do
	notes *store.Notes
	log   zerolog.Logger
	steps []drill.Step

	mu    sync.Mutex
	state drill.State
}

const drillKept = "drill"

// feelEvery is, in real time, how often it is looked whether something is felt.
const feelEvery = time.Second

// openDrill takes up what was kept.
func (p *parts) openDrill() *drilling {
	d := &drilling{w: p.watch, fails: p.failing, notes: &p.store.Notes, log: p.logger("drill")}
	for _, ch := range p.cfg.Reach.Channels {
		switch {
		case ch.Rehearse:
		case ch.Kind == config.ByRing:
			d.ways.Rings = append(d.ways.Rings, ch.Name)
		case ch.Kind == config.ByMail, ch.Kind == config.ByPush, ch.Kind == config.ByWebhook:
			d.ways.Internet = append(d.ways.Internet, ch.Name)
		}
	}
	d.steps = drill.Steps(&p.watch.plan, d.ways)
	if err := recall(context.Background(), d.notes, drillKept, &d.state); err != nil {
		d.log.Error().Err(err).Msg("what was kept of the drill cannot be read; it begins anew")
		d.state = drill.State{}
	}
	p.drill = d
	return d
}

// failing are the channels that fail.
func (p *parts) failing() []string {
	var all []string
	for _, s := range p.worker.Stats() {
		if !s.FailingSince.IsZero() {
			all = append(all, s.Channel)
		}
	}
	return all
}

// run feels until ctx ends.
func (d *drilling) run(ctx context.Context) error {
	tick := time.NewTicker(feelEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
			d.feel(ctx)
		}
	}
}

// feel looks once. It asks for no picture while no step is being done.
func (d *drilling) feel(ctx context.Context) {
	d.mu.Lock()
	doing := d.state.Doing(d.steps)
	d.mu.Unlock()
	if len(doing) == 0 {
		return
	}
	see := d.sight()
	for _, m := range doing {
		if m.Test != "" {
			see.Tested[m.Test] = d.tested(ctx, m.Test)
		}
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.state.Feel(d.steps, see, d.ways) {
		d.warn(d.save(ctx))
	}
}

func (d *drilling) sight() drill.Sight {
	return drill.Sight{At: d.w.clock.Core(), Wall: d.w.Now(), Picture: d.w.Picture(), Failing: d.fails(), Tested: map[string][]drill.Sent{}}
}

// tested is what came of a test message so far; nothing where that cannot be read now.
func (d *drilling) tested(ctx context.Context, id string) []drill.Sent {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	all, err := d.w.Tested(ctx, id)
	if err != nil {
		return nil
	}
	return walk.Each(all, func(t service.Telling) drill.Sent {
		failed := t.Outcome == service.ToldFailed || t.Outcome == service.ToldUndelivered || t.Outcome == service.ToldGivenUp
		return drill.Sent{Channel: t.Channel, Went: t.Outcome.Went(), Failed: failed}
	})
}

// save keeps the state.
func (d *drilling) save(ctx context.Context) error {
	b, err := json.Marshal(d.state)
	if err != nil {
		return err
	}
	return d.notes.Keep(ctx, drillKept, string(b))
}

func (d *drilling) warn(err error) {
	if err != nil {
		d.log.Error().Err(err).Msg("how far the drill is could not be saved; it is lost with the next start")
	}
}

// change lets do change an open drill, and keeps what became of it. What cannot be kept
// goes on from memory.
func (d *drilling) change(ctx context.Context, do func() error) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := do(); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	d.warn(d.save(ctx))
	return nil
}

// Refusals of the drill.
const (
	noDrill     tongue.Text = "No drill is being done, so nothing was done. Begin one first."
	noDrillStep tongue.Text = "The drill has no such step any more, so nothing was done."
)

// Begin implements service.Drill.
func (d *drilling) Begin(ctx context.Context, by string) error {
	return d.change(ctx, func() error {
		if !d.state.Open { // else somebody was quicker
			d.state.Begin(d.w.Now(), by)
		}
		return nil
	})
}

// End implements service.Drill.
func (d *drilling) End(ctx context.Context, by string) error {
	return d.change(ctx, func() error {
		d.state.End(d.steps, d.w.Now(), by)
		return nil
	})
}

// step finds a step of an open drill.
func (d *drilling) step(id string) (drill.Step, error) {
	i := slices.IndexFunc(d.steps, func(s drill.Step) bool { return s.ID == id })
	switch {
	case !d.state.Open:
		return drill.Step{}, service.Refuse(noDrill)
	case i < 0:
		return drill.Step{}, service.Refuse(noDrillStep)
	}
	return d.steps[i], nil
}

// Now implements service.Drill.
func (d *drilling) Now(ctx context.Context, id string, send func(context.Context) (test string, err error)) error {
	d.mu.Lock()
	one, err := d.step(id)
	d.mu.Unlock()
	if err != nil {
		return err
	}
	see, test := d.sight(), ""
	if why := one.Cannot(see, d.ways); !why.Empty() {
		return service.Refusal{Saying: why}
	}
	if one.Sends() {
		if test, err = send(ctx); err != nil {
			return err
		}
	}
	return d.change(ctx, func() error {
		if _, err := d.step(id); err != nil { // it was ended meanwhile
			return err
		}
		d.state.Now(one, see.At, test)
		return nil
	})
}

// ByHand implements service.Drill.
func (d *drilling) ByHand(ctx context.Context, id, by string) error {
	return d.change(ctx, func() error {
		one, err := d.step(id)
		if err == nil {
			d.state.ByHand(one, d.w.Now(), by)
		}
		return err
	})
}

// Drill implements service.Drill.
func (d *drilling) Drill() service.DrillState {
	d.mu.Lock()
	defer d.mu.Unlock()
	s := service.DrillState{Begun: d.state.Begun, By: d.state.By, Open: d.state.Open}
	if l := d.state.Last; l != nil {
		s.Last = &service.DrillDone{At: l.At, By: l.By, Felt: l.Felt, Hand: l.Hand, Left: l.Left}
	}
	s.Steps = walk.Each(d.steps, func(one drill.Step) service.DrillStep {
		m := d.state.Marks[one.ID]
		return service.DrillStep{ID: one.ID, Kind: service.DrillKind(one.Kind), Of: one.Of, Place: one.Place, Feels: one.Within > 0, Every: one.Every,
			Doing: m.Now, At: m.At, Took: time.Duration(m.Took) * time.Second, Hand: m.Hand, By: m.By, Late: m.Late}
	})
	return s
}

var _ service.Drill = (*drilling)(nil)
