package engine_test

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// twoPlaces are a bench and a ridge, each with a probe that reports every minute.
func twoPlaces() alarms.Plan {
	place := func(id alarms.PlaceID) alarms.Place {
		return alarms.Place{ID: id, Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{Low: alarms.At(8), High: alarms.At(32)}}},
			Probes: []alarms.Probe{{ID: alarms.ProbeID(id) + "-1", Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}}
	}
	return alarms.Plan{Houses: []alarms.House{{ID: "long-house", Name: "Long House", Places: []alarms.Place{place("bench"), place("ridge")}}}}
}

// TestLastTemperatureTakenOutOfTheConfigIsToldOfTheRest takes out the only place
// that is still seen: what was lost before at medium priority is told again, at
// high, also where the watch starts again at once; a place that is added and
// heard ends that.
func TestLastTemperatureTakenOutOfTheConfigIsToldOfTheRest(t *testing.T) {
	now := time.Date(2026, 1, 12, 2, 0, 0, 0, time.UTC)
	e, err := engine.New(twoPlaces())
	if err != nil {
		t.Fatal(err)
	}
	var all []alarms.Transition
	step := func(in alarms.Input) {
		in.At = now
		all = append(all, inWords(e, e.Step(in))...)
	}
	under := func(p alarms.Plan) {
		b, err := e.Snapshot()
		if err != nil {
			t.Fatal(err)
		}
		if e, err = engine.Restore(p, b); err != nil {
			t.Fatal(err)
		}
	}
	hold := func(d time.Duration, probes ...alarms.ProbeID) {
		for end := now.Add(d); now.Before(end); now = now.Add(time.Minute) {
			for i, p := range probes {
				step(alarms.Input{Kind: alarms.ReadingIn, Probe: p, Quantity: alarms.Temperature,
					Value: 12 + float64(i) + 0.1*float64(now.Minute()%3)})
			}
		}
	}
	last := func(id alarms.AlarmID) (last alarms.Transition) {
		for _, m := range all {
			if m.Alarm == id {
				last = m
			}
		}
		return last
	}
	hold(10*time.Minute, "bench-1", "ridge-1")
	hold(10*time.Minute, "bench-1")
	if m := last("long-house/ridge/unwatched"); m.Move != alarms.Raise || m.Priority != alarms.Medium {
		t.Fatalf("the ridge lost beside a bench that is seen: %v %v", m.Move, m.Priority)
	}
	p := twoPlaces()
	p.Houses[0].Places = p.Houses[0].Places[1:]
	under(p)
	step(alarms.Input{Kind: alarms.Tick})
	m := last("long-house/ridge/unwatched")
	if m.Move != alarms.Worsen || m.Priority != alarms.High || !m.Told() || !strings.Contains(m.Sentence, "temperature known of Long House") {
		t.Errorf("nothing is known any more: %v %v %q", m.Move, m.Priority, m.Sentence)
	}
	n := len(all)
	under(p)
	step(alarms.Input{Kind: alarms.RestartMarker})
	if len(all) > n {
		t.Errorf("a restart tells %v", all[n:])
	}
	under(twoPlaces())
	hold(5*time.Minute, "bench-1")
	if m = last("long-house/ridge/unwatched"); m.Priority != alarms.Medium || !m.To.Active() {
		t.Errorf("with the bench seen again: %v %v %v", m.Move, m.Priority, m.To)
	}
}
