package scenario_test

import (
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/scenario"
)

const loopFile = `Loop

plan
  house a
    place bench
      probe bench-1: temperature
    place upper
      probe upper-1: temperature
    loop from bench, fan loop, power by fan-1, draws 55, flow at house, pressure 95000, warm below 10, cool above -2.5, priority low, runs by fan-1 current above 0.2, inverted
    loop soil mean 10.5, swing 8, coldest 32, diffusivity 0.05
    loop pipe upper: depth 1.5, flow 0.05, effectiveness 0.8, damper switch-1 contact inverted
    loop pipe "of": depth 2.3, flow 0.06
  house b
    loop from "from"
    loop pipe pipe: depth 1, flow 1

on 2026-01-01
`

func TestParseLoop(t *testing.T) {
	s, err := scenario.Parse("l.txt", []byte(loopFile), nil)
	if err != nil {
		t.Fatal(err)
	}
	want := []*alarms.Loop{{
		House: "bench", Fan: "loop", FanPower: "fan-1", FanWatts: 55, AtHouse: true, Pressure: 95000, WarmBelow: alarms.At(10),
		CoolAbove: alarms.At(-2.5), Priority: alarms.Low,
		Runs: alarms.Evidence{Probe: "fan-1", Quantity: alarms.Current, Above: alarms.At(0.2), Inverted: true},
		Soil: &alarms.Ground{Mean: 10.5, Swing: 8, Coldest: 32, Diffusivity: 0.05},
		Pipes: []alarms.Pipe{
			{Outlet: "upper", Depth: 1.5, Flow: 0.05, Effectiveness: 0.8,
				Damper: alarms.Evidence{Probe: "switch-1", Quantity: alarms.Contact, Inverted: true}},
			{Outlet: "of", Depth: 2.3, Flow: 0.06}},
	}, {House: "from", Pipes: []alarms.Pipe{{Outlet: "pipe", Depth: 1, Flow: 1}}}}
	for i, w := range want {
		if got := s.Plan.Houses[i].Loop; !reflect.DeepEqual(got, w) {
			t.Errorf("got\n%+v\nwant\n%+v", got, w)
		}
	}
	printed := s.Print()
	again, err := scenario.Parse("again.txt", printed, nil)
	if err != nil {
		t.Fatalf("%v in\n%s", err, printed)
	}
	if !reflect.DeepEqual(again.Plan, s.Plan) {
		t.Errorf("printed and read again, the plan is another:\n%s", printed)
	}
}

func TestLoopErrorsSayWhereAndWhat(t *testing.T) {
	for line, want := range map[string]string{
		"loop bench":                     `x.txt:4: want from, soil or pipe, got "bench"`,
		"loop from bench, off":           `x.txt:4: want fan, power by, draws, flow at house, pressure, warm below, cool above, priority or runs by, got "off"`,
		"loop soil mean warm":            `x.txt:4: want a number for mean, got "warm"`,
		"loop soil depth 2":              `x.txt:4: want mean, swing, coldest or diffusivity, got "depth"`,
		"loop pipe upper: length 3":      `x.txt:4: want depth, flow, effectiveness or damper, got "length"`,
		"loop pipe upper, depth 2":       `x.txt:4: want ":", got ","`,
		"loop pipe upper: damper d heat": `x.txt:4: want one of the quantities`,
	} {
		_, err := scenario.Parse("x.txt", []byte("T\nplan\n  house a\n    "+line+"\non 2026-01-01\n"), nil)
		if err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%s: got %v, want %s", line, err, want)
		}
	}
}

