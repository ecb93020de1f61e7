package model

import (
	"math"
	"os"
	"testing"

	"telltale/alarms"
	"telltale/gateway/config"
)

// dial is what can be read off a thermostat, and what it switches.
type dial struct {
	house        alarms.HouseID
	name         string
	set          float64 // °C: a cooling one switches on here, a heating one off
	differential float64 // K back to where it switches the other way
	heats        bool
	drives       []string
	evidence     []alarms.ProbeID // probes that show whether the drives run
}

// dials returns the thermostats of the garden that switch something.
func dials() []dial {
	long, low := longHouseControls(), lowHouseControls()
	fans := []alarms.ProbeID{"exhaust-fan-1", "shutter-1"}
	loop := []alarms.ProbeID{"loop-fan-1"}
	return []dial{
		long.cool.read("long-house", "cooling", []string{"exhaust fan", "intake shutter"}, fans),
		long.loopCool.read("long-house", "loop cooling", []string{"loop fan"}, loop),
		long.loopHeat.read("long-house", "loop heating", []string{"loop fan"}, loop),
		low.cool.read("low-house", "cooling", []string{"exhaust fan", "intake shutter"}, nil),
		low.heat.read("low-house", "heating", []string{"heater"}, []alarms.ProbeID{"heater-1"}),
	}
}

func (t thermostat) read(house alarms.HouseID, name string, drives []string, evidence []alarms.ProbeID) dial {
	return dial{house, name, t.dial, t.differential, t.heats, drives, evidence}
}

// What dials says is what the thermostats do, and its evidence exists.
func TestDials(t *testing.T) {
	for _, d := range dials() {
		th := thermostat{dial: d.set, differential: d.differential, heats: d.heats}
		th.feel(d.set)
		if th.on == d.heats || d.differential < 1 || d.differential > 4 || len(d.drives) == 0 {
			t.Errorf("%+v", d)
		}
		for _, id := range d.evidence {
			if s := specByID(t, id); s.House != d.house {
				t.Errorf("%s %s: evidence %s hangs in %s", d.house, d.name, id, s.House)
			}
		}
	}
}

// The demo's configuration must say of the thermostats what can be read off
// the simulated garden's dials, and name the probes that show the drives.
func TestDemoReadsTheDials(t *testing.T) {
	demo, err := os.ReadFile("../../cmd/telltale/demo.toml")
	if err != nil {
		t.Fatal(err)
	}
	cfg, problems := config.Parse("demo.toml", demo, os.LookupEnv)
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	for _, d := range dials() {
		house, stage := stageOf(cfg.Plan, d)
		if stage == nil {
			t.Errorf("%s: no stage of the demo works as the dial %q, set to %g °C with %g K", d.house, d.name, d.set, d.differential)
			continue
		}
		shown := evidenceOf(house, stage.Drives)
		for _, probe := range d.evidence {
			if !shown[probe] {
				t.Errorf("%s: probe %s shows what the dial %q drives, but the demo names it nowhere", d.house, probe, d.name)
			}
		}
	}
}

// stageOf finds the stage that a dial stands for: a heating one of the model
// switches off where it is set.
func stageOf(plan alarms.Plan, d dial) (*alarms.House, *alarms.Stage) {
	mode, on := alarms.Cooling, d.set
	if d.heats {
		mode, on = alarms.Heating, d.set-d.differential
	}
	for i := range plan.Houses {
		h := &plan.Houses[i]
		for _, c := range h.Controls {
			for j := range c.Stages {
				s := &c.Stages[j]
				if h.ID == d.house && s.Mode == mode && math.Abs(s.SetPoint-on) < 1e-9 && s.Differential == d.differential {
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
