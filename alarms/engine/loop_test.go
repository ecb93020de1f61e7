package engine_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/ground"
)

// loopPlan is a house with two pipes; soil as of temperate garden loam.
func loopPlan() alarms.Plan {
	probe := func(id alarms.ProbeID, qs ...alarms.Quantity) []alarms.Probe {
		p := alarms.Probe{ID: id, Every: 10 * time.Minute}
		for _, q := range qs {
			p.Streams = append(p.Streams, alarms.Stream{Quantity: q, Jump: -1, StuckFor: -1})
		}
		return []alarms.Probe{p}
	}
	return alarms.Plan{Houses: []alarms.House{{
		ID: "long-house", Name: "Long House", Day: alarms.DayRule{Fixed: true, Start: 7 * time.Hour, End: 19 * time.Hour},
		Places: []alarms.Place{
			{ID: "bench", Probes: probe("bench-1", alarms.Temperature, alarms.Humidity)},
			{ID: "upper", Probes: probe("upper-1", alarms.Temperature, alarms.Humidity)},
			{ID: "lower", Probes: probe("lower-1", alarms.Temperature)},
			{ID: "fan", Probes: probe("fan-1", alarms.Power)},
		},
		Loop: &alarms.Loop{
			House: "bench", Runs: alarms.Evidence{Probe: "fan-1", Quantity: alarms.Power, Above: alarms.At(15)},
			Soil:  &alarms.Ground{Mean: 10.5, Swing: 8, Coldest: 32, Diffusivity: 0.05},
			Pipes: []alarms.Pipe{{Outlet: "upper", Depth: 1.5, Flow: 0.05}, {Outlet: "lower", Depth: 2.3, Flow: 0.0944}},
		},
	}}}
}

// rig feeds an engine and keeps what comes of it.
type rig struct {
	t      *testing.T
	engine *engine.Engine
	at     time.Time
	all    []alarms.Transition
}

func newRig(t *testing.T, p alarms.Plan, start time.Time) *rig {
	t.Helper()
	e, err := engine.New(p)
	if err != nil {
		t.Fatal(err)
	}
	return &rig{t: t, engine: e, at: start}
}

func (r *rig) read(p alarms.ProbeID, q alarms.Quantity, v float64) {
	r.step(alarms.Input{Kind: alarms.ReadingIn, Probe: p, Quantity: q, Value: v})
}

func (r *rig) step(in alarms.Input) {
	in.At = r.at
	r.all = append(r.all, inWords(r.engine, r.engine.Step(in))...)
}

// raised lists the IDs of alarms that were raised and have not returned.
func (r *rig) raised() (ids []string) {
	for _, a := range picture(r.engine).Alarms {
		if a.Active {
			ids = append(ids, string(a.ID))
		}
	}
	return ids
}

func (r *rig) loop() *alarms.LoopPicture { return picture(r.engine).Houses[0].Loop }

