package engine_test

import (
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// exposedHouse has one bench with one probe of temperature and humidity and
// the given exposures.
func exposedHouse(all ...alarms.Exposure) alarms.Plan {
	return alarms.Plan{Houses: []alarms.House{{
		ID: "long-house", Name: "Long House",
		Day: alarms.DayRule{Fixed: true, Start: 6 * time.Hour, End: 20 * time.Hour},
		Places: []alarms.Place{{ID: "bench", Exposures: all, Probes: []alarms.Probe{{
			ID: "bench-1", Every: time.Minute, MissesAllowed: 60,
			Streams: []alarms.Stream{{Quantity: alarms.Temperature, Jump: -1, StuckFor: -1}, {Quantity: alarms.Humidity, Jump: -1, StuckFor: -1}}}}}},
	}}}
}

func tell(at time.Time, q alarms.Quantity, v float64) alarms.Input {
	return alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: q, Value: v}
}

func exposures() []alarms.Exposure {
	return []alarms.Exposure{
		{ID: "heat", Says: "a", Quantity: alarms.Temperature, Above: alarms.At(35), Time: 3 * time.Hour, Window: 48 * time.Hour},
		{ID: "load", Says: "b", Quantity: alarms.Temperature, Above: alarms.At(35), DegreeHours: 12, Days: 1},
		{ID: "mould", Says: "c", Quantity: alarms.Humidity, AtLeast: alarms.At(85), While: alarms.Temperature,
			WhileLow: alarms.At(12.8), WhileHigh: alarms.At(23.9), Time: 5 * time.Hour, Gap: 2 * time.Hour},
		{ID: "cold", Says: "d", Quantity: alarms.Temperature, Below: alarms.At(10), Time: 2 * time.Hour, Nights: 1},
	}
}

// second is what a naive reader of the readings knows of one second.
type second struct {
	at   time.Time
	t, h float64
	ok   bool
}

// naive integrates second by second, from the rules as they are written down
// and nothing else, and returns what each exposure has come to at the end.
func naive(seconds []second) (heat, load, mould, cold float64) {
	dry := 0
	for i, s := range seconds {
		if h, m, sec := s.at.Clock(); sec == 0 && m == 0 {
			if h == 0 {
				load = 0 // midnight
			}
			if h == 20 {
				cold = 0 // nightfall
			}
		}
		if !s.ok {
			continue
		}
		night := s.at.Hour() < 6 || s.at.Hour() >= 20
		if s.t > 35 && i >= len(seconds)-48*3600 {
			heat++
		}
		if s.t > 35 {
			load += s.t - 35
		}
		if s.t < 10 && night {
			cold++
		}
		switch {
		case s.h < 85:
			if dry++; dry >= 2*3600 {
				mould = 0
			}
		case s.t >= 12.8 && s.t <= 23.9:
			mould, dry = mould+1, 0
		}
	}
	return heat, load, mould, cold
}

// What the core counts is what adding up second by second gives, on courses by
// chance with silences: exactly, but for a window to a 96th of its length.
func TestExposureAgainstSeconds(t *testing.T) {
	for seed := range sample(uint64(2), 6) {
		rnd := rand.New(rand.NewPCG(seed, 7))
		e, err := engine.New(exposedHouse(exposures()...))
		if err != nil {
			t.Fatal(err)
		}
		start := time.Date(2026, 10, 3, 0, 0, 0, 0, time.UTC)
		var seconds []second
		at := start
		for at.Before(start.Add(70 * time.Hour)) {
			temp, humid := 10*rnd.Float64()+[...]float64{5, 15, 32}[rnd.IntN(3)], 70+30*rnd.Float64()
			for range 1 + rnd.IntN(90) { // holds for a while
				e.Step(tell(at, alarms.Temperature, temp))
				e.Step(tell(at, alarms.Humidity, humid))
				gap := time.Duration(20+rnd.IntN(80)) * time.Second
				if rnd.IntN(120) == 0 {
					gap = time.Duration(1800+rnd.IntN(6000)) * time.Second // longer than a value stands
				}
				for s := at; s.Before(at.Add(gap)); s = s.Add(time.Second) {
					seconds = append(seconds, second{s, temp, humid, s.Sub(at) < 30*time.Minute})
				}
				at = at.Add(gap)
			}
		}
		e.Step(alarms.Input{At: at, Kind: alarms.Tick})
		heat, load, mould, cold := naive(seconds)
		got := picture(e).Houses[0].Places[0].Exposures
		if s := got[0].Time.Seconds(); s < heat || s > heat+30*60 {
			t.Errorf("seed %d: heat %v s, want from %v and half an hour more at the most", seed, s, heat)
		}
		if d := got[1].DegreeHours - load/3600; d > 0.15 || d < -0.15 { // values count to 0.01 K
			t.Errorf("seed %d: load %v K h, want %v", seed, got[1].DegreeHours, load/3600)
		}
		if s := got[2].Time.Seconds(); s != mould {
			t.Errorf("seed %d: mould %v s, want %v", seed, s, mould)
		}
		if s := got[3].Time.Seconds(); s != cold {
			t.Errorf("seed %d: cold %v s, want %v", seed, s, cold)
		}
	}
}

