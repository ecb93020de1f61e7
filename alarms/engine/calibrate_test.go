package engine_test

import (
	"bytes"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
)

// probe returns the picture of a probe.
func (r *run) probe(id alarms.ProbeID) alarms.ProbePicture {
	r.t.Helper()
	for _, h := range picture(r.e).Houses {
		for _, pl := range h.Places {
			for _, p := range pl.Probes {
				if p.ID == id {
					return p
				}
			}
		}
	}
	r.t.Fatalf("no probe %s in the picture", id)
	return alarms.ProbePicture{}
}

func calibrate(by float64) alarms.Input {
	return alarms.Input{Kind: alarms.Calibrate, Probe: "bench-1", Quantity: alarms.Temperature, Value: by, By: "Ada", Note: "in melting ice"}
}

func TestACalibrationIsShownAndAdded(t *testing.T) {
	r := start(t, longHouse())
	r.hold(21.3, 2*time.Minute)
	ts := r.step(calibrate(-0.4000001))
	if len(ts) != 1 || ts[0].Move != alarms.Note || ts[0].Reason.Value == nil || *ts[0].Reason.Value != -0.4 || ts[0].Reason.By != "Ada" ||
		ts[0].Alarm != "long-house/bench/bench-1/calibration" {
		t.Fatalf("got %+v", ts)
	}
	want := "Long House, bench: probe bench-1 is calibrated anew. 0.40 °C is taken off each temperature, set by Ada (in melting ice)."
	if ts[0].Sentence != want {
		t.Errorf("got %q\nwant %q", ts[0].Sentence, want)
	}
	if other := say.Transition(r.e.Plan(), &ts[0], say.Locale{Fahrenheit: true}); !strings.Contains(other, "0.72 °F") {
		t.Errorf("in °F: %q", other)
	}
	c := r.probe("bench-1").Calibrations
	if len(c) != 1 || c[0].Offset != -0.4 || c[0].By != "Ada" || c[0].Note != "in melting ice" || !c[0].At.Equal(r.now) || c[0].Quantity != alarms.Temperature {
		t.Errorf("the picture has %+v", c)
	}
	if v := picture(r.e).Houses[0].Places[0].Points[0].Value; v != 20.9 {
		t.Errorf("what was said a moment ago is now %v, want 20.9", v)
	}
	if v := r.e.Corrected("bench-1", alarms.Temperature, 21.4); v != 21 {
		t.Errorf("21.4 is corrected to %v, want 21", v)
	}
	if v := r.e.Corrected("bench-1", alarms.Humidity, 21.4); v != 21.4 {
		t.Errorf("another quantity is corrected to %v", v)
	}
	if v := r.e.Corrected("nobody", alarms.Temperature, 21.4); v != 21.4 {
		t.Errorf("an unknown probe is corrected to %v", v)
	}
	if ts := r.step(alarms.Input{Kind: alarms.Calibrate, Probe: "nobody", Quantity: alarms.Temperature, Value: 1}); ts != nil {
		t.Errorf("an unknown probe brought %+v", ts)
	}
}

