package offline

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/rs/zerolog"
	"golang.org/x/sync/errgroup"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/model"
	"telltale/gateway/store"
)

// PastOptions say what past to play into a store that is new.
type PastOptions struct {
	Config *config.Config
	Sim    *model.Sim // as of the beginning
	From   time.Time
	To     time.Time
	// Fine is when it begins to be as fine as it is live. Before that it is coarse, so that
	// it is there soon: a probe sends every pastCoarse at most.
	Fine time.Time
	// Tends is asked now and then what somebody does on seeing the picture; it may be nil.
	Tends func(alarms.Picture) []alarms.Input
	Log   zerolog.Logger
}

const (
	pastSlice = 10 * time.Minute // of the garden's, after which somebody looks
	pastLay   = 24 * time.Hour   // of it, after which what was is laid down
	pastQueue = 8                // slices on their way

	pastCoarse = 2 * time.Minute
)

// slice is what the probes sent up to a moment.
type slice struct {
	to       time.Time
	messages []model.Published
}

// Past lets the garden live through a span as fast as it can, and leaves in the config's
// store what a watch would have: its readings and its log, and the state from which the
// watch goes on. It is decoded and judged by the code that does it live. Nobody is told.
func Past(ctx context.Context, o PastOptions) error {
	table, err := decode.New(o.Config.Sources)
	if err != nil {
		return err
	}
	e, err := engine.New(o.Config.Plan)
	if err != nil {
		return err
	}
	dir := o.Config.Store.Directory
	if _, err := os.Stat(dir); err == nil {
		return fmt.Errorf("a past is played into a new store alone, and there is %s already", dir)
	}
	s, err := store.Open(dir, store.Options{IDFile: o.Config.Store.IDFile, Log: o.Log})
	if err != nil {
		return err
	}
	p := &played{store: s, engine: e, table: table, tends: o.Tends, laid: o.From}
	g, ctx := errgroup.WithContext(ctx)
	slices := make(chan slice, pastQueue)
	g.Go(func() error {
		defer close(slices)
		o.Sim.Coarse(pastCoarse)
		defer o.Sim.Coarse(0)
		for at := o.From; at.Before(o.To); {
			if !at.Before(o.Fine) {
				o.Sim.Coarse(0)
			}
			at = at.Add(min(pastSlice, o.To.Sub(at)))
			select {
			case slices <- slice{at, o.Sim.Advance(at)}:
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	g.Go(func() error { return p.live(slices, o.From) })
	return errors.Join(g.Wait(), s.Close())
}

// played is a past that is being played.
type played struct {
	store  *store.Store
	engine *engine.Engine
	table  *decode.Table
	tends  func(alarms.Picture) []alarms.Input

	fresh []alarms.Transition // not yet saved
	laid  time.Time           // up to when all is laid down
}

// live judges what the probes send until they send no more.
func (p *played) live(slices <-chan slice, from time.Time) error {
	p.apply(alarms.Input{Kind: alarms.LinkUp, At: from})
	for s := range slices {
		for _, m := range s.messages {
			p.message(m)
		}
		p.apply(alarms.Input{Kind: alarms.Tick, At: s.to})
		if p.tends != nil {
			for _, in := range p.tends(p.engine.Picture()) {
				in.At = s.to
				p.apply(in)
			}
		}
		if s.to.Sub(p.laid) >= pastLay {
			if err := p.lay(s.to); err != nil {
				return err
			}
		}
	}
	return p.lay(p.engine.Now())
}

func (p *played) message(m model.Published) {
	problems := p.table.Decode(m.Topic, m.Payload, m.At, func(v decode.Value) {
		p.apply(alarms.Input{At: m.At, Kind: alarms.ReadingIn, Probe: v.Probe, Quantity: v.Quantity,
			Value: p.engine.Corrected(v.Probe, v.Quantity, v.Value), Measured: v.Measured})
	})
	for _, bad := range problems {
		for _, q := range bad.Quantities {
			p.apply(alarms.Input{At: m.At, Kind: alarms.GarbledIn, Probe: bad.Probe, Quantity: q, Note: bad.Detail})
		}
	}
}

func (p *played) apply(in alarms.Input) {
	p.store.Append(in)
	p.fresh = append(p.fresh, say.Step(p.engine, in)...)
}

// lay puts on the disk what was judged, and the state that it left.
func (p *played) lay(at time.Time) error {
	snapshot, err := p.engine.Snapshot()
	if err != nil {
		return err
	}
	if err := errors.Join(p.store.Save(p.fresh, nil), p.store.Checkpoint(snapshot)); err != nil {
		return err
	}
	if n := p.store.Stats().Dropped; n > 0 {
		return fmt.Errorf("%d readings of the past found no room in the journal", n)
	}
	p.fresh, p.laid = nil, at
	return nil
}
