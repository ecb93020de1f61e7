package gateway

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
	Clock *Clock // by which the garden lives; a stepped one is moved here
	Link  link.Options
	// Says is called with each event of the story as it happens; it may be nil.
	Says func(at time.Time, what string)
	// Events are the story's, by time since it began.
	Events []model.Event
	Start  time.Time // of the story
	End    time.Time // zero: never
	Log    zerolog.Logger
}

// pace is how often, in real time, the garden moves on.
const pace = 50 * time.Millisecond

// Simulate lets the simulated garden publish to a broker until ctx ends or the
// story is over. It keeps no message that the broker did not take: a real
// probe of the cheap kind does not either.
func Simulate(ctx context.Context, o SimulateOptions) error {
	l, err := link.New(o.Link)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return l.Run(ctx) })
	g.Go(func() error {
		defer cancel()
		return o.publish(ctx, l)
	})
	return g.Wait()
}

func (o *SimulateOptions) publish(ctx context.Context, l *link.Link) error {
	tick := time.NewTicker(pace)
	defer tick.Stop()
	said := 0
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
		o.Clock.Step(time.Duration(float64(pace) * o.Clock.Speed()))
		now := o.Clock.Now()
		messages := o.Sim.Advance(now)
		for ; said < len(o.Events) && !o.Start.Add(o.Events[said].After).After(now); said++ {
			if o.Says != nil {
				o.Says(o.Start.Add(o.Events[said].After), o.Events[said].Says)
			}
		}
		if o.Sim.BrokerUp() {
			for _, m := range messages {
				if err := l.Publish(ctx, m.Topic, m.Payload, 1, m.Retain); err != nil && !errors.Is(err, link.ErrDown) && ctx.Err() == nil {
					o.Log.Warn().Err(err).Str("topic", m.Topic).Msg("a message was not taken")
				}
			}
		}
		if !o.End.IsZero() && now.After(o.End) {
			return nil
		}
	}
}
