package gateway

import (
	"context"
	"sync"
	"sync/atomic"
	"time"

	"telltale/alarms"
	"telltale/gateway/supervise"
)

// Clock has both times by which a watch lives. Core is that of the core: it
// only moves forward and never stands, not even while the machine sleeps, and
// no step of the clock on the wall touches it. Now is what that clock shows.
// Either runs with the machine, or Speed times as fast from a start of its
// own, or moves by Step alone. It may be used by all at once.
type Clock struct {
	source source
	speed  float64
	boot   string       // names the run of source.passed; "": another each time
	base   atomic.Int64 // Core when nothing had passed, ns since the Unix epoch
	ahead  atomic.Int64 // of the wall clock, as far as the core was told; ns
}

// source is where a clock gets its times from.
type source interface {
	// passed never goes back and never stands.
	passed() time.Duration
	wall() time.Time
}

// newRealClock returns the clock of this machine.
func newRealClock() *Clock {
	var s source = machine{}
	boot := supervise.BootID()
	if _, err := supervise.SinceBoot(); err != nil {
		s, boot = &fast{begin: time.Now(), start: time.Now(), speed: 1, real: true}, ""
	}
	return newClock(s, 1, boot)
}

// NewClock returns a clock that shows start now and runs speed times as fast
// as real time.
func NewClock(start time.Time, speed float64) *Clock {
	return newClock(&fast{begin: time.Now(), start: start, speed: speed}, speed, "")
}

// NewSteppedClock returns a clock that shows start and moves by Step alone,
// about speed times as fast as real time. On a busy machine it waits for
// whoever moves it, where fast time would run away.
func NewSteppedClock(start time.Time, speed float64) *Clock {
	return newClock(&stepped{start: start}, speed, "")
}

func newClock(s source, speed float64, boot string) *Clock {
	c := &Clock{source: s, speed: speed, boot: boot}
	c.base.Store(s.wall().UnixNano() - int64(s.passed()))
	return c
}

// Core returns the time of the core.
func (c *Clock) Core() time.Time {
	return time.Unix(0, c.base.Load()+int64(c.source.passed())).UTC()
}

// Now returns what the clock on the wall shows.
func (c *Clock) Now() time.Time { return c.source.wall() }

// Wall returns what that clock shows at a time of the core.
func (c *Clock) Wall(core time.Time) time.Time {
	if core.IsZero() {
		return core
	}
	return core.Add(time.Duration(c.ahead.Load()))
}

// coreAt returns the time of the core at which the clock on the wall shows t.
func (c *Clock) coreAt(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return t.Add(-time.Duration(c.ahead.Load()))
}

// resume lets Core go on from t, at which the wall clock was ahead by so much.
func (c *Clock) resume(t time.Time, ahead time.Duration) {
	c.base.Store(t.UnixNano() - int64(c.source.passed()))
	c.ahead.Store(int64(ahead))
}

// smallestStep is what the wall clock must differ from what is awaited before
// that counts as a step: less is how machines keep time.
const smallestStep = 2 * time.Second

// step returns how far the wall clock was put forward, or back, since the core
// was told last. Whatever passes between two looks, because the machine was
// busy, is no step: then it is left to the next turn.
func (c *Clock) step() time.Duration {
	before, wall := c.Core(), c.Now()
	core := c.Core()
	by := wall.Sub(c.Wall(core))
	if core.Sub(before) >= smallestStep/2 || by.Abs() < smallestStep {
		return 0
	}
	return by.Truncate(time.Millisecond)
}

// stepTaken notes that the core was told of a step.
func (c *Clock) stepTaken(by time.Duration) { c.ahead.Add(int64(by)) }

// real reports whether c goes with this machine, and may be left standing by it.
func (c *Clock) real() bool { _, ok := c.source.(machine); return ok }

// Step moves a stepped clock on by d. It does nothing to another one.
func (c *Clock) Step(d time.Duration) {
	if s, ok := c.source.(*stepped); ok {
		s.by.Add(int64(d))
	}
}

// Speed returns how many seconds of c pass in a real one.
func (c *Clock) Speed() float64 { return c.speed }

// machine is the time of this machine.
type machine struct{}

func (machine) wall() time.Time { return time.Now().Round(0) } // without the monotonic part

func (machine) passed() time.Duration {
	d, err := supervise.SinceBoot()
	if err != nil { // it was read once, and cannot fail from then on
		panic("gateway: " + err.Error())
	}
	return d
}

// fast is time that runs speed times as fast as real time from a start.
type fast struct {
	begin, start time.Time
	speed        float64
	real         bool // the wall clock is that of the machine
}

func (f *fast) passed() time.Duration {
	return time.Duration(float64(time.Since(f.begin)) * f.speed)
}

func (f *fast) wall() time.Time {
	if f.real {
		return time.Now().Round(0)
	}
	return f.start.Add(f.passed())
}

// stepped is time that is moved by hand; so may be its wall clock alone.
type stepped struct {
	start time.Time
	by    atomic.Int64 // ns since start
	put   atomic.Int64 // ns by which the wall clock was put forward
}

func (s *stepped) passed() time.Duration { return time.Duration(s.by.Load()) }
func (s *stepped) wall() time.Time {
	return s.start.Add(time.Duration(s.by.Load() + s.put.Load()))
}

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
	stirEvery = 3 * time.Second  // real time between two signs of life of the process
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
	tick := time.Tick(stirEvery)
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick:
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
