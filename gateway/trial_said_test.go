package gateway

import (
	"math/rand/v2"
	"testing"

	"telltale/alarms"
	"telltale/gateway/model"
)

// Whatever the bounds of a dial say, every thermostat within the tolerance
// does: held against plain two-point thermostats over a random walk.
func TestNoRightThermostatContradictsTheBoundsOfItsDial(t *testing.T) {
	for _, mode := range []alarms.Mode{alarms.Cooling, alarms.Heating} {
		rng := rand.New(rand.NewPCG(uint64(mode), 3))
		stage := alarms.Stage{Mode: mode, SetPoint: 20, Differential: 2.8, Tolerance: 1.5}
		b := dialBounds{stages: []alarms.Stage{stage}, early: make([]bool, 1), late: make([]bool, 1)}
		on := make([]bool, 13) // off the dial by -1.5 to 1.5 K
		celsius, calls, idles := 20.0, 0, 0
		for range 20000 {
			celsius += rng.NormFloat64()*0.3 + (20-celsius)*0.005
			called, idle := b.feel(celsius)
			for i := range on {
				set := 20 + (float64(i)-6)*0.25
				switch {
				case mode == alarms.Cooling && celsius >= set, mode == alarms.Heating && celsius <= set:
					on[i] = true
				case mode == alarms.Cooling && celsius <= set-2.8, mode == alarms.Heating && celsius >= set+2.8:
					on[i] = false
				}
				if called && !on[i] || idle && on[i] {
					t.Fatalf("%s at %.2f °C: a thermostat set to %.2f °C is on: %v; the bounds say called %v, idle %v", mode, celsius, set, on[i], called, idle)
				}
			}
			if called {
				calls++
			}
			if idle {
				idles++
			}
		}
		if calls < 1000 || idles < 1000 {
			t.Errorf("%s: called %d times and idle %d times of 20000: too few to try anything", mode, calls, idles)
		}
	}
}

// A true sentence about something else names no fault, and one about a drive
// that no fault touches is false.
func TestWhatNamesAFaultAndWhatItTouches(t *testing.T) {
	plan := alarms.Plan{Houses: []alarms.House{{
		ID: longHouseID,
		Controls: []alarms.Control{
			{ID: "thermostat", Stages: []alarms.Stage{{Drives: []alarms.DriveID{"exhaust"}}}},
			{ID: "loop-thermostat", Stages: []alarms.Stage{{Drives: []alarms.DriveID{"loop"}}}},
		},
		Drives: []alarms.Drive{{ID: "exhaust", Kind: alarms.ExhaustFan}, {ID: "shutter", Kind: alarms.IntakeShutter}, {ID: "loop", Kind: alarms.LoopFan}},
	}}}
	control := func(alarm alarms.AlarmID, drive alarms.DriveID, verdict string) alarms.Transition {
		return alarms.Transition{Alarm: alarm, Reason: alarms.Reason{Rule: alarms.RuleControl, House: longHouseID, Drive: drive, Verdict: verdict}}
	}
	fault := func(k model.Kind) model.Fault { return model.Fault{Kind: k, House: longHouseID} }
	for _, c := range []struct {
		fault          model.Fault
		told           alarms.Transition
		right, touched bool
	}{
		{fault(model.FanDead), control("", "exhaust", "did-not-start"), true, true},
		{fault(model.FanDead), control("", "shutter", "did-not-start"), false, true},
		{fault(model.FanDead), control("", "loop", "did-not-start"), false, false},
		{fault(model.FanStuckOn), control("", "exhaust", "ran-alone"), false, true},
		{fault(model.ShutterStuckClosed), control("", "exhaust", "ran-alone"), true, true},
		{fault(model.DialDrifted), control("", "exhaust", "did-not-start"), false, true},
		{fault(model.DialDrifted), control("long-house/thermostat/drifted-on-1", "", "drifted-on"), true, true},
		{fault(model.DialDrifted), control("long-house/loop-thermostat/drifted-on-1", "", "drifted-on"), false, false},
		{fault(model.LoopFanDead), control("", "loop", "stood-still"), true, true},
		{model.Fault{Kind: model.LoopFanDead, House: lowHouseID}, control("", "loop", "stood-still"), false, false},
		{model.Fault{Kind: model.BreakerTripped, House: longHouseID, Circuit: model.North}, control("", "exhaust", "did-not-start"), false, true},
		{model.Fault{Kind: model.BreakerTripped, House: longHouseID, Circuit: model.South}, control("", "exhaust", "did-not-start"), false, false},
	} {
		if got := names(&plan, c.fault, c.told); got != c.right {
			t.Errorf("%s, told that the %s %s: names it %v, want %v", c.fault, c.told.Reason.Drive, c.told.Reason.Verdict, got, c.right)
		}
		if got := touches(&plan, &c.fault, c.told); got != c.touched {
			t.Errorf("%s, told that the %s %s: touches it %v, want %v", c.fault, c.told.Reason.Drive, c.told.Reason.Verdict, got, c.touched)
		}
	}
	silent := alarms.Transition{Reason: alarms.Reason{Rule: alarms.RuleSilent, House: longHouseID, Circuit: model.North}}
	if !names(&plan, model.Fault{Kind: model.BreakerTripped, House: longHouseID, Circuit: model.North}, silent) {
		t.Error("a silent circuit does not name its tripped breaker")
	}
	if silent.Reason.Probe = "ridge-1"; names(&plan, model.Fault{Kind: model.BreakerTripped, House: longHouseID, Circuit: model.North}, silent) {
		t.Error("one silent probe names a tripped breaker")
	}
}
