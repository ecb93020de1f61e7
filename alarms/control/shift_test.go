package control

import (
	"testing"
	"time"
)

// A probe put right by 3 K looks like a start of the fan, unless it is said.
func TestAShiftIsNoBreak(t *testing.T) {
	changes := func(shift bool) (n int) {
		s := New(Options{Latitude: 50})
		at := time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)
		wave := [...]float64{0, 0.1, 0, -0.1}
		for i := range 24 * 60 / 5 {
			s.Step(at.Add(time.Duration(i)*5*time.Minute), 24+wave[i%4], 20)
		}
		if shift {
			s.Shift(-3)
		}
		for i := range 12 {
			_, c := s.Step(s.Last.Add(5*time.Minute), 21+wave[i%4], 20)
			if c.Sharp {
				n++
			}
		}
		return n
	}
	if changes(false) == 0 {
		t.Error("a fall of 3 K shows no break: this tests nothing")
	}
	if n := changes(true); n != 0 {
		t.Errorf("%d breaks where the probe was put right", n)
	}
}

func TestAJudgeIsShiftedToo(t *testing.T) {
	j, err := NewJudge(Spec{Stages: []StageSpec{{On: 25, Off: 23, Tolerance: 0.5, Drives: []int{0}}},
		Drives: []DriveSpec{{Kind: ExhaustFan}}})
	if err != nil {
		t.Fatal(err)
	}
	at := At(time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC))
	j.Temperature(at, 24)
	j.Shift(0, 0.5)
	if v, ok := j.state.Temp.at(at); !ok || v != 24.5 {
		t.Errorf("got %v, %v", v, ok)
	}
}
