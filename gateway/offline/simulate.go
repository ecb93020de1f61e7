package offline

import (
	"context"
	"errors"
	"time"

	"github.com/rs/zerolog"
	"golang.org/x/sync/errgroup"

	"telltale/gateway/link"
	"telltale/gateway/model"
)

// SimulateOptions say how the simulated garden publishes.
type SimulateOptions struct {
	Sim   *model.Sim
	Clock Clock // by which the garden lives
	Link  link.Options
	// Says is called with each event of the story as it happens; it may be nil.
	Says func(at time.Time, what string)
	// Heard is when the watch last heard anything, by the garden's clock; zero: nothing
	// yet. Where it falls behind, as on a slow machine, the garden waits for it for a
	// while, or it would find probes silent that are not. It may be nil.
	Heard func() time.Time
	// Events are the story's, by time since it began.
	Events []model.Event
	Start  time.Time // of the story
	End    time.Time // zero: never
	Log    zerolog.Logger

	waited int // paces in a row
	done   Simulated
}

// Simulated is what came of it.
type Simulated struct {
	From, To    time.Time // by the garden's clock
	Taken, Lost int       // messages that the broker took, and that it did not
}

// Clock is what the garden needs of its clock.
type Clock interface {
	Now() time.Time
	Speed() float64        // how many times as fast as real time it goes
	Step(by time.Duration) // moves it, if it stands unless it is moved
}

const (
	pace      = 50 * time.Millisecond // of real time, in which the garden moves on
	behind    = 3 * time.Minute       // of its own, after which it waits for the watch
	mostWaits = 100                   // paces
)

// Simulate lets the simulated garden publish to a broker until ctx ends or the
// story is over. It keeps no message that the broker did not take: a real
// probe of the cheap kind does not either.
func Simulate(ctx context.Context, o SimulateOptions) (Simulated, error) {
	l, err := link.New(o.Link)
	if err != nil {
		return Simulated{}, err
	}
	o.done.From = o.Clock.Now()
	o.done.To = o.done.From
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return l.Run(ctx) })
	g.Go(func() error {
		defer cancel()
		return o.publish(ctx, l)
	})
	err = g.Wait()
	return o.done, err
}

func (o *SimulateOptions) publish(ctx context.Context, l *link.Link) error {
	tick := time.Tick(pace)
	said := 0
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick:
		}
		if o.waits() {
			continue
		}
		o.Clock.Step(time.Duration(float64(pace) * o.Clock.Speed()))
		now := o.Clock.Now()
		o.done.To = now
		messages := o.Sim.Advance(now)
		for ; said < len(o.Events) && !o.Start.Add(o.Events[said].After).After(now); said++ {
			if o.Says != nil {
				o.Says(o.Start.Add(o.Events[said].After), o.Events[said].Says)
			}
		}
		if o.Sim.BrokerUp() {
			for _, m := range messages {
				err := l.Publish(ctx, m.Topic, m.Payload, 1, m.Retain)
				if err != nil {
					o.done.Lost++
				} else {
					o.done.Taken++
				}
				if err != nil && !errors.Is(err, link.ErrDown) && ctx.Err() == nil {
					o.Log.Warn().Err(err).Str("topic", m.Topic).Msg("a message was not taken")
				}
			}
		}
		if !o.End.IsZero() && now.After(o.End) {
			return nil
		}
	}
}

// waits reports whether the garden stands still for this pace, as the watch has fallen
// behind. It does not wait for ever: nothing may be heard for other reasons.
func (o *SimulateOptions) waits() bool {
	if o.Heard == nil {
		return false
	}
	heard := o.Heard()
	if heard.IsZero() || o.Clock.Now().Sub(heard) <= behind {
		o.waited = 0
		return false
	}
	o.waited++
	return o.waited <= mostWaits
}
