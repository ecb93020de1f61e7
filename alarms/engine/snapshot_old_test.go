package engine_test

import (
	"os"
	"slices"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// oldPlan is the plan under which testdata/snapshot/by-position.json was taken,
// with an alarm, a delay or something learned of every kind.
func oldPlan() alarms.Plan {
	probe := func(id alarms.ProbeID, every time.Duration, qs ...alarms.Quantity) alarms.Probe {
		p := alarms.Probe{ID: id, Every: every}
		for _, q := range qs {
			p.Streams = append(p.Streams, alarms.Stream{Quantity: q})
		}
		return p
	}
	p := fanned()
	h := &p.Houses[0]
	h.Day = alarms.DayRule{Fixed: true, Start: 7 * time.Hour, End: 19 * time.Hour}
	bench := &h.Places[0]
	bench.Probes = []alarms.Probe{
		probe("bench-1", 0, alarms.Temperature, alarms.Humidity),
		probe("bench-2", 0, alarms.Temperature), probe("bench-3", 0, alarms.Temperature)}
	bench.Bands = []alarms.Band{
		{Quantity: alarms.Temperature, Limits: alarms.Limits{LowLow: alarms.At(2), Low: alarms.At(7), High: alarms.At(32), HighHigh: alarms.At(38)}},
		{Quantity: alarms.Humidity, Limits: alarms.Limits{High: alarms.At(90)}, Delay: 2 * time.Hour}}
	bench.Rates = []alarms.RateLimit{{Quantity: alarms.Temperature, Fall: alarms.At(8), Rise: alarms.At(12)}}
	bench.Exposures = []alarms.Exposure{{ID: "heat", Says: "flowers drop", Quantity: alarms.Temperature, Above: alarms.At(30), Time: 3 * time.Hour, Window: 48 * time.Hour}}
	h.Places = append(h.Places,
		alarms.Place{ID: "ridge", Probes: []alarms.Probe{probe("ridge-1", 30*time.Second, alarms.Temperature), probe("ridge-2", 30*time.Second, alarms.Temperature)},
			Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(40)}}}},
		alarms.Place{ID: "tray", Probes: []alarms.Probe{probe("tray-1", 30*time.Second, alarms.Soil)},
			Bands: []alarms.Band{{Quantity: alarms.Soil, Limits: alarms.Limits{Low: alarms.At(10)}}}})
	return p
}

// oldOn is what is on, or put aside, in the snapshot.
var oldOn = map[alarms.AlarmID]alarms.State{
	"long-house/bench/bench-3/outlier":       alarms.Unacknowledged,
	"long-house/bench/temperature/high":      alarms.Unacknowledged,
	"long-house/exhaust-fan/did-not-start":   alarms.Unacknowledged,
	"long-house/ridge/temperature/disagrees": alarms.Shelved,
	"long-house/ridge/temperature/high":      alarms.Acknowledged,
	"long-house/tray/tray-1/silent":          alarms.SuppressedByDesign,
	"long-house/tray/unwatched":              alarms.Unacknowledged,
}

// TestAnUpdateOfTheProgramLosesNothing restores a snapshot that an earlier
// version took, which kept what a thing knows under its position.
func TestAnUpdateOfTheProgramLosesNothing(t *testing.T) {
	saved, err := os.ReadFile("../../testdata/snapshot/by-position.json")
	if err != nil {
		t.Fatal(err)
	}
	r := start(t, oldPlan())
	if r.e, err = engine.Restore(oldPlan(), saved); err != nil {
		t.Fatal(err)
	}
	r.now = r.e.Now().Add(30 * time.Second)
	for _, a := range picture(r.e).Alarms {
		if want := oldOn[a.ID]; a.State != want {
			t.Errorf("%s is %s after the update, want %s", a.ID, a.State, want)
		}
	}
	from := noon // of the humidity, and its limit may be passed for two hours
	all := func(celsius, percent, amperes float64) {
		for _, id := range []alarms.ProbeID{"bench-1", "bench-2", "bench-3", "ridge-1", "ridge-2"} {
			r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: id, Quantity: alarms.Temperature, Value: celsius})
		}
		r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Humidity, Value: percent})
		r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "fan-clamp", Quantity: alarms.Current, Value: amperes})
		r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "end-switch", Quantity: alarms.Contact, Value: 1})
		r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "tray-1", Quantity: alarms.Soil, Value: 20 + percent/100})
		r.now = r.now.Add(30 * time.Second)
	}
	for i := 0; r.now.Before(from.Add(125 * time.Minute)); i++ {
		all(25+float64(i%10)/10, 92+float64(i%10)/10, 0.33)
	}
	told := slices.IndexFunc(r.all, func(m alarms.Transition) bool { return m.Alarm == "long-house/bench/humidity/high" })
	if told < 0 || !r.all[told].Due.Equal(from.Add(2*time.Hour)) {
		t.Errorf("a delay of two hours did not go on: %s", r.moves())
	}
	for i := range 60 * 120 {
		all(25+float64(i%10)/10, 60+float64(i%10)/10, 0)
	}
	for _, a := range picture(r.e).Alarms {
		if a.Active {
			t.Errorf("%s does not end: %s", a.ID, a.Sentence)
		}
	}
}