// 200 cfm (0.0944 m³/s) that enters at 0 °C and 90 % and leaves at 8 °C, no
// water joining, brings 954.5 W by the enthalpies of moist air (worked by hand
// from ASHRAE Handbook - Fundamentals 2017, chapter 1).
func TestLoopDelivers(t *testing.T) {
	r := newRig(t, loopPlan(), time.Date(2026, 1, 10, 12, 0, 0, 0, time.UTC))
	begin := r.at
	for ; !r.at.After(begin.Add(2 * time.Hour)); r.at = r.at.Add(10 * time.Minute) {
		r.read("bench-1", alarms.Temperature, 0)
		r.read("bench-1", alarms.Humidity, 90)
		r.read("lower-1", alarms.Temperature, 8)
		r.read("fan-1", alarms.Power, 50)
	}
	l := r.loop()
	lower := l.Pipes[1]
	if lower.Watts == nil || math.Abs(*lower.Watts-954.5) > 3 || lower.Basis != ground.OneHumid.String() {
		t.Fatalf("got %v W (%s), want 954.5 with one humidity known", lower.Watts, lower.Basis)
	}
	if l.Pipes[0].Watts != nil || l.Pipes[0].Total.Watched != 0 {
		t.Errorf("a pipe that is not seen brings %v W", l.Pipes[0].Watts)
	}
	if got := lower.Total.Heat; math.Abs(got-2*0.9545) > 0.01 || math.Abs(l.Total.Heat-got) > 1e-9 {
		t.Errorf("got %.3f kWh of the pipe and %.3f in all, want 1.909 in 2 h", got, l.Total.Heat)
	}
	if each, ok := l.Total.EachFanKWh(); !ok || math.Abs(each-954.5/50) > 0.2 || l.Total.Run != 2*time.Hour {
		t.Errorf("each kWh of the fan brought %.1f in %s, want 19.1 in 2 h", each, l.Total.Run)
	}
	earth := loopPlan().Houses[0].Loop.Soil.At(2.3, 10.58)
	if share := 8 / earth; lower.Effectiveness == nil || math.Abs(*lower.Effectiveness-share) > 0.005 {
		t.Errorf("got the effectiveness %v against ground of %.2f °C, want %.3f", lower.Effectiveness, earth, share)
	}
	// No newer reading: heat counts on for a quarter of an hour, not longer.
	r.at = r.at.Add(10 * time.Hour)
	r.step(alarms.Input{Kind: alarms.Tick})
	if more := r.loop().Total.Heat - lower.Total.Heat; more > 0.9545/4+0.01 {
		t.Errorf("%.3f kWh were counted while nothing was heard", more)
	}
}

// season runs the loop for days; drift is what is added to the lower outlet in
// K by day. It wants rest when the fan stands by night.
func (r *rig) season(days int, drift func(day float64) float64) {
	begin := r.at
	soil := loopPlan().Houses[0].Loop.Soil
	for ; r.at.Before(begin.AddDate(0, 0, days)); r.at = r.at.Add(10 * time.Minute) {
		day := r.at.Sub(begin).Hours() / 24
		house := 4 + 2*math.Sin(2*math.Pi*day) + 1.5*math.Sin(day/3)
		at := ground.Day(r.at)
		fan := 55.0
		if h := r.at.Hour(); h == 3 || h == 4 {
			fan = 0
		}
		upper, lower := ground.Leaving(house, soil.At(1.5, at), 0.7), ground.Leaving(house, soil.At(2.3, at), 0.6)+drift(day)
		if fan == 0 {
			upper, lower = house, house
		}
		r.read("bench-1", alarms.Temperature, house)
		r.read("bench-1", alarms.Humidity, 80)
		r.read("upper-1", alarms.Temperature, upper)
		r.read("upper-1", alarms.Humidity, 70)
		r.read("lower-1", alarms.Temperature, lower)
		r.read("fan-1", alarms.Power, fan)
	}
}

// A pipe learns in its first week which share it gives. When its air then
// becomes colder than season and house let expect, by 1.7 K in 42 days, that
// is told once, at low priority; a sound one is left alone. When it has been as
// it was for as long, that is over.
func TestLoopDeclines(t *testing.T) {
	r := newRig(t, loopPlan(), time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC))
	sound := func(float64) float64 { return 0 }
	r.season(8, sound)
	for i, want := range []float64{0.7, 0.6} {
		if got := r.loop().Pipes[i].Learned; got == nil || math.Abs(*got-want) > 0.01 {
			t.Fatalf("pipe %d learned %v, want %.1f", i, got, want)
		}
	}
	r.season(42, func(day float64) float64 { return -0.04 * day })
	if got := r.raised(); len(got) != 1 || got[0] != "long-house/lower/declining" {
		t.Fatalf("got the alarms %v, want the lower pipe's decline alone", got)
	}
	for _, tr := range r.all {
		if tr.Move == alarms.Raise && (tr.Priority != alarms.Low || !strings.Contains(tr.Sentence, "colder in 2") || !strings.Contains(tr.Sentence, "2.3 m")) {
			t.Errorf("told at priority %s: %s", tr.Priority, tr.Sentence)
		}
	}
	r.season(45, sound)
	if got := r.raised(); len(got) != 0 {
		t.Errorf("got the alarms %v after the drift ended", got)
	}
}

