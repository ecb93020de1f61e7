package gateway

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/model"
	"telltale/gateway/trials"
)

// TestTheTrialNamesEveryKindOfFault looks at one known day for each.
func TestTheTrialNamesEveryKindOfFault(t *testing.T) {
	t.Parallel()
	tried := map[model.Kind]bool{}
	missed, slowest := 0, time.Duration(0)
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
		r, err := putOnTrial(t.Context(), trialOptions{Config: demoGarden(t), Days: 1, Seed: c.seed})
		ok(t, err)
		d := r.Faulty[0]
		if d.Kind != c.kind || !d.Right || d.As != c.as {
			missed++
			t.Errorf("seed %d: %s, knowable %s, named %s as %q; want %s named in time as %q", c.seed, d.Fault, d.Knowable, d.Named, d.As, c.kind, c.as)
		}
		if d.Knowable.Before(d.Began) || d.Knowable.After(d.Ended) {
			t.Errorf("seed %d: knowable at %s, outside the fault, %s to %s", c.seed, d.Knowable, d.Began, d.Ended)
		}
		slowest = max(slowest, d.Delay)
		for _, day := range []trialDay{d, r.Free[0]} {
			for _, a := range day.False {
				t.Errorf("seed %d: false at %s: %s", c.seed, a.At, a.Sentence)
			}
		}
	}
	for _, k := range trialKinds() {
		if !tried[k] {
			t.Errorf("no day with the fault %s is tried", k)
		}
	}
	trials.Report(t, fmt.Sprintf("%d days with a fault of the control, and as many without", len(tried)), trials.Lost(missed), trials.Told(slowest))
}

// Days on which the fan, the shutter and the heater come and go between two
// readings, or a fan goes over to its second speed, are called right.
func TestTheTrialFindsNothingWrongWhereReadingsAreFarApart(t *testing.T) {
	t.Parallel()
	gardens := map[string]bool{}
	for _, seed := range []uint64{15, 27, 36, 83, 99, 109} {
		r, err := putOnTrial(t.Context(), trialOptions{Config: demoGarden(t), Days: 1, Seed: seed})
		ok(t, err)
		gardens[r.Free[0].Garden] = true
		for _, day := range []trialDay{r.Faulty[0], r.Free[0]} {
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
	cfg := demoGarden(t)
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
	o := trialOptions{Config: cfg, Days: 1, Seed: 1, Kind: model.ShutterStuckOpen}
	r, err := putOnTrial(t.Context(), o)
	ok(t, err)
	if n, _ := falseAlarms(r.Free); n == 0 {
		t.Error("no false alarm, though the loop fan is judged by a dial 6 K too low")
	}
	again, err := putOnTrial(t.Context(), o)
	ok(t, err)
	if !reflect.DeepEqual(r, again) {
		t.Error("the same seed gave another result")
	}
}
