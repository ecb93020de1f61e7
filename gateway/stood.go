package gateway

import (
	"context"
	"sync"
	"time"

	"telltale/alarms"
)

// standing finds the spans in which the whole process stood still: the machine
// slept, or gave it no time. Only a span in which nothing of it moved counts;
// an owner that was held up by a disk reads what came meanwhile at its time.
type standing struct {
	now  func() time.Time // of the core
	mu   sync.Mutex
	last time.Time
	gaps []gap
}

type gap struct{ from, to time.Time }

const (
	stirEvery = time.Second      // real time between two signs of life of the process
	stillFor  = 10 * time.Second // without one: it stood still
)

// stir is a sign of life. It notes the span before it if that was too long.
func (s *standing) stir() {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.now()
	if !s.last.IsZero() && now.Sub(s.last) >= stillFor {
		s.gaps = append(s.gaps, gap{s.last, now})
	}
	s.last = now
}

// take returns the spans noted since it was last called.
func (s *standing) take() []gap {
	s.stir()
	s.mu.Lock()
	defer s.mu.Unlock()
	gaps := s.gaps
	s.gaps = nil
	return gaps
}

// run stirs until ctx ends.
func (s *standing) run(ctx context.Context) error {
	tick := time.NewTicker(stirEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
			s.stir()
		}
	}
}

// lookAtClocks tells the core what happened to time since the last turn: that
// the process stood still, and that the clock on the wall was set.
func (o *owner) lookAtClocks() {
	if o.still != nil {
		for _, g := range o.still.take() {
			o.log.Warn().Time("from", g.from).Dur("for", g.to.Sub(g.from)).Msg("the watch stood still")
			o.apply(alarms.Input{Kind: alarms.StoodStill, At: g.to, Since: g.from})
		}
	}
	if by := o.clock.step(); by != 0 {
		o.log.Warn().Dur("by", by).Msg("the clock was set")
		o.apply(alarms.Input{Kind: alarms.ClockStep, At: o.clock.Core(), Shift: by})
		o.clock.stepTaken(by)
	}
}
