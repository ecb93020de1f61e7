package gateway

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/modem/sim"
	"telltale/gateway/page/service"
)

// drillStep is a step of the drill as the page shows it.
func drillStep(t *testing.T, p *parts, id string) service.DrillStep {
	t.Helper()
	for _, one := range p.drill.Drill().Steps {
		if one.ID == id {
			return one
		}
	}
	t.Fatalf("there is no step %s in %+v", id, p.drill.Drill().Steps)
	return service.DrillStep{}
}

// A probe in the hand, one whose plug is pulled, a telephone that rings and a message that
// does not get out are felt by a watch that runs; what was ticked off outlives it.
func TestADrillIsFelt(t *testing.T) {
	t.Parallel()
	g := withModem(t, sim.Options{Network: 1, Signal: 17})
	ctx := context.Background()
	var refused service.Refusal
	if err := g.drill.Now(ctx, "warm/bench-1", testsAll(g.watch)); !errors.As(err, &refused) {
		t.Errorf("before it is begun: %v", err)
	}
	ok(t, g.drill.Begin(ctx, "Ada"))
	if err := g.drill.Now(ctx, "warm/bench-1", testsAll(g.watch)); !errors.As(err, &refused) {
		t.Errorf("of a probe that was never heard: %v", err)
	}
	warm := func(v string) {
		g.send("g/bench", v)
		await(t, "the page shows "+v, func() bool {
			pr := g.watch.Picture().Houses[0].Places[0].Probes[0]
			return len(pr.Values) > 0 && fmt.Sprintf("%.1f", pr.Values[0].Value) == v
		})
	}
	warm("20.0")
	ok(t, g.drill.Now(ctx, "warm/bench-1", testsAll(g.watch)))
	await(t, "the drill has seen how cold it is", func() bool {
		g.drill.mu.Lock()
		defer g.drill.mu.Unlock()
		return g.drill.state.Marks["warm/bench-1"].Low != nil
	})
	warm("21.9")
	warm("22.0")
	await(t, "it is felt that the probe is warm", func() bool { return !drillStep(t, g.parts, "warm/bench-1").At.IsZero() })
	ok(t, g.drill.Now(ctx, "ring", testsAll(g.watch)))
	await(t, "it is felt that a telephone rings", func() bool { return !drillStep(t, g.parts, "ring").At.IsZero() })
	if one := drillStep(t, g.parts, "ring"); one.Hand || one.Doing {
		t.Errorf("the telephone: %+v", one)
	}
	ok(t, g.drill.ByHand(ctx, "covers/long-house", "Ann"))
	ok(t, g.drill.End(ctx, "Ada"))
	if l := g.drill.Drill().Last; l == nil || l.Felt != 2 || l.Hand != 1 {
		t.Errorf("it ended as %+v", l)
	}
}

// What is being done goes on after a start, under another config too.
func TestADrillOutlivesTheWatch(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	c, err := read(drillConfig(), filepath.Join(dir, "store"))
	ok(t, err)
	p, _, stop := running(t, c)
	ok(t, p.drill.Begin(context.Background(), "Ada"))
	ok(t, p.drill.ByHand(context.Background(), "covers/long-house", "Ann"))
	stop()
	c, err = read(drillConfig(), filepath.Join(dir, "store"))
	ok(t, err)
	p, at, stop := running(t, c)
	if s := p.drill.Drill(); !s.Open || s.By != "Ada" || !drillStep(t, p, "covers/long-house").Hand {
		t.Errorf("after a start it is %+v", s)
	}
	probe := dial(t, at.Broker, at.User, at.Password)
	await(t, "somebody is about to pull its plug while it is heard", func() bool { // as often as it takes on a slow machine
		if token := probe.Publish("g/bench", 1, false, "20"); !token.WaitTimeout(5*time.Minute) || token.Error() != nil {
			t.Fatal(token.Error())
		}
		return p.drill.Now(context.Background(), "unplug/bench-1", testsAll(p.watch)) == nil
	})
	await(t, "it is felt that the probe is gone", func() bool { return !drillStep(t, p, "unplug/bench-1").At.IsZero() })
	if one := drillStep(t, p, "unplug/bench-1"); one.Hand || one.Late {
		t.Errorf("the plug: %+v", one)
	}
	if s := stateOf(p.watch.Picture(), "long-house/bench/unwatched"); s != alarms.Unacknowledged {
		t.Errorf("meanwhile nobody is told: %v", s)
	}
	stop()
}

// drillConfig is the garden of the leaves, with a probe that is soon missed.
func drillConfig() string {
	return strings.NewReplacer(`"10m"`, `"2s"`, "PEOPLE", "\n[person.ada]\nchannels = [\"run\"]\n[[tell]]\npeople = [\"ada\"]\n").Replace(leaveConfig)
}

// testsAll tries every way, as the page does.
func testsAll(w *watch) func(context.Context) (string, error) {
	return func(ctx context.Context) (string, error) { return w.TestMessage(ctx, "") }
}
