package model

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"telltale/alarms"
)

// with returns what is said in ten minutes under a fault, and in the ten
// minutes before.
func with(t *testing.T, f Fault) (before, under []Published) {
	t.Helper()
	start := day(2026, 5, 3, 2)
	s := ThimbleGarth(start, 4)
	before = s.Advance(start.Add(10 * time.Minute))
	if err := s.Switch(f, true); err != nil {
		t.Fatal(err)
	}
	return before, s.Advance(start.Add(20 * time.Minute))
}

func TestLostProbe(t *testing.T) {
	_, list := with(t, Fault{Kind: ProbeLost, Probe: "ridge-1"})
	for _, v := range said(t, list, "ridge-1", alarms.Temperature) {
		if v != -127 {
			t.Errorf("got %v", v)
		}
	}
}

func TestSpikes(t *testing.T) {
	before, list := with(t, Fault{Kind: ProbeSpikes, Probe: "intake-1"})
	usual := said(t, before, "intake-1", alarms.Temperature)[0]
	jumps := 0
	values := said(t, list, "intake-1", alarms.Temperature)
	for _, v := range values {
		if math.Abs(v-usual-15) < 2 {
			jumps++
		} else if math.Abs(v-usual) > 2 {
			t.Errorf("got %v beside the usual %v", v, usual)
		}
	}
	if jumps == 0 || jumps > len(values)/2 {
		t.Errorf("%d jumps in %d readings", jumps, len(values))
	}
}

func TestGarbled(t *testing.T) {
	_, list := with(t, Fault{Kind: ProbeGarbled, Probe: "bench-1"})
	heard := 0
	for _, p := range list {
		if specOf(t, p.Topic).ID != "bench-1" {
			continue
		}
		heard++
		if json.Valid(p.Payload) {
			t.Errorf("%s is good JSON", p.Payload)
		}
	}
	if heard == 0 {
		t.Error("a garbled probe still speaks")
	}
}

func TestWrongClock(t *testing.T) {
	_, list := with(t, Fault{Kind: ProbeClockWrong, Probe: "bench-2"})
	for _, p := range list {
		if spec := specOf(t, p.Topic); spec.ID == "bench-2" {
			if _, at := values(t, spec, p.Payload); at.Sub(p.At) < 25*time.Hour {
				t.Errorf("at %s it says %s", p.At, at)
			}
		}
	}
}

func TestLowBattery(t *testing.T) {
	before, list := with(t, Fault{Kind: ProbeBatteryLow, Probe: "outside-1"})
	if was, is := said(t, before, "outside-1", alarms.Battery)[0], said(t, list, "outside-1", alarms.Battery)[0]; was != 64 || is != 9 {
		t.Errorf("battery %v before, %v under the fault", was, is)
	}
}
