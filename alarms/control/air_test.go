package control

import (
	"testing"
	"time"

	"telltale/alarms/timing"
)

// Two probes that hang together report within seconds of each other and differ
// by some tenths: that says nothing of how fast the house warms, and must not
// keep a switching from being taken.
func TestReadingsOfTwoProbesThatComeTogetherShowNoPace(t *testing.T) {
	var s series
	begin := timing.At(time.Date(2026, time.July, 1, 12, 0, 0, 0, time.UTC))
	for i, r := range []struct {
		after time.Duration
		value float64
	}{
		{0, 30.0}, {30 * time.Second, 30.05}, {30*time.Second + 400*time.Millisecond, 30.35},
		{60 * time.Second, 30.1}, {60*time.Second + 400*time.Millisecond, 30.4},
	} {
		s.take(begin.Add(r.after), r.value)
		if s.N != i+1 {
			t.Fatalf("%d readings kept, want %d", s.N, i+1)
		}
	}
	now := begin.Add(80 * time.Second)
	if !s.follows(now, 0.75) {
		t.Error("a steady house under two probes that differ by 0.3 K is taken to race")
	}
	if s.follows(begin.Add(4*time.Minute), 0.75) {
		t.Error("a reading three minutes old is taken to tell of now")
	}
}

// A house that warms by 3 K a minute is not told by a reading 20 s old.
func TestAPaceThatCountsIsSeen(t *testing.T) {
	var s series
	begin := timing.At(time.Date(2026, time.July, 1, 12, 0, 0, 0, time.UTC))
	for i := range 5 {
		s.take(begin.Add(time.Duration(i)*30*time.Second), 25+1.5*float64(i))
	}
	if now := begin.Add(140 * time.Second); s.follows(now, 0.75) {
		t.Error("1 K in 20 s passes for less than 0.75 K")
	}
}

func TestAJudgeIsShiftedToo(t *testing.T) {
	j := judge(Spec{Stages: []StageSpec{{On: 25, Off: 23, Tolerance: 0.5, Drives: []int{0}}},
		Drives: []DriveSpec{{Kind: ExhaustFan}}})
	at := timing.At(time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC))
	j.Feel(at, 0, 24)
	j.Shift(0, 0.5)
	if v, ok := j.around.bulbs[0].at(at); !ok || v != 24.5 {
		t.Errorf("got %v, %v", v, ok)
	}
}
