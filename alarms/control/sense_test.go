package control

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"
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

// Noon is learned from the wave of the temperature, whatever the clock says.
func TestNoonIsLearned(t *testing.T) {
	for _, zone := range []*time.Location{time.UTC, time.FixedZone("west", -8*3600), time.FixedZone("east", 9*3600)} {
		for _, outside := range []bool{true, false} {
			s := New(Options{})
			for _, r := range home.simulate(2, 21) { // its sun is highest at 12 of its own clock
				if !outside {
					r.outside = math.NaN()
				}
				s.Step(r.at.In(zone), r.inside, r.outside)
			}
			late := insideLate
			if outside {
				late = outsideLate
			}
			if got := math.Mod(s.Noon.hour(s.Last, late)+48, 24); math.Abs(got-12) > 1.6 {
				t.Errorf("zone %v, outside %v: noon at %.2f, want 12 within an hour and a half", zone, outside, got)
			}
		}
	}
}

// The height of the sun at noon is 90° less latitude plus declination: 23.4°
// at the solstices, 0 at the equinoxes (any almanac).
func TestHeightOfTheSun(t *testing.T) {
	for _, c := range []struct {
		latitude float64
		month    time.Month
		day      int
		want     float64
	}{{40, 6, 21, 73.4}, {40, 12, 21, 26.6}, {52, 3, 21, 38}, {-34, 12, 21, 79.4}, {70, 12, 21, 0}} {
		got := math.Asin(height(c.latitude, time.Date(2026, c.month, c.day, 12, 0, 0, 0, time.UTC), 0)) * 180 / math.Pi
		if math.Abs(got-c.want) > 0.8 {
			t.Errorf("%v° on %v %d: %.1f°, want %v", c.latitude, c.month, c.day, got, c.want)
		}
	}
	if height(40, time.Date(2026, 6, 21, 0, 0, 0, 0, time.UTC), 12) != 0 {
		t.Error("no sun at midnight")
	}
}

// steady feeds a level for some minutes.
func steady(s *Sense, at time.Time, every time.Duration, minutes int, inside, outside float64) (time.Time, []Change) {
	var all []Change
	for end := at.Add(time.Duration(minutes) * time.Minute); at.Before(end); at = at.Add(every) {
		if _, c := s.Step(at, inside+0.05*float64(at.Unix()/60%2), outside); c.Kind != NoChange {
			all = append(all, c)
		}
	}
	return at, all
}

func TestBreakDatesTheChange(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute, 5 * time.Minute, 10 * time.Minute} {
		s := New(Options{})
		at, _ := steady(&s, time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC), every, 120, 33, 20)
		for _, turn := range []struct {
			kind   ChangeKind
			inside float64
		}{{Start, 23}, {Stop, 33}} {
			when := at
			var changes []Change
			at, changes = steady(&s, at, every, 120, turn.inside, 20)
			last := Change{}
			for _, c := range changes {
				if c.Sharp {
					last = c
				}
			}
			if last.Kind != turn.kind || last.At.Sub(when).Abs() > time.Minute || last.Noticed.Sub(when) > 3*max(every, 5*time.Minute) {
				t.Errorf("every %v: the house came to %v °C at %v: %+v", every, turn.inside, when, changes)
			}
		}
	}
}

// A fall that the outside air explains is no break.
func TestWeatherIsNoBreak(t *testing.T) {
	at := time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		out  float64
		want bool
	}{{20, true}, {12, false}} { // a front takes 8 K off the outside air
		s := New(Options{Still: Rise{1, 3}, Driven: Rise{0, 1}})
		now, _ := steady(&s, at, 5*time.Minute, 180, 24, 20)
		var broke bool
		for range 6 {
			s.Step(now, 22, c.out)
			broke = broke || s.Breaks.Quiet > now.Unix()
			now = now.Add(5 * time.Minute)
		}
		if broke != c.want {
			t.Errorf("outside %v °C: break %v, want %v", c.out, broke, c.want)
		}
	}
}

func TestSentences(t *testing.T) {
	at := time.Date(2026, 7, 1, 14, 2, 0, 0, time.UTC)
	for want, got := range map[string]string{
		"the exhaust fan probably runs (85 %), inferred from the temperatures inside and outside alone":                                                        Belief{0.85, true, true}.Sentence("exhaust fan"),
		"it is not known whether the exhaust fan runs: that cannot be inferred without a probe outside":                                                        Belief{0.40, false, true}.Sentence("exhaust fan"),
		"it is not known whether the exhaust fan runs (52 % likely, inferred from the temperatures inside and outside alone)":                                  Belief{0.52, true, true}.Sentence("exhaust fan"),
		"the loop fan probably stands still (88 %), inferred from the temperatures inside and outside alone, which the watch has known for less than two days": Belief{0.12, true, false}.Sentence("loop fan"),
		"the exhaust fan probably started at 14:02 (83 %), inferred from a break in the temperature":                                                           Change{Start, at, at, 0.83, true}.Sentence("exhaust fan"),
		"the exhaust fan probably stopped at about 14:02 (75 %), inferred from a slow change of the temperature; the time is rough":                            Change{Stop, at, at, 0.25, false}.Sentence("exhaust fan"),
		"the exhaust fan may have started at 14:02 (52 %), inferred from a break in the temperature":                                                           Change{Start, at, at, 0.52, true}.Sentence("exhaust fan"),
		"no change of the exhaust fan": Change{}.Sentence("exhaust fan"),
	} {
		if got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
	}
	for p := Least; p <= Most; p += 0.01 {
		for _, b := range []Belief{{p, true, true}, {p, true, false}, {p, false, true}} {
			if s := b.Sentence("fan"); !strings.Contains(s, "inferred") || strings.Contains(s, "%") != b.Outside {
				t.Errorf("%s: must say that it is inferred, and how likely", s)
			}
		}
	}
}

// The temperatures of a winter with a heated house, covered or closed vents
// and no exhaust fan.
func TestRecordedWinter(t *testing.T) {
	rows := recorded(t, "winter-house.csv", "2006-01-02 15:04", "probe_a_c")
	likely, changes := follow(New(Options{}), rows)
	said := 0.0
	for _, p := range likely {
		if p < Least-1e-9 || p > Most+1e-9 || math.IsNaN(p) {
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
	for running, want := range map[float64]Shown{0.31: Unknown, 0.5: Unknown, 0.52: Unknown, 0.69: Unknown, 0.7: Running, 0.29: Standing} {
		b := Belief{Running: running, Outside: true}
		if got := (Belief{Running: running}).Shown(); got != Unknown {
			t.Errorf("at %.2f without a probe outside it is %v", running, got)
		}
		if got := b.Shown(); got != want {
			t.Errorf("at %.2f it is %v, want %v", running, got, want)
		}
		if says := b.Sentence("fan"); strings.Contains(says, "probably") != (want != Unknown) {
			t.Errorf("at %.2f it says %q", running, says)
		}
	}
}
