package engine_test

import (
	"bytes"
	"encoding/json"
	"math"
	"reflect"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/outlook"
)

// aheadPlan is a place with n probes, of which one is enough to know it.
func aheadPlan(n int) alarms.Plan {
	p := alarms.Plan{Houses: []alarms.House{{ID: "long-house", Latitude: 52, Longitude: -2, Places: []alarms.Place{{ID: "bench",
		Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{LowLow: alarms.At(2), Low: alarms.At(5), High: alarms.At(35), HighHigh: alarms.At(40)}}}}}}}}
	for i := range n {
		p.Houses[0].Places[0].Probes = append(p.Houses[0].Places[0].Probes, alarms.Probe{ID: alarms.ProbeID("bench-" + string(rune('a'+i))), Every: time.Minute,
			Streams: []alarms.Stream{{Quantity: alarms.Temperature, Jump: -1}}})
	}
	return p
}

var aheadFrom = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

// warmth is a plain day: coldest at 04:00, warmest at 16:00, with a little of its own
// each day.
func warmth(at time.Time) float64 {
	h := at.Sub(aheadFrom).Hours()
	return 20 + 7*math.Sin(2*math.Pi*(h-10)/24) + math.Sin(h/5.3)
}

// learned is an engine that has heard of n probes once a minute for so long; wrong may
// change what one of them says.
func learned(tb testing.TB, n int, span time.Duration, wrong func(probe int, at time.Time, v float64) float64) *engine.Engine {
	tb.Helper()
	e, err := engine.New(aheadPlan(n))
	if err != nil {
		tb.Fatal(err)
	}
	plan := e.Plan()
	for at := aheadFrom; at.Before(aheadFrom.Add(span)); at = at.Add(time.Minute) {
		for i, pr := range plan.Houses[0].Places[0].Probes {
			v := warmth(at)
			if wrong != nil {
				v = wrong(i, at, v)
			}
			e.Step(alarms.Input{Kind: alarms.ReadingIn, At: at, Probe: pr.ID, Quantity: alarms.Temperature, Value: math.Round(v*100) / 100})
		}
	}
	return e
}

func outlookOf(e *engine.Engine) *alarms.OutlookPicture {
	return e.Picture().Houses[0].Places[0].Outlook
}

// savedAhead is what a snapshot keeps of the outlook of a place.
func savedAhead(t *testing.T, saved []byte) (text []byte) {
	t.Helper()
	var s struct {
		Ahead map[string]map[string]json.RawMessage `json:"ahead"`
	}
	if err := json.Unmarshal(saved, &s); err != nil {
		t.Fatal(err)
	}
	if text = s.Ahead["long-house"]["bench"]; len(text) < 2000 {
		t.Fatalf("a snapshot keeps %s of a place: this tests nothing", text)
	}
	return text
}

// What is learned of a place, of the next two hours and of days and nights, takes 4.6 kB
// of a snapshot at most, with a month of warnings of all its limits, whatever stands.
func TestOutlookKeepsLittleOfAMonth(t *testing.T) {
	p := aheadPlan(1)
	p.Houses[0].Places[0].Bands[0].Limits = alarms.Limits{LowLow: alarms.At(13.5), Low: alarms.At(15), High: alarms.At(25), HighHigh: alarms.At(26.5)}
	e, err := engine.New(p)
	if err != nil {
		t.Fatal(err)
	}
	most, outcomes := 0, 0
	restarted := e // every ten minutes of the last days
	for at := aheadFrom; at.Before(aheadFrom.AddDate(0, 0, 40)); at = at.Add(time.Minute) {
		in := alarms.Input{Kind: alarms.ReadingIn, At: at, Probe: "bench-a", Quantity: alarms.Temperature, Value: math.Round(warmth(at)*100) / 100}
		if e.Step(in); restarted != e {
			restarted.Step(in)
		}
		if at.Before(aheadFrom.AddDate(0, 0, 37)) || at.Minute()%10 > 0 {
			continue
		}
		saved, err := e.Snapshot()
		if err != nil {
			t.Fatal(err)
		}
		if other, err := restarted.Snapshot(); err != nil || !bytes.Equal(other, saved) {
			t.Fatalf("at %v one that was restarted ten minutes ago keeps\n%s\nthe other one\n%s (%v)", at, savedAhead(t, other), savedAhead(t, saved), err)
		}
		if restarted, err = engine.Restore(p, saved); err != nil || outlookOf(restarted).Record != outlookOf(e).Record {
			t.Fatalf("at %v another record came back: %v", at, err)
		}
		r := outlookOf(e).Record
		most, outcomes = max(most, len(savedAhead(t, saved))), max(outcomes, r.Right+r.False)
	}
	t.Logf("%d bytes at most, with %d warnings of which it is known what came", most, outcomes)
	if most > 4600 || outcomes < 40 {
		t.Errorf("the outlook of a place takes %d bytes of a snapshot, with %d warnings in it; want at most 4600, with 40 or more", most, outcomes)
	}
}