// What the owner journals, played again, brings out the same; and a restart
// from a snapshot at any moment changes nothing.
func TestCalibrationsReplayAsTheyWere(t *testing.T) {
	plan := longHouse()
	live, err := engine.New(plan)
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(3, 5))
	var journal []alarms.Input
	var made []alarms.Transition
	step := func(in alarms.Input) {
		journal = append(journal, in)
		made = append(made, live.Step(in)...)
	}
	now, v := noon, 29.0
	for range 3000 {
		now = now.Add(30 * time.Second)
		v += rnd.NormFloat64() / 4
		in := alarms.Input{At: now, Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: float64(int(v*100)) / 100}
		if rnd.IntN(50) == 0 {
			in.Value = 85
		}
		in.Value = live.Corrected(in.Probe, in.Quantity, in.Value)
		step(in)
		if rnd.IntN(100) == 0 {
			c := calibrate(float64(rnd.IntN(300)-150) / 100)
			c.At = now
			step(c)
		}
		if rnd.IntN(40) == 0 {
			snap, err := live.Snapshot()
			if err == nil {
				live, err = engine.Restore(plan, snap)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	again, err := engine.New(plan)
	if err != nil {
		t.Fatal(err)
	}
	var replayed []alarms.Transition
	for _, in := range journal {
		replayed = append(replayed, again.Step(in)...)
	}
	if len(made) < 40 {
		t.Fatalf("only %d transitions: this tests little", len(made))
	}
	if !reflect.DeepEqual(made, replayed) {
		t.Errorf("%d transitions live, %d replayed, or they differ", len(made), len(replayed))
	}
	one, err1 := live.Snapshot()
	two, err2 := again.Snapshot()
	if err1 != nil || err2 != nil || !bytes.Equal(one, two) {
		t.Errorf("the snapshots differ (%v, %v):\n%s\n%s", err1, err2, one, two)
	}
}

// A snapshot of a version that knew no calibration begins with none.
func TestAnOlderSnapshotIsStillRead(t *testing.T) {
	r := start(t, longHouse())
	r.hold(21, 2*time.Minute)
	snap, err := r.e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(snap, []byte("calibrated")) {
		t.Fatalf("a probe that nobody calibrated says so: %s", snap)
	}
	if _, err := engine.Restore(longHouse(), snap); err != nil {
		t.Error(err)
	}
}

func TestWhatIsPutAsideSaysByWhomAndWhy(t *testing.T) {
	const id = alarms.AlarmID("long-house/bench/temperature/high")
	r := start(t, longHouse())
	r.hold(40, 10*time.Minute)
	find := func() (p alarms.AlarmPicture) {
		for _, a := range picture(r.e).Alarms {
			if a.ID == id {
				p = a
			}
		}
		return p
	}
	if a := find(); a.State != alarms.Unacknowledged || a.By != "" || a.Note != "" {
		t.Fatalf("before anything is done: %+v", a)
	}
	until := r.now.Add(time.Hour)
	r.step(alarms.Input{Kind: alarms.Shelve, Alarm: id, Until: until, By: "Ben", Note: "shading goes up"})
	reborn := func() {
		snap, err := r.e.Snapshot()
		if err == nil {
			r.e, err = engine.Restore(longHouse(), snap)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	reborn()
	if a := find(); a.State != alarms.Shelved || a.By != "Ben" || a.Note != "shading goes up" || !a.Until.Equal(until) {
		t.Errorf("shelved: %+v", a)
	}
	r.step(alarms.Input{Kind: alarms.TakeOut, Alarm: id, By: "Ada", Note: "the bench is empty"})
	reborn()
	if a := find(); a.State != alarms.OutOfService || a.By != "Ada" || a.Note != "the bench is empty" || !a.Until.IsZero() {
		t.Errorf("out of service: %+v", a)
	}
	r.step(alarms.Input{Kind: alarms.PutBack, Alarm: id, By: "Ada"})
	if a := find(); a.State != alarms.Unacknowledged || a.By != "" || a.Note != "" {
		t.Errorf("back: %+v", a)
	}
	r.step(alarms.Input{Kind: alarms.TakeOut, Probe: "bench-1", By: "Ada", Note: "at the bench for repair"})
	reborn()
	if p := r.probe("bench-1"); !p.OutOf || p.OutBy != "Ada" || p.OutNote != "at the bench for repair" || !p.OutSince.Equal(r.now) {
		t.Errorf("the probe: %+v", p)
	}
	r.step(alarms.Input{Kind: alarms.PutBack, Probe: "bench-1", By: "Ada"})
	if p := r.probe("bench-1"); p.OutOf || p.OutBy != "" || p.OutNote != "" || !p.OutSince.IsZero() {
		t.Errorf("the probe, back: %+v", p)
	}
}
