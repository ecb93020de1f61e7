package score

import (
	"testing"
	"time"

	"telltale/alarms"
)

func plan(delay time.Duration) alarms.Plan {
	return alarms.Plan{Houses: []alarms.House{{ID: "h", Day: alarms.DayRule{Fixed: true, Start: 6 * time.Hour, End: 18 * time.Hour}, Places: []alarms.Place{
		{ID: "bench", Bands: []alarms.Band{{Quantity: alarms.Temperature, Delay: delay, Limits: alarms.Limits{Low: alarms.At(5), High: alarms.At(30)}}},
			Probes: []alarms.Probe{{ID: "a", Every: 5 * time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}},
				{ID: "b", Every: 5 * time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}},
		{ID: "outside", Probes: []alarms.Probe{{ID: "o", Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}},
	}}}}
}

var begin = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

func minute(n int) time.Time { return begin.Add(time.Duration(n) * time.Minute) }

// The excursions of a course counted by hand: 31 then 29.8 (not inside by the
// deadband) then 31 is one; 29.5 ends it; probe b keeps one open that a has left.
func TestScanCountsExcursions(t *testing.T) {
	s := New(plan(6*time.Minute), Fan{}, begin, minute(1000))
	for i, v := range []float64{29, 30, 31, 29.8, 31, 33, 29.5, 29, 31, 29, 4.9, 4, 5.2, 5.5} {
		s.Reading(minute(5*i), "a", alarms.Temperature, v)
	}
	s.Reading(minute(100), "b", alarms.Temperature, 32)
	s.Reading(minute(105), "a", alarms.Temperature, 31)
	s.Reading(minute(110), "a", alarms.Temperature, 20)
	s.Reading(minute(115), "b", alarms.Temperature, 29)
	s.Transition(alarms.Transition{Alarm: "h/bench/temperature/high", Move: alarms.Raise, Due: minute(20)})
	got := s.Sum()
	if len(got.Scans) != 2 {
		t.Fatalf("got %+v", got.Scans)
	}
	high, low := got.Scans[0], got.Scans[1]
	if high.Excursions != 3 || high.Short != 1 || high.Worst != 33 || high.Raised != 1 || high.Side != alarms.HighSide {
		t.Errorf("got %+v", high)
	}
	if low.Excursions != 1 || low.Short != 0 || low.Worst != 4 || low.Raised != 0 {
		t.Errorf("got %+v", low)
	}
	if got.Readings != 18 {
		t.Errorf("got %d readings", got.Readings)
	}
}

// As an alarm does, an excursion goes on while any probe is not inside by the
// deadband, and from one probe to another in one moment.
func TestAScanGoesFromProbeToProbe(t *testing.T) {
	s := New(plan(0), Fan{}, begin, minute(1000))
	for _, r := range []struct {
		at    int
		probe alarms.ProbeID
		v     float64
	}{{0, "a", 31}, {0, "b", 29.7}, {5, "a", 29}, {10, "a", 31}, {10, "b", 29}, {15, "a", 29}, {15, "b", 31}, {20, "b", 29}, {25, "a", 31}} {
		s.Reading(minute(r.at), r.probe, alarms.Temperature, r.v)
	}
	if high := s.Sum().Scans[0]; high.Excursions != 2 {
		t.Errorf("got %+v, want one until 20 min and one from 25 min", high)
	}
}

func TestMessagesAndGaps(t *testing.T) {
	s := New(plan(0), Fan{}, begin, begin.Add(14*24*time.Hour))
	for day, n := range []int{1, 0, 3} {
		for range n {
			s.Transition(alarms.Transition{Alarm: "x", Move: alarms.Raise, To: alarms.Unacknowledged, Due: begin.AddDate(0, 0, day)})
		}
	}
	s.Transition(alarms.Transition{Alarm: "x", Move: alarms.Chatter, From: alarms.Unacknowledged, To: alarms.Unacknowledged, Due: minute(1)})
	repeat := alarms.Transition{Alarm: "x", Move: alarms.Realarm, From: alarms.Unacknowledged, To: alarms.Unacknowledged, Due: minute(2)}
	if !repeat.Repeats() || !repeat.Told() {
		t.Fatal("the test means a repeat")
	}
	s.Transition(repeat)
	for _, at := range []int{0, 5, 10, 25, 30, 60, 65} { // 15 min is allowed, 30 are not
		s.Reading(minute(at), "a", alarms.Temperature, 20)
	}
	got := s.Sum()
	if got.Messages != 4 || got.Repeats != 1 || got.Worst != 3 || !got.WorstDay.Equal(begin.AddDate(0, 0, 2)) || got.PerWeek() != 2 {
		t.Errorf("got %+v, %v a week", got, got.PerWeek())
	}
	if len(got.Chattered) != 1 || got.Chattered[0] != (Count{"x", 1}) || len(got.Raised) != 1 || got.Raised[0].Times != 4 {
		t.Errorf("got %+v %+v", got.Chattered, got.Raised)
	}
	if len(got.Gaps) != 1 || got.Gaps[0] != (Gap{"a", alarms.Temperature, 1, 25 * time.Minute, 30 * time.Minute, minute(30)}) {
		t.Errorf("got %+v", got.Gaps)
	}
}

// The fan is held against the inference by every reading inside, whichever
// column of a row comes first; where the record is silent nothing is held.
func TestAgreementCountsBothSides(t *testing.T) {
	for _, fanFirst := range []bool{true, false} {
		s := New(plan(0), FanAside("h", alarms.Speed), begin, minute(5000))
		for i := range 200 {
			at, speed := minute(5*i), 0.0
			if i >= 100 {
				speed = 50
			}
			if i >= 150 {
				at = at.Add(24 * time.Hour)
			}
			if fanFirst && i < 150 {
				s.Aside(at, FanProbe, speed)
			}
			s.Reading(at, "o", alarms.Temperature, 10)
			s.Reading(at, "a", alarms.Temperature, 20)
			if !fanFirst && i < 150 {
				s.Aside(at, FanProbe, speed)
			}
		}
		got := s.Sum()
		if got.Fan == nil || got.Fan.Ran != 50 || got.Fan.Stood != 100 {
			t.Fatalf("got %+v", got.Fan)
		}
	}
}
