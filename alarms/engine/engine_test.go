package engine_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

var noon = time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)

// longHouse is one place with one probe and a simple band.
func longHouse() alarms.Plan {
	return alarms.Plan{Houses: []alarms.House{{
		ID: "long-house", Name: "Long House", Latitude: 52, Longitude: -1,
		Circuits: []alarms.Circuit{{ID: "north"}},
		Places: []alarms.Place{{
			ID: "bench",
			Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{
				LowLow: alarms.At(2), Low: alarms.At(7), High: alarms.At(32), HighHigh: alarms.At(38)}}},
			Rates: []alarms.RateLimit{{Quantity: alarms.Temperature, Fall: alarms.At(8), Rise: alarms.At(12)}},
			Probes: []alarms.Probe{{ID: "bench-1", Circuit: "north", Every: 30 * time.Second,
				Streams: []alarms.Stream{{Quantity: alarms.Temperature}, {Quantity: alarms.Humidity}}}},
		}},
	}}}
}

type run struct {
	t   *testing.T
	e   *engine.Engine
	now time.Time
	all []alarms.Transition
}

func start(t *testing.T, p alarms.Plan) *run {
	t.Helper()
	e, err := engine.New(p)
	if err != nil {
		t.Fatal(err)
	}
	return &run{t: t, e: e, now: noon}
}

func (r *run) step(in alarms.Input) []alarms.Transition {
	in.At = r.now
	ts := inWords(r.e, r.e.Step(in))
	r.all = append(r.all, ts...)
	for _, t := range ts {
		r.t.Logf("%s %s %s->%s %s | %s", t.Due.Format("15:04:05"), t.ID, t.From, t.To, t.Move, t.Sentence)
	}
	return ts
}

// hold reports v every 30 s for d.
func (r *run) hold(v float64, d time.Duration) {
	for end := r.now.Add(d); r.now.Before(end); r.now = r.now.Add(30 * time.Second) {
		r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: v})
		r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Humidity, Value: 60})
	}
}

func (r *run) moves() string {
	var s []string
	for _, t := range r.all {
		s = append(s, t.Move.String()+":"+strings.TrimPrefix(string(t.Alarm), "long-house/"))
	}
	return strings.Join(s, " ")
}

func TestAHotAfternoonIsRaisedWorsensAndReturns(t *testing.T) {
	r := start(t, longHouse())
	r.hold(28, 5*time.Minute)
	r.hold(34, 5*time.Minute)
	r.step(alarms.Input{Kind: alarms.Acknowledge, Alarm: "long-house/bench/temperature/high", By: "Ann"})
	r.hold(38.6, 2*time.Minute)
	r.hold(30, 5*time.Minute)
	want := "raise:bench/temperature/high acknowledge:bench/temperature/high worsen:bench/temperature/high return:bench/temperature/high"
	if got := r.moves(); got != want {
		t.Errorf("moves\n got %s\nwant %s", got, want)
	}
	first := r.all[0]
	if want := noon.Add(6 * time.Minute); !first.Due.Equal(want) {
		t.Errorf("raised at %v, want 60 s after the value passed the limit: %v", first.Due, want)
	}
}

func TestAProbeThatFallsSilentLeavesItsPlaceUnwatched(t *testing.T) {
	r := start(t, longHouse())
	r.hold(20, 5*time.Minute)
	r.now = r.now.Add(10 * time.Minute)
	r.step(alarms.Input{Kind: alarms.Tick})
	r.hold(20, time.Minute)
	want := "suppress:bench/bench-1/silent raise:bench/unwatched release:bench/bench-1/silent return:bench/unwatched"
	if got := r.moves(); got != want {
		t.Errorf("moves\n got %s\nwant %s", got, want)
	}
}

func BenchmarkStep(b *testing.B) {
	p, probes := manyProbes(1000)
	e, err := engine.New(p)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	at := noon
	for i := 0; b.Loop(); i++ {
		if i%1000 == 0 {
			at = at.Add(30 * time.Second)
		}
		if ts := e.Step(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: probes[i%1000], Quantity: alarms.Temperature, Value: 21.5 + 0.1*float64(i/1000%5)}); ts != nil {
			b.Fatalf("nothing should happen, got %v", ts[0])
		}
	}
}

// A long absence is told, a short one only written down.
func TestALongAbsenceIsTold(t *testing.T) {
	for away, want := range map[time.Duration]bool{time.Minute: false, 15 * time.Minute: false, 16 * time.Minute: true, 40 * time.Minute: true} {
		for _, kind := range []alarms.InputKind{alarms.RestartMarker, alarms.StoodStill} {
			r := start(t, longHouse())
			r.hold(20, 5*time.Minute)
			from := r.now.Add(-30 * time.Second)
			r.now = from.Add(away)
			ts := r.step(alarms.Input{Kind: kind, Since: from})
			i := slices.IndexFunc(ts, func(t alarms.Transition) bool { return t.Reason.Rule == alarms.RuleRestart })
			if i < 0 || ts[i].Told() != want || (ts[i].Priority == alarms.Medium) != want {
				t.Errorf("%s of %s: got %+v, want told: %v", kind, away, ts, want)
			}
		}
	}
}

func TestNewRefusesWhatCheckFinds(t *testing.T) {
	p := longHouse()
	p.Houses[0].Places[0].Bands[0].Limits = alarms.Limits{Low: alarms.At(20), High: alarms.At(10)}
	found := p.Check()
	if _, err := engine.New(p); len(found) != 1 || err == nil || err.Error() != found[0].Error() {
		t.Errorf("New says %v, Check %v", err, found)
	}
}
