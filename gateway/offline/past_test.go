package offline

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/model"
	"telltale/gateway/store"
)

// A past ends in the very state to which its readings lead a core that hears them one
// by one, what somebody does among them; and it is played into no store of anybody's.
func TestAPastIsJudgedAsItWouldBeLive(t *testing.T) {
	text, err := os.ReadFile("../../cmd/telltale/demo.toml")
	ok(t, err)
	cfg, problems := config.Parse("demo.toml", text, os.LookupEnv)
	ok(t, problems.Err())
	cfg.Store.Directory = filepath.Join(t.TempDir(), "store")
	from := time.Date(2026, time.July, 14, 9, 0, 0, 0, time.UTC)
	to := from.Add(5*time.Hour + 7*time.Minute)
	garden := func() *model.Sim {
		sim, err := model.Tell(model.Story{Start: from, Weather: model.Weather{Fixed: true, Wind: 2, Warmer: 4.5}, Events: []model.Event{
			{After: 2 * time.Hour, Fault: model.Fault{Kind: model.FanDead, House: "long-house"}, On: true},
			{After: time.Hour, Fault: model.Fault{Kind: model.ProbeGarbled, Probe: "bench-2"}, On: true},
		}}, 3)
		ok(t, err)
		return sim
	}
	takes := func(p alarms.Picture) []alarms.Input {
		if len(p.Alarms) < 2 || p.Alarms[0].State != alarms.Unacknowledged {
			return nil
		}
		return []alarms.Input{{Kind: alarms.Acknowledge, Alarm: p.Alarms[0].ID, By: "Ann"}}
	}
	o := PastOptions{Config: cfg, Sim: garden(), From: from, Fine: from, To: to, Tends: takes}
	ok(t, Past(t.Context(), o))
	if err := Past(t.Context(), o); err == nil {
		t.Error("a past is played into a store that is there already")
	}

	s, err := store.Open(cfg.Store.Directory, store.Options{})
	ok(t, err)
	defer func() { ok(t, s.Close()) }()
	snap, _, err := s.Recover()
	ok(t, err)
	kept, err := engine.Restore(cfg.Plan, snap)
	ok(t, err)

	e, err := engine.New(cfg.Plan)
	ok(t, err)
	table, err := decode.New(cfg.Sources)
	ok(t, err)
	sim, made, acts := garden(), 0, 0
	step := func(in alarms.Input) { made += len(e.Step(in)) }
	step(alarms.Input{Kind: alarms.LinkUp, At: from})
	for at := from; at.Before(to); {
		at = at.Add(min(pastSlice, to.Sub(at)))
		for _, m := range sim.Advance(at) {
			bad := table.Decode(m.Topic, m.Payload, m.At, func(v decode.Value) {
				step(alarms.Input{At: m.At, Kind: alarms.ReadingIn, Probe: v.Probe, Quantity: v.Quantity, Value: v.Value, Measured: v.Measured})
			})
			for _, b := range bad {
				for _, q := range b.Quantities {
					step(alarms.Input{At: m.At, Kind: alarms.GarbledIn, Probe: b.Probe, Quantity: q, Note: b.Detail})
				}
			}
		}
		step(alarms.Input{Kind: alarms.Tick, At: at})
		for _, in := range takes(e.Picture()) {
			in.At = at
			step(in)
			acts++
		}
	}
	want, err := e.Snapshot()
	ok(t, err)
	if got, err := kept.Snapshot(); err != nil || !bytes.Equal(got, want) {
		t.Errorf("the store keeps (%v)\n%s\nwant\n%s", err, got, want)
	}
	log, err := s.Log.Transitions(t.Context(), store.LogQuery{Limit: 10000})
	ok(t, err)
	if len(log) != made || made < 10 || acts == 0 {
		t.Errorf("the log has %d transitions, want %d, some of them after %d acts", len(log), made, acts)
	}
	if n, err := s.Outbox.Counts(t.Context()); err != nil || n != (store.OutboxCounts{}) {
		t.Errorf("of telling there is %+v (%v), want nothing", n, err)
	}
}

func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
