package say_test

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
)

// A sentence comes in both units of temperature; a difference has no offset:
// 1 K is 1.8 °F (NIST SP 811, table 9, from memory).
func TestSentencesComeInBothUnits(t *testing.T) {
	plan := alarms.Plan{Words: alarms.Words{Zone: time.UTC}, Houses: []alarms.House{{ID: "long-house", Name: "Long House",
		Places: []alarms.Place{{ID: "bench", Name: "bench",
			Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(30)}}},
			Probes: []alarms.Probe{{ID: "bench-1", Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}}}}}}
	e, err := engine.New(plan)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC)
	var raised []alarms.Transition
	for i := range 10 {
		now := at.Add(time.Duration(i) * 30 * time.Second)
		for _, tr := range step(e, alarms.Input{At: now, Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: 35 + float64(i%2)/50}) {
			if tr.Move == alarms.Raise && tr.Reason.Rule == alarms.RuleLimit {
				raised = append(raised, tr)
			}
		}
	}
	if len(raised) != 1 {
		t.Fatalf("got %d alarms, want one", len(raised))
	}
	has := func(what, sentence string, wants ...string) {
		t.Helper()
		for _, want := range wants {
			if !strings.Contains(sentence, want) {
				t.Errorf("%s: %q does not say %q", what, sentence, want)
			}
		}
	}
	other := say.Transition(e.Plan(), &raised[0], say.Locale{Fahrenheit: true, Zone: time.UTC})
	has("in °C", raised[0].Sentence, "35.0 °C", "30.0 °C")
	has("in °F", other, "95.0 °F", "86.0 °F")
	if strings.Contains(other, "°C") {
		t.Errorf("both units in %q", other)
	}
	for _, stage := range []string{"live", "restored"} {
		has(stage+" picture in °C", seenIn(e, false).Alarms[0].Sentence, "35.0 °C")
		has(stage+" picture in °F", seenIn(e, true).Alarms[0].Sentence, "95.0 °F")
		has(stage+" picture as the plan says", seen(e).Alarms[0].Sentence, "35.0 °C")
		snap, err := e.Snapshot()
		if err != nil {
			t.Fatal(err)
		}
		if e, err = engine.Restore(plan, snap); err != nil {
			t.Fatal(err)
		}
	}
}