// A sound loop through a whole winter tells nobody of anything, and writes one
// line a day.
func TestLoopSoundWinter(t *testing.T) {
	r := newRig(t, loopPlan(), time.Date(2025, 10, 15, 0, 0, 0, 0, time.UTC))
	r.season(150, func(float64) float64 { return 0 })
	days := 0
	for _, tr := range r.all {
		switch {
		case tr.Told():
			t.Fatalf("told: %s", tr.Sentence)
		case tr.Alarm == "long-house/ground-loop" && tr.Reason.Loop.Day != nil:
			days++
		}
	}
	if days != 149 {
		t.Errorf("got %d days in the log, want 149", days)
	}
}

// A house by its own zone: the day ends at its midnight, also when clocks
// change (Europe, 29 March 2026: 23 hours).
func TestLoopDayEndsAtLocalMidnight(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip("no time zones here")
	}
	p := loopPlan()
	p.Houses[0].Day.Zone = zone
	r := newRig(t, p, time.Date(2026, 3, 28, 12, 0, 0, 0, zone))
	r.season(3, func(float64) float64 { return 0 })
	var ends []string
	for _, tr := range r.all {
		if tr.Reason.Loop != nil && tr.Reason.Loop.Day != nil {
			ends = append(ends, tr.Due.In(zone).Format("2 Jan 15:04"))
			if run := tr.Reason.Loop.Day.Watched; len(ends) == 2 && run != 23*time.Hour {
				t.Errorf("the short day was watched for %s, want 23 h", run)
			}
		}
	}
	if got := strings.Join(ends, ", "); got != "29 Mar 00:00, 30 Mar 00:00, 31 Mar 00:00" {
		t.Errorf("days ended at %s", got)
	}
}

func TestLoopPlanIsChecked(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*alarms.Loop)
		want  string
	}{
		"house":    {func(l *alarms.Loop) { l.House = "cellar" }, `air-from: is no place of house`},
		"fan":      {func(l *alarms.Loop) { l.Runs, l.Fan = alarms.Evidence{}, "loop" }, "loop.fan: is no drive of house"},
		"evidence": {func(l *alarms.Loop) { l.Runs.Quantity = alarms.Current }, `running.quantity: is not measured by probe`},
		"above":    {func(l *alarms.Loop) { l.Runs.Above = alarms.Limit{} }, "running.above: is missing: give the power from which"},
		"pipes":    {func(l *alarms.Loop) { l.Pipes = nil }, "has no pipe"},
		"outlet":   {func(l *alarms.Loop) { l.Pipes[1].Outlet = "upper" }, `pipe.upper: is the outlet of two pipes`},
		"circle":   {func(l *alarms.Loop) { l.Pipes[1].Outlet = "bench" }, `pipe.bench: is the place whose air enters the pipes`},
		"depth":    {func(l *alarms.Loop) { l.Pipes[0].Depth = -1.5 }, "depth: must be above 0"},
		"flow":     {func(l *alarms.Loop) { l.Pipes[0].Flow = math.NaN() }, "flow-per-hour: must be above 0"},
		"share":    {func(l *alarms.Loop) { l.Pipes[0].Effectiveness = 80 }, "effectiveness: must be from 0.05 to 1"},
		"soil":     {func(l *alarms.Loop) { l.Soil.Diffusivity = 5 }, "diffusivity"},
		"damper":   {func(l *alarms.Loop) { l.Pipes[0].Damper = alarms.Evidence{Probe: "x", Quantity: alarms.Contact} }, "pipe.upper.damper.probe: is no probe of house"},
		"power":    {func(l *alarms.Loop) { l.FanPower = "bench-1" }, "must be a probe that measures power"},
		"wants":    {func(l *alarms.Loop) { l.WarmBelow, l.CoolAbove = alarms.At(25), alarms.At(20) }, "must not be below warmth-below (got 20 °C, warmth-below is 25 °C)"},
		"pressure": {func(l *alarms.Loop) { l.Pressure = 1013 }, "air-pressure: must be from 50000 Pa to 110000 Pa (got 1013 Pa)"},
	} {
		p := loopPlan()
		c.spoil(p.Houses[0].Loop)
		if _, err := engine.New(p); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q in it", name, err, c.want)
		}
	}
}