// An outlook comes back as it was, and a reading with a look ahead allocates nothing.
func TestOutlookKeepsLittle(t *testing.T) {
	e := learned(t, 1, 4*24*time.Hour, nil)
	o := outlookOf(e)
	if o.Lacks != outlook.Nothing || len(o.Ahead) != len(outlook.Horizons) || len(o.Limits) != 4 {
		t.Fatalf("after four days the picture has %+v", o)
	}
	saved, err := e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	back, err := engine.Restore(aheadPlan(1), saved)
	if err != nil {
		t.Fatal(err)
	}
	if again := outlookOf(back); !reflect.DeepEqual(again, o) {
		t.Errorf("after a restart the picture has\n%+v\nwant\n%+v", again, o)
	}
	at := e.Now()
	if n := testing.AllocsPerRun(200, func() {
		at = at.Add(time.Minute)
		e.Step(alarms.Input{Kind: alarms.ReadingIn, At: at, Probe: "bench-a", Quantity: alarms.Temperature, Value: math.Round(warmth(at)*100) / 100})
	}); n > 0 {
		t.Errorf("a reading with a look ahead makes %.1f allocations", n)
	}
}

// A snapshot of before there was an outlook, or one that cannot be read, begins it anew.
func TestOutlookOfAnOldSnapshotBeginsAnew(t *testing.T) {
	e := learned(t, 1, 3*24*time.Hour, nil)
	saved, err := e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(all map[string]any){
		"none": func(all map[string]any) { delete(all, "ahead") },
		"of another form": func(all map[string]any) {
			all["ahead"].(map[string]any)["long-house"].(map[string]any)["bench"].(map[string]any)["course"] = "AAAA"
		},
	} {
		all := map[string]any{}
		if err := json.Unmarshal(saved, &all); err != nil {
			t.Fatal(err)
		}
		change(all)
		old, err := json.Marshal(all)
		if err != nil {
			t.Fatal(err)
		}
		back, err := engine.Restore(aheadPlan(1), old)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if o := outlookOf(back); o.Lacks == outlook.Nothing || len(o.Ahead) > 0 {
			t.Errorf("%s: the picture has %+v", name, o)
		}
	}
}

// Of three probes one that is wrong for an evening, and then is put out, changes little
// of what is expected the next day.
func TestOutlookOutlivesAWrongProbe(t *testing.T) {
	const span = 4*24*time.Hour + 14*time.Hour
	good := outlookOf(learned(t, 3, span, nil))
	bad := outlookOf(learned(t, 3, span, func(probe int, at time.Time, v float64) float64 {
		if h := at.Sub(aheadFrom).Hours(); probe == 2 && h > 3*24+18 && h < 3*24+22 {
			return v + 9
		}
		return v
	}))
	for i := range good.Ahead {
		for k, want := range good.Ahead[i].Highest {
			if got := bad.Ahead[i].Highest[k]; math.Abs(got-want) > 0.5 {
				t.Errorf("in %s the highest is %.2f °C, %.2f °C without the wrong probe", good.Ahead[i].In, got, want)
			}
		}
	}
}

// BenchmarkOutlook is what a look ahead costs, once a minute: of readings every minute,
// each with a look, beside readings every 10 s, of which one in six has one.
func BenchmarkOutlook(b *testing.B) {
	var spent [2]time.Duration
	for i, every := range []time.Duration{10 * time.Second, time.Minute} {
		e := learned(b, 1, 4*24*time.Hour, nil)
		at := e.Now()
		const steps = 20000
		began := time.Now()
		for range steps {
			at = at.Add(every)
			e.Step(alarms.Input{Kind: alarms.ReadingIn, At: at, Probe: "bench-a", Quantity: alarms.Temperature, Value: math.Round(warmth(at)*100) / 100})
		}
		spent[i] = time.Since(began) / steps
	}
	for b.Loop() {
	}
	look := (spent[1] - spent[0]) * 6 / 5
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(look.Nanoseconds())/1000, "µs/look")
	b.ReportMetric(float64((spent[1]-look).Nanoseconds())/1000, "µs/reading-without")
}
