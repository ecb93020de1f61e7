package gateway

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/gateway/link"
	"telltale/gateway/reach"
	"telltale/gateway/store"
	"telltale/gateway/supervise"
	"telltale/gateway/trials"
)

// put sets the wall clock of a stepped clock forward by d, or back.
func put(c *Clock, d time.Duration) { c.source.(*stepped).put.Add(int64(d)) }

// hot lets p's bench be far too hot for a minute, and returns the alarm
// that the store then holds.
func hot(t *testing.T, p *parts) alarms.Transition {
	t.Helper()
	o := p.owner
	for range 7 {
		o.lookAtClocks()
		o.message(link.Message{Topic: "g/p0", Payload: []byte("40.0"), Received: p.clock.Core()})
		p.clock.Step(10 * time.Second)
	}
	o.lookAtClocks()
	o.apply(alarms.Input{Kind: alarms.Tick, At: p.clock.Core()})
	o.settle()
	log, err := p.store.Log.Transitions(context.Background(), store.LogQuery{Alarm: benchHigh})
	ok(t, err)
	if len(log) != 1 {
		t.Fatalf("a minute of heat brought out %d moves of its alarm", len(log))
	}
	return log[0]
}

func TestHeatIsToldInItsTimeWhateverTheClockIsSetTo(t *testing.T) {
	t.Parallel()
	const told = time.Minute + 15*time.Second // the delay of high-high; a second reading has agreed by then
	for _, by := range []time.Duration{-3 * time.Hour, 3 * time.Hour, -56 * 365 * 24 * time.Hour, 12 * 365 * 24 * time.Hour} {
		p := still(t, t.TempDir(), victimStart)
		o := p.owner
		o.change(link.Change{At: victimStart, Up: true})
		o.message(link.Message{Topic: "g/p0", Payload: []byte("20.0"), Received: p.clock.Core()})
		p.clock.Step(time.Minute)
		put(p.clock, by)
		raised := hot(t, p)
		if want := victimStart.Add(told); !raised.Core.Equal(want) {
			t.Errorf("put by %v: raised at %s of the core's time, want %s", by, raised.Core, want)
		}
		if want := victimStart.Add(told + by); !raised.Due.Equal(want) {
			t.Errorf("put by %v: shown as of %s, want %s", by, raised.Due, want)
		}
		due, err := p.owner.box.Due(context.Background(), "slip", p.clock.Core(), 10)
		ok(t, err)
		if len(due) == 0 {
			t.Errorf("put by %v: nothing waits to be told", by)
		}
		trials.Report(t, fmt.Sprintf("the clock is put %s by %s as it gets too hot", map[bool]string{true: "forward", false: "back"}[by > 0], say.Locale{}.Span(by.Abs())), trials.Lost(max(0, 1-len(due))), trials.Told(raised.Core.Sub(victimStart.Add(time.Minute))))
		series, err := p.store.History.Readings(context.Background(), "p0", alarms.Temperature, p.clock.Now().Add(-time.Hour), p.clock.Now().Add(time.Hour), 100)
		ok(t, err)
		if len(series) != 7 {
			t.Errorf("put by %v: history has %d readings of the hour that the clock shows, want 7", by, len(series))
		}
	}
}

// rebuilt is the watch on dir again, on a clock that has gone on since, whose
// source is that of the machine's start named boot.
func rebuilt(t *testing.T, dir string, c *Clock, boot string) *parts {
	t.Helper()
	cfg, err := read(victimConfig, dir+"/store")
	ok(t, err)
	c.boot = boot
	p, err := build(Options{Config: cfg, Clock: c, Log: zerolog.Nop()})
	ok(t, err)
	p.owner.begin()
	return p
}

func ended(t *testing.T, p *parts) {
	t.Helper()
	ok(t, p.owner.finish())
	ok(t, p.page.Run(canceled()))
	ok(t, p.close())
}

