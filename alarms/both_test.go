package alarms

import (
	"strings"
	"testing"
	"time"
)

// A sentence comes in both units of temperature; a difference has no offset:
// 1 K is 1.8 °F (NIST SP 811, table 9, from memory).
func TestSentencesComeInBothUnits(t *testing.T) {
	plan := Plan{Words: Words{Zone: time.UTC}, Houses: []House{{ID: "long-house", Name: "Long House",
		Places: []Place{{ID: "bench", Name: "bench",
			Bands:  []Band{{Quantity: Temperature, Limits: Limits{High: At(30)}}},
			Probes: []Probe{{ID: "bench-1", Streams: []Stream{{Quantity: Temperature}}}}}}}}}
	e, err := New(plan)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC)
	var raised []Transition
	for i := range 10 {
		now := at.Add(time.Duration(i) * 30 * time.Second)
		for _, tr := range e.Step(Input{At: now, Kind: ReadingIn, Probe: "bench-1", Quantity: Temperature, Value: 35 + float64(i%2)/50}) {
			if tr.Move == Raise && tr.Reason.Rule == RuleLimit {
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
	has("in °C", raised[0].Sentence, "35.0 °C", "30.0 °C")
	has("in °F", raised[0].Other, "95.0 °F", "86.0 °F")
	if strings.Contains(raised[0].Other, "°C") {
		t.Errorf("both units in %q", raised[0].Other)
	}
	for _, stage := range []string{"live", "restored"} {
		has(stage+" picture in °C", e.PictureIn(false).Alarms[0].Sentence, "35.0 °C")
		has(stage+" picture in °F", e.PictureIn(true).Alarms[0].Sentence, "95.0 °F")
		has(stage+" picture as the plan says", e.Picture().Alarms[0].Sentence, "35.0 °C")
		snap, err := e.Snapshot()
		if err != nil {
			t.Fatal(err)
		}
		if e, err = Restore(plan, snap); err != nil {
			t.Fatal(err)
		}
	}
}