// A rule that was changed counts again; an alarm of the old one ends by the new.
func TestExposureOfAnotherPlan(t *testing.T) {
	old := exposures()[0]
	e, err := engine.New(exposedHouse(old))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 200 {
		e.Step(tell(noon.Add(time.Duration(i)*time.Minute), alarms.Temperature, 38))
	}
	snapshot, err := e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	if p := picture(e).Houses[0].Places[0].Exposures[0]; !p.Reached || p.Time < 3*time.Hour {
		t.Fatalf("got %+v", p)
	}
	said := old
	said.Says, said.Source, said.Priority = "other words", "another book", alarms.High
	changed := old
	changed.Above = alarms.At(39)
	for _, c := range []struct {
		x    alarms.Exposure
		kept bool
	}{{said, true}, {changed, false}} {
		again, err := engine.Restore(exposedHouse(c.x), snapshot)
		if err != nil {
			t.Fatal(err)
		}
		if p := picture(again).Houses[0].Places[0].Exposures[0]; (p.Time > 3*time.Hour) != c.kept || !p.Reached {
			t.Errorf("kept %v: got %+v", c.kept, p)
		}
		var moves []alarms.Move
		for _, tr := range again.Step(tell(noon.Add(200*time.Minute), alarms.Temperature, 38)) {
			moves = append(moves, tr.Move)
		}
		if want := map[bool][]alarms.Move{false: {alarms.Return}}[c.kept]; !reflect.DeepEqual(moves, want) {
			t.Errorf("kept %v: got %v, want %v", c.kept, moves, want)
		}
	}
}

func TestExposurePlanIsChecked(t *testing.T) {
	good := exposures()[0]
	for want, spoil := range map[string]func(*alarms.Exposure){
		"the name of an exposure must be":                func(x *alarms.Exposure) { x.ID = "" },
		"give one of above, below, at-least and at-most": func(x *alarms.Exposure) { x.AtMost = alarms.At(3) },
		"nothing to be exposed to":                       func(x *alarms.Exposure) { x.Quantity = alarms.Battery },
		"sets no bounds: give from, to or both":          func(x *alarms.Exposure) { x.While = alarms.Humidity },
		"must not be below from (got 8 %, from is 9 %)": func(x *alarms.Exposure) {
			x.While, x.WhileLow, x.WhileHigh = alarms.Humidity, alarms.At(9), alarms.At(8)
		},
		"harm: is missing": func(x *alarms.Exposure) { x.Says = "" },
		"give one of within, gap, days-running and nights-running": func(x *alarms.Exposure) { x.Window, x.Days, x.Nights = 0, 1, 1 },
		"cannot be reached by what counts by day only":             func(x *alarms.Exposure) { x.Window, x.Nights, x.When = 0, 1, alarms.Day },
		"give a time or degree-hours, not both":                    func(x *alarms.Exposure) { x.DegreeHours = 3 },
		"are for temperature, surface and soil":                    func(x *alarms.Exposure) { x.Quantity, x.Time, x.DegreeHours = alarms.Humidity, 0, 3 },
		"must not be negative":                                     func(x *alarms.Exposure) { x.Hold = -1 },
	} {
		x := good
		spoil(&x)
		if _, err := engine.New(exposedHouse(x)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want it to say %q", err, want)
		}
	}
	if _, err := engine.New(exposedHouse(good, good)); err == nil {
		t.Error("two exposures of one name passed")
	}
}

// What the page shows, read aloud.
func TestExposureSentences(t *testing.T) {
	all := exposures()
	all[3].Nights = 2
	e, err := engine.New(exposedHouse(all...))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 72 {
		e.Step(tell(noon.Add(time.Duration(i)*time.Minute), alarms.Temperature, 40))
		e.Step(tell(noon.Add(time.Duration(i)*time.Minute), alarms.Humidity, 90))
	}
	e.Step(alarms.Input{At: noon.Add(72 * time.Minute), Kind: alarms.Tick})
	want := []string{
		"1.2 h above 35.0 °C in the last 2 days; 3.0 h do harm (a).",
		"6.0 degree-hours above 35.0 °C today; 12.0 degree-hours do harm (b).",
		"0.0 h of humidity at 85 % or more with the temperature from 12.8 °C to 23.9 °C in this spell (a break of 2 h ends it); 5.0 h do harm (c).",
		"0.0 h below 10.0 °C since nightfall; 2.0 h on each of 2 nights running do harm (d).",
	}
	for i, x := range picture(e).Houses[0].Places[0].Exposures {
		if x.Sentence != want[i] || x.Any() != (i < 2) {
			t.Errorf("got %q %v, want %q", x.Sentence, x.Any(), want[i])
		}
	}
}
