package engine_test

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// fanned is Long House with a thermostat, an exhaust fan shown by its current
// and a shutter shown by its end switch.
func fanned() alarms.Plan {
	p := longHouse()
	h := &p.Houses[0]
	h.Places[0].Bands = nil
	h.Places[0].Rates = nil
	h.Places = append(h.Places, alarms.Place{ID: "box", Probes: []alarms.Probe{
		{ID: "fan-clamp", Every: 30 * time.Second, Streams: []alarms.Stream{{Quantity: alarms.Current}}},
		{ID: "end-switch", Every: 30 * time.Second, Streams: []alarms.Stream{{Quantity: alarms.Contact}}},
	}})
	h.Controls = []alarms.Control{{ID: "thermostat", Place: "bench", Stages: []alarms.Stage{
		{SetPoint: 28, Drives: []alarms.DriveID{"exhaust-fan"}}}}}
	h.Drives = []alarms.Drive{
		{ID: "exhaust-fan", Kind: alarms.ExhaustFan, With: []alarms.DriveID{"intake-shutter"}, Priority: alarms.High,
			Evidence: []alarms.Evidence{{Probe: "fan-clamp", Quantity: alarms.Current, Above: alarms.At(0.1)}}},
		{ID: "intake-shutter", Kind: alarms.IntakeShutter,
			Evidence: []alarms.Evidence{{Probe: "end-switch", Quantity: alarms.Contact}}},
	}
	return p
}

// work reports temperature, current and shutter every 30 s for d.
func (r *run) work(celsius, amperes, open float64, d time.Duration) {
	for end := r.now.Add(d); r.now.Before(end); r.now = r.now.Add(30 * time.Second) {
		r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: celsius})
		r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Humidity, Value: 60})
		r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "fan-clamp", Quantity: alarms.Current, Value: amperes})
		r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "end-switch", Quantity: alarms.Contact, Value: open})
	}
}

func TestAFanThatIsCalledAndStandsIsTold(t *testing.T) {
	r := start(t, fanned())
	r.work(24, 0, 0, 20*time.Minute)
	r.work(32, 0, 0, 20*time.Minute)
	r.work(32, 0.33, 1, 5*time.Minute)
	r.work(22, 0, 0, 30*time.Minute)
	got := r.moves()
	for _, want := range []string{"raise:exhaust-fan/did-not-start", "return:exhaust-fan/did-not-start", "note:exhaust-fan/switching"} {
		if !strings.Contains(got, want) {
			t.Errorf("moves %s\nlack %s", got, want)
		}
	}
}

func TestSwitchingAsItShouldRaisesNothing(t *testing.T) {
	r := start(t, fanned())
	for range 5 {
		r.work(24, 0, 0, 20*time.Minute)
		r.work(30.5, 0, 0, time.Minute)
		r.work(30, 0.33, 1, 8*time.Minute)
		r.work(27, 0.33, 1, 4*time.Minute)
		r.work(23, 0, 0, 10*time.Minute)
	}
	for _, m := range r.all {
		if m.Move == alarms.Raise {
			t.Errorf("raised: %s", m.Sentence)
		}
	}
	snap, err := r.e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := engine.Restore(fanned(), snap); err != nil {
		t.Error(err)
	}
}

// What somebody tries on a drive ends within a day, and a restart forgets nothing of it.
func TestSomebodyTriesADrive(t *testing.T) {
	r := start(t, fanned())
	r.work(24, 0, 0, 20*time.Minute)
	try := alarms.Input{Kind: alarms.Shelve, Alarm: "long-house/exhaust-fan/switching", By: "Ada", Until: r.now.Add(25 * time.Hour)}
	r.step(try)
	if d := r.drive("exhaust-fan"); d.TrialBy != "" || !d.TrialUntil.IsZero() {
		t.Errorf("tried for 25 h: %+v", d)
	}
	try.Until = r.now.Add(time.Hour)
	r.step(try)
	r.underAnotherPlan(fanned())
	p := picture(r.e)
	if d := r.drive("exhaust-fan"); d.TrialBy != "Ada" || !d.TrialUntil.Equal(try.Until) || d.Trial != try.Alarm {
		t.Errorf("got %+v, want it tried by Ada until %s", d, try.Until)
	}
	if !strings.Contains(p.Sentence, "Ada is trying the exhaust fan of Long House until") {
		t.Errorf("the page says %q", p.Sentence)
	}
	r.work(34, 0, 0, 50*time.Minute)
	if got := r.moves(); strings.Contains(got, "raise:exhaust-fan/did-not-start") || !strings.Contains(got, "suppress:exhaust-fan/did-not-start") {
		t.Errorf("while it is tried: %s", got)
	}
	r.work(34, 0, 0, 20*time.Minute)
	if got := r.moves(); !strings.Contains(got, "release:exhaust-fan/did-not-start") {
		t.Errorf("after it: %s", got)
	}
}
