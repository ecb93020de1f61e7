package say

import (
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// A house or a place without a probe yet is told as that: it raises nothing by itself,
// and is never said to be well.
func TestWithoutAProbeNothingIsWell(t *testing.T) {
	house := func(id alarms.HouseID, name string, probes ...alarms.Probe) alarms.House {
		return alarms.House{ID: id, Name: name, Latitude: 50, Longitude: 10, Season: alarms.SeasonOpen, Places: []alarms.Place{{ID: "shelf", Name: "shelf", Probes: probes}}}
	}
	plan := alarms.Plan{Houses: []alarms.House{
		house("long-house", "Long House", alarms.Probe{ID: "shelf-1", Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}),
		house("low-house", "Low House")}}
	plan.Houses[0].Places = append(plan.Houses[0].Places, alarms.Place{ID: "door", Name: "door"})
	e, err := engine.New(plan)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	e.Step(alarms.Input{At: at, Kind: alarms.LinkUp})
	for n := range 3 * 24 * 60 {
		at = at.Add(time.Minute)
		moves := e.Step(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: "shelf-1", Quantity: alarms.Temperature, Value: 18 + float64(n%7)/10})
		for _, m := range append(moves, e.Step(alarms.Input{At: at, Kind: alarms.Tick})...) {
			t.Errorf("%v: %s %v", m.Due, m.Alarm, m.Move)
		}
	}
	p := Picture(e.Plan(), e.Picture(), Locale{})
	if got, want := p.Houses[1].Sentence, "Low House has no probe yet, so nothing watches it."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := p.Sentence, "Low House has no probe yet, so nothing watches it."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := p.Houses[0].Sentence, "All is well in Long House."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if pl := p.Houses[0].Places[1]; len(pl.Points) > 0 || len(pl.Probes) > 0 {
		t.Errorf("the door is %+v", pl)
	}
}
