package control

import (
	"testing"
	"time"

	"telltale/alarms/timing"
)

// Four turns of 10 minutes in 30 are a third of the time; a quarter off that is wrong, and
// before four are known nothing is said.
func TestTurns(t *testing.T) {
	for ran, want := range map[time.Duration][2]bool{
		10 * time.Minute: {true, false}, 7 * time.Minute: {false, true}, 8 * time.Minute: {false, false}, 13 * time.Minute: {false, true},
	} {
		var all turns
		now := timing.Instant(time.Hour)
		for range turnsKept + 2 {
			all.start(now)
			all.stop(now.Add(ran))
			now = now.Add(30 * time.Minute)
		}
		if good, wrong := all.against(1.0 / 3); good != want[0] || wrong != want[1] {
			t.Errorf("%v in 30 min: share %v, good %v, wrong %v", ran, all.share(), good, wrong)
		}
	}
	var few turns
	few.start(1)
	few.stop(2)
	if good, wrong := few.against(0.5); good || wrong {
		t.Error("one turn says nothing")
	}
}

// The starts of the last hour, and no more than are needed.
func TestStarts(t *testing.T) {
	var s starts
	for i := range 12 {
		s = s.add(timing.Instant(i+1).Add(time.Duration(i)*10*time.Minute), 10)
	}
	if len(s) != 6 {
		t.Errorf("every 10 minutes make %d an hour", len(s))
	}
	for i := range 40 {
		s = s.add(s[len(s)-1].Add(time.Second), 10)
		if len(s) > 21 {
			t.Fatalf("%d are kept after %d", len(s), i)
		}
	}
}