// TestTimeAwayIsMeasuredWithinOneStartOfTheMachine stops the watch, sets the
// clock meanwhile, and starts it again; with and without a power-off.
func TestTimeAwayIsMeasuredWithinOneStartOfTheMachine(t *testing.T) {
	t.Parallel()
	const away = 20 * time.Minute
	year := 365 * 24 * time.Hour
	for name, c := range map[string]struct {
		by    time.Duration // how the clock was set meanwhile
		boot  string
		core  time.Duration // by which the core's time has gone on
		says  string
		steps string
	}{
		"nothing but away":          {0, "one", away, "was away", ""},
		"put back":                  {-3 * time.Hour, "one", away, "was away", "put back by 3 h"},
		"put forward by years":      {12 * year, "one", away, "was away", "put forward by 12 years"},
		"power off":                 {0, "two", away, "or the clock was set", ""},
		"power off, put forward":    {time.Hour, "two", away + time.Hour, "or the clock was set", ""},
		"power off, begins in 1970": {-56 * year, "two", 0, "", "put back by 56 years"},
	} {
		dir := t.TempDir()
		clock := NewSteppedClock(victimStart, 1)
		p := rebuilt(t, dir, clock, "one")
		p.owner.message(link.Message{Topic: "g/p0", Payload: []byte("20.0"), Received: clock.Core()})
		before := clock.Core()
		ended(t, p)
		clock.Step(away)
		put(clock, c.by)
		p = rebuilt(t, dir, clock, c.boot)
		if got := clock.Core().Sub(before); (got - c.core).Abs() > time.Millisecond {
			t.Errorf("%s: the core's time went on by %v, want %v", name, got, c.core)
		}
		if got := p.owner.engine.Wall(clock.Core()); got.Sub(clock.Now()).Abs() >= smallestStep {
			t.Errorf("%s: the core shows %s, the clock %s", name, got, clock.Now())
		}
		log, err := p.store.Log.Transitions(context.Background(), store.LogQuery{})
		ok(t, err)
		var said []string
		for _, tr := range log {
			said = append(said, tr.Sentence)
		}
		all := strings.Join(said, "\n")
		if !strings.Contains(all, c.says) || !strings.Contains(all, c.steps) || c.steps == "" && strings.Contains(all, "clock was put") ||
			c.says == "was away" && strings.Contains(all, "or the clock") {
			t.Errorf("%s: want %q and %q in\n%s", name, c.says, c.steps, all)
		}
		raised := hot(t, p)
		if delay := raised.Core.Sub(before.Add(c.core)); delay != 15*time.Second {
			t.Errorf("%s: the heat after the start was told after %v", name, delay)
		}
		ended(t, p)
	}
}

// TestWhatStoodStillIsNotSilence lets the process stand for an hour.
func TestWhatStoodStillIsNotSilence(t *testing.T) {
	t.Parallel()
	p := still(t, t.TempDir(), victimStart)
	o := p.owner
	o.still = &standing{now: p.clock.Core}
	o.change(link.Change{At: victimStart, Up: true})
	for range 30 {
		o.lookAtClocks()
		o.message(link.Message{Topic: "g/p0", Payload: []byte("20.0"), Received: p.clock.Core()})
		p.clock.Step(5 * time.Second)
	}
	p.clock.Step(time.Hour)
	o.lookAtClocks()
	o.apply(alarms.Input{Kind: alarms.Tick, At: p.clock.Core()})
	o.settle()
	log, err := p.store.Log.Transitions(context.Background(), store.LogQuery{})
	ok(t, err)
	if len(log) != 1 || !strings.Contains(log[0].Sentence, "The watch stood still from") || !strings.Contains(log[0].Sentence, "(1 h)") {
		t.Errorf("after an hour of standing still the log is %v", log)
	}
}

// TestABeatIsEarnedByTimeThatMoves lets the owner turn while its clock stands.
func TestABeatIsEarnedByTimeThatMoves(t *testing.T) {
	t.Parallel()
	p := still(t, t.TempDir(), victimStart)
	o := p.owner
	beats := func() bool {
		o.pulse = supervise.Pulse{}
		o.beatOn()
		return o.pulse.Within(time.Hour)() == nil
	}
	p.clock.Step(time.Second)
	o.apply(alarms.Input{Kind: alarms.Tick, At: p.clock.Core()})
	if !beats() {
		t.Error("no beat though the core's time has moved")
	}
	o.apply(alarms.Input{Kind: alarms.Tick, At: p.clock.Core()})
	if beats() {
		t.Error("a beat though the core's time stands")
	}
}

// TestNoStepOfTheClockHoldsAMessageBack retries a channel that failed while
// the clock is put back by a day.
func TestNoStepOfTheClockHoldsAMessageBack(t *testing.T) {
	t.Parallel()
	sh, box := newShelf(t)
	now := box.clock.Core()
	tr, rows := raisedRows(benchHigh, 1, now)
	ok(t, sh.Save([]alarms.Transition{tr}, slices.Clone(rows[:1])))
	box.clock.Step(time.Second)
	ok(t, box.Attempted(context.Background(), []reach.Attempt{{Row: rows[0].ID, Channel: "slip", Person: "grower",
		Began: box.clock.Core(), Ended: box.clock.Core(), Outcome: reach.Failed, Next: box.clock.Core().Add(time.Minute)}}))
	put(box.clock, -24*time.Hour)
	box.clock.stepTaken(box.clock.step())
	box.clock.Step(time.Minute)
	due, err := box.Due(context.Background(), "slip", box.clock.Core(), 10)
	ok(t, err)
	if len(due) != 1 || !due[0].First.Equal(now.Add(time.Second)) {
		t.Errorf("a minute after the failure %v is due", due)
	}
}

// slow is a clock beside which much passes between two looks.
type slow struct{ stepped }

func (s *slow) wall() time.Time {
	defer s.by.Add(int64(10 * time.Second))
	return s.stepped.wall()
}

// TestABusyMachineIsNoStepOfTheClock: between the looks at both times the
// machine did something else.
func TestABusyMachineIsNoStepOfTheClock(t *testing.T) {
	s := &slow{}
	s.start = victimStart
	c := newClock(s, 1, "")
	c.resume(s.start.Add(s.passed()), 0)
	if by := c.step(); by != 0 {
		t.Errorf("what passed between two looks counts as a step by %v", by)
	}
}