// TestLoopSurvivesChanges lets a loop work by chance for a day and a half, with
// a fan that comes and goes, water, probes that fall silent, a lost link and a
// restart, and demands the same with all that must not matter.
func TestLoopSurvivesChanges(t *testing.T) {
	seen := eachSchedule(t, 4, func(t *testing.T, seed uint64, seen map[alarms.AlarmID]int) {
		plan, inputs := loopByChance(seed)
		check := func(in []alarms.Input) error { return survivesChanges(plan, in, seed) }
		if err := check(inputs); err != nil {
			fails(t, seed, plan, inputs, err, check)
		}
		all, err := play(plan, inputs, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, tr := range all {
			seen[tr.Alarm]++
		}
	})
	for _, id := range []alarms.AlarmID{"long-house/ground-loop", "long-house/upper/no-flow", "long-house/lower/wet-pipe"} {
		if seen[id] == 0 {
			t.Errorf("nothing was ever said of %s: the schedules are too dull", id)
		}
	}
}

func loopByChance(seed uint64) (alarms.Plan, []alarms.Input) {
	rnd := rand.New(rand.NewPCG(seed, 6))
	place := func(id alarms.PlaceID, qs ...alarms.Quantity) alarms.Place {
		p := alarms.Probe{ID: alarms.ProbeID(id) + "-1", Every: 15 * time.Minute}
		for _, q := range qs {
			p.Streams = append(p.Streams, alarms.Stream{Quantity: q, Jump: -1, StuckFor: -1})
		}
		return alarms.Place{ID: id, Probes: []alarms.Probe{p}}
	}
	plan := alarms.Plan{Houses: []alarms.House{{ID: "long-house", Day: alarms.DayRule{Fixed: true, Start: 8 * time.Hour, End: 16 * time.Hour},
		Places: []alarms.Place{place("bench", alarms.Temperature, alarms.Humidity), place("upper", alarms.Temperature, alarms.Humidity),
			place("lower", alarms.Temperature, alarms.Humidity), place("fan", alarms.Power)},
		Loop: &alarms.Loop{House: "bench", Runs: alarms.Evidence{Probe: "fan-1", Quantity: alarms.Power, Above: alarms.At(15)},
			Soil:  &alarms.Ground{Mean: 10.5, Swing: 8, Coldest: 32, Diffusivity: 0.05},
			Pipes: []alarms.Pipe{{Outlet: "upper", Depth: 1.5, Flow: 0.05, Effectiveness: 0.8}, {Outlet: "lower", Depth: 2.3, Flow: 0.05}}},
	}}}
	s := &story{rnd: rnd, plan: plan, length: 36 * 3600, start: time.Date(2026, 12, 9, 6, 0, 0, 0, time.UTC)}
	fan, blocked, house, until := true, rnd.IntN(2) == 0, 3.0, 0
	for at := 10; at < s.length; at += 15 * 60 {
		if at >= until {
			until = at + 3600*(1+rnd.IntN(8))
			fan, blocked = rnd.IntN(5) > 0, rnd.IntN(2) == 0
		}
		house = min(max(house+rnd.NormFloat64()/2, -2), 6)
		upper, watts := house+0.8*(11-house), 55.0
		if blocked || !fan {
			upper = house + 0.2
		}
		if !fan {
			watts = 0
		}
		for _, r := range []alarms.Input{
			{Probe: "bench-1", Quantity: alarms.Temperature, Value: house}, {Probe: "bench-1", Quantity: alarms.Humidity, Value: 70},
			{Probe: "upper-1", Quantity: alarms.Temperature, Value: upper}, {Probe: "upper-1", Quantity: alarms.Humidity, Value: 60},
			{Probe: "lower-1", Quantity: alarms.Temperature, Value: 10.5}, {Probe: "lower-1", Quantity: alarms.Humidity, Value: 100},
			{Probe: "fan-1", Quantity: alarms.Power, Value: watts},
		} {
			r.At, r.Kind = s.at(at), alarms.ReadingIn
			s.inputs = append(s.inputs, r)
		}
	}
	s.inOrder()
	for range rnd.IntN(2) {
		s.without()
	}
	if rnd.IntN(2) == 0 {
		s.gap(alarms.LinkDown, alarms.LinkUp, 300)
	}
	if rnd.IntN(2) == 0 {
		s.gap(alarms.Tick, alarms.RestartMarker, 300)
	}
	return plan, s.inputs
}
