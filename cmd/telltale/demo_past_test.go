package main

import (
	"maps"
	"os"
	"path/filepath"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/gateway/config"
	"telltale/gateway/store"
)

// TestTheDemoHasAPast looks at what is kept of the days before the page opens: a
// past with a log of its own, nothing left over of it, and nobody told.
func TestTheDemoHasAPast(t *testing.T) {
	if testing.Short() {
		t.Skip("lives through seven days")
	}
	t.Parallel()
	cfg, problems := config.Parse("demo.toml", demoConfig, os.LookupEnv)
	ok(t, problems.Err())
	cfg.Store.Directory = filepath.Join(t.TempDir(), "store")
	d := &demo{out: t.Output()}
	_, err := d.past(t.Context(), cfg)
	ok(t, err)
	s, err := store.Open(cfg.Store.Directory, store.Options{})
	ok(t, err)
	defer func() { ok(t, s.Close()) }()

	began, err := s.History.Began(t.Context())
	ok(t, err)
	opens := demoOpens
	if first := opens.Add(-demoPast); !began.Equal(first.Truncate(24 * time.Hour)) { // it is kept by days
		t.Errorf("the history begins at %v, want the day of %v", began, first)
	}
	for day := opens.Add(-demoPast); day.Before(opens); day = day.Add(24 * time.Hour) {
		for _, p := range cfg.Plan.Houses[0].Places[0].Probes {
			got, err := s.History.Readings(t.Context(), p.ID, alarms.Temperature, day, day.Add(24*time.Hour), 10000)
			ok(t, err)
			if len(got) < 600 { // a coarse one, of which one probe was silent for an hour
				t.Errorf("from %v on a day has %d temperatures of %s", day, len(got), p.ID)
			}
		}
	}

	const heat = alarms.AlarmID("long-house/bench/temperature/high")
	log, err := s.Log.Transitions(t.Context(), store.LogQuery{Limit: 10000})
	ok(t, err)
	days, switched, raised := map[string]int{}, map[string]int{}, map[alarms.AlarmID]int{}
	for _, tr := range log {
		switch {
		case tr.Alarm == "long-house/ground-loop" && tr.Reason.Loop != nil && tr.Reason.Loop.Day != nil:
			days[tr.Due.Format(time.DateOnly)]++
		case tr.Reason.Rule == alarms.RuleSwitching:
			switched[tr.Due.Format(time.DateOnly)]++
		}
		if tr.Move == alarms.Raise && tr.Alarm != heat+"/day" && tr.Alarm != heat+"/ahead" { // what is expected may turn on a hair
			raised[tr.Alarm]++
		}
	}
	if len(days) != 7 || len(switched) < 7 {
		t.Errorf("the log has the loop of %v and switchings of %v, want each of seven days", days, switched)
	}
	want := map[alarms.AlarmID]int{"long-house/bench/bench-2/silent": 1, "long-house/exhaust/ran-alone": 1, "long-house/exhaust/draws-more": 1}
	if !maps.Equal(raised, want) {
		t.Errorf("raised were %v, want %v", raised, want)
	}
	if n, err := s.Outbox.Counts(t.Context()); err != nil || n != (store.OutboxCounts{}) {
		t.Errorf("of telling there is %+v (%v), want nothing", n, err)
	}

	snap, inputs, err := s.Recover()
	ok(t, err)
	for in, err := range inputs {
		t.Errorf("%v is left in the journal (%v), want the state laid down", in, err)
	}
	e, err := engine.Restore(cfg.Plan, snap)
	ok(t, err)
	if p := e.Picture(); len(p.Alarms) > 0 || !p.At.Equal(opens) {
		t.Errorf("at %v these alarms are left over: %v", p.At, p.Alarms)
	}
}
