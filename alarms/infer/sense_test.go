package infer

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"telltale/alarms/control"
)

// A snapshot between any two readings changes nothing.
func TestSenseSurvivesARestart(t *testing.T) {
	rows := home.simulate(1, 12)
	one, two := New(Options{Latitude: 50}), New(Options{Latitude: 50})
	for i, r := range rows {
		b, c := one.Step(r.at, r.inside, r.outside)
		d, e := two.Step(r.at, r.inside, r.outside)
		if b != d || c != e {
			t.Fatalf("reading %d: %+v %+v after a restart, %+v %+v without", i, b, c, d, e)
		}
		if i%7 != 0 {
			continue
		}
		saved, err := json.Marshal(one)
		one = Sense{}
		if err == nil {
			err = json.Unmarshal(saved, &one)
		}
		if err != nil {
			t.Fatal(err)
		}
		if one != two {
			t.Fatalf("reading %d: the state is not the same after a restart", i)
		}
	}
}

func TestReadingsThatChangeNothing(t *testing.T) {
	s := New(Options{})
	noon := time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)
	if b := s.Belief(noon); b.Running != 0.5 || b.Settled || b.Outside {
		t.Errorf("before anything was heard: %+v", b)
	}
	for m := 0; m < 600; m += 5 {
		s.Step(noon.Add(time.Duration(m)*time.Minute), 24, 20)
	}
	before := s
	s.Step(s.Last, 35, 20)
	s.Step(s.Last.Add(-time.Hour), 35, 20)
	s.Step(s.Last.Add(time.Hour), math.NaN(), 20)
	s.Step(s.Last.Add(time.Hour), math.Inf(1), 20)
	if s != before {
		t.Error("a late, repeated or impossible reading changed the state")
	}
	if b, _ := s.Step(s.Last.Add(time.Minute), 24, math.NaN()); !b.Outside {
		t.Error("the outside reading of a minute ago must still count")
	}
	if b, _ := s.Step(s.Last.Add(50*time.Minute), 24, math.NaN()); b.Outside {
		t.Error("an outside reading of 51 minutes ago must not count")
	}
}

// With nothing heard the belief goes to even.
func TestBeliefFades(t *testing.T) {
	s := New(Options{})
	at := time.Date(2026, 7, 1, 9, 0, 0, 0, time.UTC)
	for m := 0; m < 300; m += 5 {
		s.Step(at.Add(time.Duration(m)*time.Minute), 24, 24.5)
	}
	now := s.Belief(s.Last).Running
	if now < 0.7 {
		t.Fatalf("a sunny house no warmer than outside must be thought ventilated, got %.2f", now)
	}
	last := now
	for h := 1; h <= 24; h++ {
		p := s.Belief(s.Last.Add(time.Duration(h) * time.Hour)).Running
		if p > last+1e-9 || p < 0.5 {
			t.Errorf("after %d h: %.3f, before %.3f", h, p, last)
		}
		last = p
	}
	if last > 0.501 {
		t.Errorf("after a day of silence %.3f", last)
	}
	b, _ := s.Step(s.Last.Add(48*time.Hour), 40, 20)
	if b.Running >= 0.5 {
		t.Errorf("a house 20 K above outside at noon after a gap: %.2f", b.Running)
	}
}

// The temperatures of a winter with a heated house, covered or closed vents
// and no exhaust fan.
func TestRecordedWinter(t *testing.T) {
	rows := recorded(t, "winter-house.csv", "2006-01-02 15:04", "probe_a_c")
	likely, changes := follow(New(Options{}), rows)
	said := 0.0
	for _, p := range likely {
		if p < least-1e-9 || p > most+1e-9 || math.IsNaN(p) {
			t.Fatalf("likelihood %v", p)
		}
		if p >= 0.5 {
			said += 1 / float64(len(likely))
		}
	}
	sharp := 0
	for _, c := range changes {
		if c.Sharp && c.Kind == Start {
			sharp++
		}
	}
	days := rows[len(rows)-1].at.Sub(rows[0].at).Hours() / 24
	t.Logf("said to run in %.1f %% of readings; %d changes, %d sharp starts in %.0f days", 100*said, len(changes), sharp, days)
	if said > 0.05 || float64(sharp) > 0.5*days {
		t.Errorf("a fan that is not there runs %.3f of the time and starts %d times", said, sharp)
	}
}

// A likelihood means what it says: on the recorded house, of readings said to
// run with 80 to 88 %, and to stand with as much, most did.
func TestLikelihoodsAreHonest(t *testing.T) {
	rows := fanHouse(t)
	likely, _ := follow(New(Options{}), rows)
	var n, on [10]float64
	for i, r := range rows {
		k := int(10 * likely[i])
		n[k]++
		if r.fan > 5 {
			on[k]++
		}
	}
	for k := 1; k < 9; k++ {
		t.Logf("said %d to %d %%: ran in %.0f %% of %v readings", 10*k, 10*k+10, 100*on[k]/n[k], n[k])
	}
	if ran := on[8] / n[8]; ran < 0.75 {
		t.Errorf("said to run with 80 to 88 %%, ran in %.2f", ran)
	}
	if ran := on[1] / n[1]; ran > 0.15 {
		t.Errorf("said to stand with 80 to 88 %%, ran in %.2f", ran)
	}
}

func TestStepDoesNotAllocate(t *testing.T) {
	s := New(Options{})
	at := time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)
	if n := testing.AllocsPerRun(1000, func() {
		at = at.Add(5 * time.Minute)
		s.Step(at, 20+5*math.Sin(float64(at.Unix())/10000), 15)
	}); n != 0 {
		t.Errorf("%v allocations a reading, want none", n)
	}
}

func BenchmarkStep(b *testing.B) {
	rows := home.simulate(1, 20)
	s := New(Options{})
	shift := rows[len(rows)-1].at.Sub(rows[0].at) + time.Minute
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		r := rows[i%len(rows)]
		s.Step(r.at.Add(time.Duration(i/len(rows))*shift), r.inside, r.outside)
	}
}

// What is not sure enough for a change to be told of is not said of the present.
func TestNobodyHearsProbablyAtEvenOdds(t *testing.T) {
	for running, want := range map[float64]control.Shown{0.31: control.Unknown, 0.5: control.Unknown, 0.52: control.Unknown, 0.69: control.Unknown, 0.7: control.Running, 0.29: control.Standing} {
		b := Belief{Running: running, Outside: true}
		if got := (Belief{Running: running}).Shown(); got != control.Unknown {
			t.Errorf("at %.2f without a probe outside it is %v", running, got)
		}
		if got := b.Shown(); got != want {
			t.Errorf("at %.2f it is %v, want %v", running, got, want)
		}
	}
}
