package engine_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// underAnotherPlan goes on with what r's engine knows under p.
func (r *run) underAnotherPlan(p alarms.Plan) {
	r.t.Helper()
	saved, err := r.e.Snapshot()
	if err != nil {
		r.t.Fatal(err)
	}
	if r.e, err = engine.Restore(p, saved); err != nil {
		r.t.Fatal(err)
	}
	r.all = nil
}

// withHeater is fanned with a heater that comes before the other drives.
func withHeater() alarms.Plan {
	p := fanned()
	h := &p.Houses[0]
	h.Drives = append([]alarms.Drive{{ID: "heater", Kind: alarms.Heater,
		Evidence: []alarms.Evidence{{Probe: "heater-clamp", Quantity: alarms.Current, Above: alarms.At(0.1)}}}}, h.Drives...)
	h.Controls[0].Stages = append(h.Controls[0].Stages, alarms.Stage{Mode: alarms.Heating, SetPoint: 8, Drives: []alarms.DriveID{"heater"}})
	h.Places[1].Probes = append(h.Places[1].Probes, alarms.Probe{ID: "heater-clamp", Streams: []alarms.Stream{{Quantity: alarms.Current}}})
	return p
}

func TestAVerdictStaysWithItsDriveUnderAnotherPlan(t *testing.T) {
	r := start(t, fanned())
	r.work(24, 0, 0, 20*time.Minute)
	r.work(32, 0, 1, 20*time.Minute)
	r.underAnotherPlan(withHeater())
	r.work(32, 0, 1, 5*time.Minute)
	if got := r.moves(); strings.Contains(got, "did-not-start") {
		t.Errorf("told again, or ended, by a plan with one more drive: %s", got)
	}
	r.work(32, 0.33, 1, 2*time.Minute)
	if got := r.moves(); !strings.Contains(got, "return:exhaust-fan/did-not-start") {
		t.Errorf("moves %s; the fan runs, so its verdict must end", got)
	}
}

func TestAVerdictThatAnotherPlanForgetsEnds(t *testing.T) {
	for name, change := range map[string]func(*alarms.House){
		"shown otherwise":    func(h *alarms.House) { h.Drives[0].Evidence = h.Drives[1].Evidence },
		"another stage":      func(h *alarms.House) { h.Controls[0].Stages[0].Name = "hot" },
		"barred this season": func(h *alarms.House) { h.Drives[0].Barred = []alarms.Season{alarms.SeasonOpen} },
	} {
		t.Run(name, func(t *testing.T) {
			r := start(t, fanned())
			r.work(24, 0, 0, 20*time.Minute)
			r.work(32, 0, 1, 20*time.Minute)
			p := fanned()
			change(&p.Houses[0])
			r.underAnotherPlan(p)
			r.underAnotherPlan(p) // what is to be told is not lost by a restart
			r.work(32, 0, 1, time.Minute)
			if got := r.moves(); !strings.Contains(got, "return:exhaust-fan/did-not-start") {
				t.Errorf("moves %s; nothing would ever end the verdict", got)
			}
			for _, m := range r.all {
				if strings.HasSuffix(m.ID, "#1") && strings.Contains(m.ID, "did-not-start") {
					t.Errorf("%s: the count of transitions began anew", m.ID)
				}
			}
		})
	}
}

func TestANewThermostatInAnotherPlanHasItsMidnight(t *testing.T) {
	p := fanned()
	p.Houses[0].Controls, p.Houses[0].Drives = nil, nil
	r := start(t, p)
	r.work(24, 0, 0, time.Minute)
	p = fanned()
	p.Houses[0].Drives[0].Start = time.Hour // so that only the day's end says it
	r.underAnotherPlan(p)
	r.work(32, 0, 1, 50*time.Minute)
	r.work(24, 0, 1, 12*time.Hour)
	if got := r.moves(); !strings.Contains(got, "raise:exhaust-fan/never-ran") {
		t.Errorf("moves %s; called for long and never ran that day", got)
	}
}

// A humidistat that comes to be named before the thermostat takes no degrees for per
// cent, and a verdict stays with the stage that it is by.
func TestWhatIsFeltStaysWithItsBulbUnderAnotherPlan(t *testing.T) {
	plan := func(first bool) alarms.Plan {
		p := fanned()
		h := &p.Houses[0]
		damp := alarms.Control{ID: "damp", Name: "humidistat", Place: h.Controls[0].Place, Stages: []alarms.Stage{
			{Mode: alarms.Drying, SetPoint: 85, Drives: []alarms.DriveID{"exhaust-fan"}}}}
		if h.Controls = append(h.Controls, damp); first {
			slices.Reverse(h.Controls)
		}
		return p
	}
	r := start(t, plan(false))
	r.work(24, 0, 0, 20*time.Minute)
	r.work(32, 0, 1, 20*time.Minute)
	r.underAnotherPlan(plan(true))
	r.underAnotherPlan(plan(true))
	if d := r.drive("exhaust-fan"); !strings.Contains(d.Sentence, "(32.0 °C), and it is 32.0 °C") {
		t.Errorf("the drive says %q", d.Sentence)
	}
	r.work(32, 0, 1, 20*time.Minute)
	if got := r.moves(); strings.Contains(got, "raise:exhaust-fan/did-not-start") || strings.Contains(got, "return:exhaust-fan/did-not-start") {
		t.Errorf("told again, or ended, by another order of the thermostats: %s", got)
	}
	r.work(32, 0.33, 1, 2*time.Minute)
	if got := r.moves(); !strings.Contains(got, "return:exhaust-fan/did-not-start") {
		t.Errorf("moves %s", got)
	}
}
