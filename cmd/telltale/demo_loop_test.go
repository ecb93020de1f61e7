package main

import (
	"os"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/config"
	"telltale/gateway/model"
)

// The demo's ground loop in the simulated garden, four days in winter and four
// in summer: it warms or cools by and large as the season wants (the winter sun
// makes the house warmer than the ground for some hours), and no pipe is accused
// of anything.
func TestTheDemosLoopWarmsAndCools(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		start time.Time
		warms bool
	}{
		{"winter", time.Date(2026, time.January, 12, 0, 0, 0, 0, time.UTC), true},
		{"summer", time.Date(2026, time.July, 12, 0, 0, 0, 0, time.UTC), false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			days, last := loopDays(t, c.start, 4)
			for _, d := range days {
				if gain := d.Heat - d.Cold; c.warms && gain < 3 || !c.warms && gain > -10 {
					t.Errorf("a day brought %.2f kWh of heat and %.2f kWh of cold", d.Heat, d.Cold)
				}
				if len(d.Pipes) != 2 || d.Run < time.Hour || d.Watched < 23*time.Hour {
					t.Errorf("got the day %+v, want two pipes, an hour of running or more, and nothing unwatched", d)
				}
			}
			for _, p := range last.Pipes {
				if p.Learned != nil && (*p.Learned < 0.3 || *p.Learned > 1) {
					t.Errorf("%s learned an effectiveness of %.2f", p.Outlet, *p.Learned)
				}
			}
			if len(days) != 4 || !last.Known || last.Total.Run < 30*time.Hour {
				t.Errorf("got %d days, and the loop %+v", len(days), last)
			}
		})
	}
}

// loopDays feeds the watch with what is true of Long House and returns what
// the log says of each day, and how the loop stands at the end.
func loopDays(t *testing.T, start time.Time, days int) ([]alarms.LoopDay, *alarms.LoopPicture) {
	t.Helper()
	cfg, problems := config.Parse("demo.toml", demoConfig, os.LookupEnv)
	ok(t, problems.Err())
	e, err := engine.New(cfg.Plan)
	ok(t, err)
	sim := model.ThimbleGarth(start, 7)
	var out []alarms.LoopDay
	step := func(in alarms.Input) {
		for _, tr := range say.Step(e, in) {
			switch {
			case tr.Alarm == "long-house/ground-loop" && tr.Reason.Loop.Day != nil:
				out = append(out, *tr.Reason.Loop.Day)
			case tr.Reason.Rule == alarms.RuleLoop && tr.Move != alarms.Note:
				t.Errorf("%s", tr.Sentence)
			}
		}
	}
	for at := start; !at.After(start.AddDate(0, 0, days)); at = at.Add(time.Minute) {
		sim.Advance(at)
		h := sim.Truth().House("long-house")
		watts := 0.0
		if h.Loop {
			watts = 55
		}
		for _, r := range []alarms.Input{
			{Probe: "bench-1", Quantity: alarms.Temperature, Value: h.Temperature},
			{Probe: "bench-1", Quantity: alarms.Humidity, Value: h.Humidity},
			{Probe: "loop-shallow-1", Quantity: alarms.Temperature, Value: h.Outlets[0].Temperature},
			{Probe: "loop-shallow-1", Quantity: alarms.Humidity, Value: h.Outlets[0].Humidity},
			{Probe: "loop-deep-1", Quantity: alarms.Temperature, Value: h.Outlets[1].Temperature},
			{Probe: "loop-deep-1", Quantity: alarms.Humidity, Value: h.Outlets[1].Humidity},
			{Probe: "loop-fan-1", Quantity: alarms.Power, Value: watts},
		} {
			r.At, r.Kind = at, alarms.ReadingIn
			step(r)
		}
	}
	return out, e.Picture().Houses[0].Loop
}
