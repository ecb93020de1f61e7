package engine_test

import (
	"testing"
	"time"

	"telltale/alarms"
)

// fanRuns lists when the recorded fan was first above 5 % and first at or
// below it again, in the plainest way.
func fanRuns(rows []row) (starts, stops []time.Time) {
	known, on := false, false
	for _, r := range rows {
		v, ok := r.cells["exhaust_fan_pct"]
		if !ok {
			continue
		}
		switch now := v > 5; {
		case known && now && !on:
			starts = append(starts, r.at)
		case known && !now && on:
			stops = append(stops, r.at)
		}
		known, on = true, v > 5
	}
	return starts, stops
}

func TestTheRecordedFanIsLoggedAsItRan(t *testing.T) {
	rows := recorded(t, "fan-house-summer.csv", time.DateTime)
	p := fanHouse()
	h := &p.Houses[0]
	h.Places = append(h.Places, alarms.Place{ID: "wall", Probes: []alarms.Probe{{ID: "fan-1", Every: 5 * time.Minute,
		MissesAllowed: 100, Streams: []alarms.Stream{{Quantity: alarms.Speed}}}}})
	h.Drives = []alarms.Drive{{ID: "exhaust-fan", Kind: alarms.ExhaustFan, Runs: []alarms.Run{{Season: alarms.SeasonWinter, On: true}}, // free in the open season
		Evidence: []alarms.Evidence{{Probe: "fan-1", Quantity: alarms.Speed, Above: alarms.At(5.000001)}}}}
	all := replay(t, p, rows, append(fanColumns, column{"exhaust_fan_pct", "fan-1", alarms.Speed}), nil)
	var ran, stopped []time.Time
	for _, tr := range all {
		if s := tr.Reason.Switched; s != nil {
			if !s.Ran.IsZero() {
				ran = append(ran, s.Ran)
			}
			if !s.Stopped.IsZero() {
				stopped = append(stopped, s.Stopped)
			}
		}
	}
	starts, stops := fanRuns(rows)
	t.Logf("%d starts and %d stops in the file", len(starts), len(stops))
	same := func(what string, got, want []time.Time) {
		if len(got) != len(want) {
			t.Errorf("%s: %d logged, %d in the file", what, len(got), len(want))
		}
		for i := range min(len(got), len(want)) {
			if !got[i].Equal(want[i]) {
				t.Errorf("%s %d: logged %v, in the file %v", what, i, got[i], want[i])
				return
			}
		}
	}
	same("starts", ran, starts)
	same("stops", stopped, stops)
}