// A pipe that the plan describes in another way forgets what it learned, and
// keeps what it brought.
func TestLoopOfAnotherPlan(t *testing.T) {
	r := newRig(t, loopPlan(), time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC))
	r.season(8, func(float64) float64 { return 0 })
	saved, err := r.engine.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	p := loopPlan()
	p.Houses[0].Loop.Pipes[0].Depth = 1.2
	again, err := engine.Restore(p, saved)
	if err != nil {
		t.Fatal(err)
	}
	before, after := r.loop(), picture(again).Houses[0].Loop
	if after.Pipes[0].Learned != nil || after.Pipes[1].Learned == nil || *after.Pipes[1].Learned != *before.Pipes[1].Learned {
		t.Errorf("learned are %v and %v, want none and as before", after.Pipes[0].Learned, after.Pipes[1].Learned)
	}
	for i := range after.Pipes {
		if after.Pipes[i].Total != before.Pipes[i].Total || after.Pipes[i].Total.Heat == 0 {
			t.Errorf("pipe %d brought %+v, want %+v as before", i, after.Pipes[i].Total, before.Pipes[i].Total)
		}
	}
}

// byKnob is loopPlan with a speed knob for its fan, and a valve for its lower pipe.
func byKnob() alarms.Plan {
	p := loopPlan()
	p.Houses[0].Selectors = []alarms.Selector{
		{ID: "knob", Positions: []alarms.Position{{Name: "high"}, {Name: "medium", Flow: 0.0722}, {Name: "low", Flow: 0.05}}},
		{ID: "valve", Positions: []alarms.Position{{Name: "open"}, {Name: "shut", Shut: []alarms.PlaceID{"lower"}}}},
		{ID: "way", Positions: []alarms.Position{{Name: "down", Direction: alarms.Down}, {Name: "up", Direction: alarms.Up}}},
	}
	return p
}

func (r *rig) turn(selector alarms.SelectorID, to string) {
	r.step(alarms.Input{Kind: alarms.SetSelector, House: "long-house", Selector: selector, Position: to, By: "Ada"})
}

// again goes on from a snapshot.
func (r *rig) again(p alarms.Plan) {
	r.t.Helper()
	saved, err := r.engine.Snapshot()
	if err != nil {
		r.t.Fatal(err)
	}
	if r.engine, err = engine.Restore(p, saved); err != nil {
		r.t.Fatal(err)
	}
}

// Slower air takes more of the ground: 1 K at medium, 2 K at low. With the knob noted
// that is no drift from the season, and what was learned at high comes back with high.
// Not noted it is told as a drift.
func TestLoopLearnsForEachSpeed(t *testing.T) {
	by := func(k float64) func(float64) float64 { return func(float64) float64 { return k } }
	for _, noted := range []bool{true, false} {
		r := newRig(t, byKnob(), time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC))
		r.season(16, by(0))
		if noted {
			r.turn("knob", "medium")
			if got := r.loop(); got.Pipes[1].Learned != nil || !strings.Contains(got.Sentence, "Set by hand: 260 m³/h in all.") {
				t.Errorf("at another speed it knows %v: %s", got.Pipes[1].Learned, got.Sentence)
			}
		}
		r.again(byKnob())
		r.season(12, by(1))
		medium := r.loop().Pipes[1].Learned
		if noted {
			r.turn("knob", "low")
		}
		r.season(14, by(2))
		if got := r.raised(); noted == (len(got) > 0) {
			t.Fatalf("noted %t: got the alarms %v", noted, got)
		}
		if !noted {
			continue
		}
		r.again(byKnob())
		r.turn("knob", "high")
		if got := r.loop().Pipes[1].Learned; got == nil || medium == nil || math.Abs(*got-0.6) > 0.01 || *medium >= *got-0.01 && *medium <= *got+0.01 {
			t.Errorf("learned %v at high and %v at medium, want 0.6 and another", got, medium)
		}
		r.season(5, by(0))
		if got := r.raised(); len(got) != 0 {
			t.Errorf("back at high: got the alarms %v", got)
		}
		l := r.loop()
		if !strings.Contains(l.Sums, "By the way in which air passed it brought") || !strings.Contains(l.Sums, "with 520 m³/h") || !strings.Contains(l.Sums, "with 260 m³/h") {
			t.Errorf("the sums are %q", l.Sums)
		}
	}
}

