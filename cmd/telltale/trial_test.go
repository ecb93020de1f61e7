package main

import (
	"bytes"
	"os"
	"reflect"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/gateway"
	"telltale/gateway/config"
	"telltale/gateway/model"
)

func trialConfig(t *testing.T) *config.Config {
	t.Helper()
	cfg, problems := config.Parse("demo.toml", demoConfig, os.LookupEnv)
	ok(t, problems.Err())
	return cfg
}

// TestTheTrialNamesEveryKindOfFault looks at one known day for each.
func TestTheTrialNamesEveryKindOfFault(t *testing.T) {
	t.Parallel()
	tried := map[model.Kind]bool{}
	for _, c := range []struct {
		seed uint64
		kind model.Kind
		as   string
	}{
		{3, model.ShutterStuckOpen, "shutter open-unneeded"},
		{2, model.FanStuckOn, "exhaust ran-barred"},
		{4, model.HeaterDead, "warmth did-not-start"},
		{7, model.ShutterStuckClosed, "exhaust ran-alone"},
		{45, model.LoopFanDead, "loop stopped-early"},
		{22, model.BreakerTripped, "silent"},
		{47, model.DialDrifted, "drifted-on"},
		{129, model.FanDead, "exhaust did-not-start"},
	} {
		tried[c.kind] = true
		r, err := gateway.Trial(t.Context(), gateway.TrialOptions{Config: trialConfig(t), Days: 1, Seed: c.seed})
		ok(t, err)
		d := r.Faulty[0]
		if d.Kind != c.kind || !d.Right || d.As != c.as {
			t.Errorf("seed %d: %s, knowable %s, named %s as %q; want %s named in time as %q", c.seed, d.Fault, d.Knowable, d.Named, d.As, c.kind, c.as)
		}
		if d.Knowable.Before(d.Began) || d.Knowable.After(d.Ended) {
			t.Errorf("seed %d: knowable at %s, outside the fault, %s to %s", c.seed, d.Knowable, d.Began, d.Ended)
		}
		for _, day := range []gateway.TrialDay{d, r.Free[0]} {
			for _, a := range day.False {
				t.Errorf("seed %d: false at %s: %s", c.seed, a.At, a.Sentence)
			}
		}
	}
	for _, k := range gateway.TrialKinds() {
		if !tried[k] {
			t.Errorf("no day with the fault %s is tried", k)
		}
	}
}

// Days on which the fan, the shutter and the heater come and go between two
// readings, or a fan goes over to its second speed, are called right.
func TestTheTrialFindsNothingWrongWhereReadingsAreFarApart(t *testing.T) {
	t.Parallel()
	gardens := map[string]bool{}
	for _, seed := range []uint64{15, 27, 36, 83, 99, 109} {
		r, err := gateway.Trial(t.Context(), gateway.TrialOptions{Config: trialConfig(t), Days: 1, Seed: seed})
		ok(t, err)
		gardens[r.Free[0].Garden] = true
		for _, day := range []gateway.TrialDay{r.Faulty[0], r.Free[0]} {
			for _, a := range day.False {
				t.Errorf("seed %d, %s: false at %s: %s", seed, day.Garden, a.At, a.Sentence)
			}
		}
	}
	if len(gardens) < 4 {
		t.Errorf("only the gardens %v: they are all alike", gardens)
	}
}

// A trial must be able to fail: judged by a dial that is not the garden's, the
// right mechanism of a fault-free summer day is called wrong.
func TestTheTrialFindsFalseAlarms(t *testing.T) {
	t.Parallel()
	cfg := trialConfig(t)
	turned := false
	for i := range cfg.Plan.Houses {
		for j := range cfg.Plan.Houses[i].Controls {
			if c := &cfg.Plan.Houses[i].Controls[j]; c.ID == "loop-thermostat" {
				for k := range c.Stages {
					if c.Stages[k].Mode == alarms.Cooling {
						c.Stages[k].SetPoint, turned = 16, true
					}
				}
			}
		}
	}
	if !turned {
		t.Fatal("the demo has no thermostat of the loop fan to turn")
	}
	o := gateway.TrialOptions{Config: cfg, Days: 1, Seed: 1, Kind: model.ShutterStuckOpen}
	r, err := gateway.Trial(t.Context(), o)
	ok(t, err)
	if n, _ := gateway.FalseAlarms(r.Free); n == 0 {
		t.Error("no false alarm, though the loop fan is judged by a dial 6 K too low")
	}
	again, err := gateway.Trial(t.Context(), o)
	ok(t, err)
	if !reflect.DeepEqual(r, again) {
		t.Error("the same seed gave another result")
	}
}

func TestTrialPrintsItsTable(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	root := newRoot()
	root.SetOut(&out)
	root.SetArgs([]string{"trial", "--days", "1", "--seed", "1", "--fault", "loop-fan-dead", "--verbose"})
	ok(t, root.Execute())
	for _, want := range []string{"Seed 1, ", "loop-fan-dead long-house", "no fault.", "of 1 faults", "Days without a fault: 1;"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the output lacks %q:\n%s", want, out.String())
		}
	}
	root = newRoot()
	root.SetArgs([]string{"trial", "--fault", "probe-lost"})
	if err := root.Execute(); exitCode(err) != exitUsage {
		t.Errorf("a fault that no trial draws: %v, want a usage error", err)
	}
}
