package say_test

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// TestWhatIsPutAsideIsNotWell: a heat alarm that is shelved or out of service
// must be named by the one sentence at the top while it is still hot, and the mark
// of its house must show it.
func TestWhatIsPutAsideIsNotWell(t *testing.T) {
	noon := time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC)
	e, err := engine.New(alarms.Plan{Houses: []alarms.House{{ID: "long-house", Name: "Long House", Places: []alarms.Place{{ID: "bench", Name: "bench",
		Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(33)}}},
		Probes: []alarms.Probe{{ID: "bench-1", Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}},
	}}}}})
	if err != nil {
		t.Fatal(err)
	}
	const hot = alarms.AlarmID("long-house/bench/temperature/high")
	says := func(want string) {
		t.Helper()
		p := seen(e)
		if p.Sentence != want {
			t.Errorf("got  %q\nwant %q", p.Sentence, want)
		}
		if p.Houses[0].Worst != alarms.Medium || !p.Alarms[0].StillAside() {
			t.Errorf("the mark of the house is %v, its alarm still so: %v", p.Houses[0].Worst, p.Alarms[0].StillAside())
		}
	}
	for i := range 4 {
		step(e, alarms.Input{At: noon.Add(time.Duration(i) * time.Minute), Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: 40.5})
	}
	step(e, alarms.Input{At: noon.Add(5 * time.Minute), Kind: alarms.Shelve, Alarm: hot, Until: noon.Add(6 * time.Hour), By: "Ann"})
	says("Put aside, and still so: Long House, bench: too hot (40.5 °C now, shelved until 18:00).")
	step(e, alarms.Input{At: noon.Add(6 * time.Minute), Kind: alarms.TakeOut, Alarm: hot, By: "Ann"})
	says("Put aside, and still so: Long House, bench: too hot (40.5 °C now, out of service).")
	for i := range 4 {
		step(e, alarms.Input{At: noon.Add(time.Duration(7+i) * time.Minute), Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: 31})
	}
	if p := seen(e); !strings.HasPrefix(p.Sentence, "All is well") || p.Houses[0].Worst != alarms.NoPriority || p.Alarms[0].StillAside() {
		t.Errorf("it is cool again, and the sentence reads %q, the mark %v", p.Sentence, p.Houses[0].Worst)
	}
}