// Medium brings half the air, so half the heat at the same temperatures; a pipe that
// is shut brings nothing, and what the other brings stays the same.
func TestLoopCountsWhatPasses(t *testing.T) {
	r := newRig(t, byKnob(), time.Date(2026, 1, 10, 12, 0, 0, 0, time.UTC))
	read := func(bench, upper, lower float64) *alarms.LoopPicture {
		for range 3 {
			r.at = r.at.Add(10 * time.Minute)
			r.read("fan-1", alarms.Power, 50)
			r.read("bench-1", alarms.Temperature, bench)
			r.read("upper-1", alarms.Temperature, upper)
			r.read("lower-1", alarms.Temperature, lower)
		}
		return r.loop()
	}
	high := read(4, 9, 10)
	r.turn("knob", "medium")
	medium := read(4, 9, 10)
	r.turn("valve", "shut")
	shut := read(4, 9, 10)
	if math.Abs(*medium.Watts/(*high.Watts)-0.5) > 0.001 || *shut.Pipes[1].Watts != 0 || *shut.Watts != *medium.Pipes[0].Watts {
		t.Errorf("got %.0f W at high, %.0f W at medium and %.0f W with a pipe shut", *high.Watts, *medium.Watts, *shut.Watts)
	}
	if !strings.HasPrefix(shut.Pipes[1].Sentence, "The pipe at 2.3 m is shut by hand") {
		t.Error(shut.Pipes[1].Sentence)
	}
	r.turn("valve", "open")
	r.turn("knob", "high")
	r.turn("way", "up")
	up := read(9.5, 4, 4) // the house, at the mouths, is at 4 °C, and the air of both pipes leaves at 9.5 °C
	if up.House == nil || *up.House != 4 || *up.Pipes[0].Temperature != 9.5 || up.Watts == nil || math.Abs(*up.Watts/(*high.Watts)-1) > 0.05 {
		t.Errorf("drawn up it brings %v W from a house of %v °C", up.Watts, up.House)
	}
	if up.Pipes[0].Effectiveness != nil {
		t.Errorf("one pipe of two gives %v of the difference, though their air is mixed", *up.Pipes[0].Effectiveness)
	}
}

func TestSelectorsOfALoopAreChecked(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*alarms.House)
		want  string
	}{
		"no loop":   {func(h *alarms.House) { h.Loop = nil }, "is for a house with a ground loop"},
		"pipe":      {func(h *alarms.House) { h.Selectors[1].Positions[1].Shut = []alarms.PlaceID{"bench"} }, `is no pipe of the ground loop (got "bench")`},
		"flow":      {func(h *alarms.House) { h.Selectors[0].Positions[1].Flow = 25 }, "flow-per-hour: must be from 0 to 20 m³/s (got 25)"},
		"direction": {func(h *alarms.House) { h.Selectors[2].Positions[1].Direction = "round" }, `direction: must be "down" or "up" (got "round")`},
		"twice":     {func(h *alarms.House) { h.Selectors[1].Positions[1].Flow = 0.04 }, "is set by selector"},
	} {
		p := byKnob()
		c.spoil(&p.Houses[0])
		if _, err := engine.New(p); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q in it", name, err, c.want)
		}
	}
}
