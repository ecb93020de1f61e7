package main

import (
	"math"
	"os"
	"testing"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/model"
)

// The demo's configuration must say of the thermostats what can be read off
// the simulated garden's dials, and name the probes that show the drives.
func TestDemoReadsTheDials(t *testing.T) {
	cfg, problems := config.Parse("demo.toml", demoConfig, os.LookupEnv)
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	for _, d := range model.Dials() {
		house, stage := stageOf(cfg.Plan, d)
		if stage == nil {
			t.Errorf("%s: no stage of the demo works as the dial %q, set to %g °C with %g K", d.House, d.Name, d.Set, d.Differential)
			continue
		}
		shown := evidenceOf(house, stage.Drives)
		for _, probe := range d.Evidence {
			if !shown[probe] {
				t.Errorf("%s: probe %s shows what the dial %q drives, but the demo names it nowhere", d.House, probe, d.Name)
			}
		}
	}
}

// stageOf finds the stage that a dial stands for: a heating one of the model
// switches off where it is set.
func stageOf(plan alarms.Plan, d model.Dial) (*alarms.House, *alarms.Stage) {
	mode, on := alarms.Cooling, d.Set
	if d.Heats {
		mode, on = alarms.Heating, d.Set-d.Differential
	}
	for i := range plan.Houses {
		h := &plan.Houses[i]
		for _, c := range h.Controls {
			for j := range c.Stages {
				s := &c.Stages[j]
				if h.ID == d.House && s.Mode == mode && math.Abs(s.SetPoint-on) < 1e-9 && s.Differential == d.Differential {
					return h, s
				}
			}
		}
	}
	return nil, nil
}

// evidenceOf gathers the probes that show the drives and what runs with them.
func evidenceOf(h *alarms.House, ids []alarms.DriveID) map[alarms.ProbeID]bool {
	out := map[alarms.ProbeID]bool{}
	for _, id := range ids {
		for _, d := range h.Drives {
			if d.ID != id {
				continue
			}
			for _, e := range d.Evidence {
				out[e.Probe] = true
			}
			for probe := range evidenceOf(h, d.With) {
				out[probe] = true
			}
		}
	}
	return out
}
