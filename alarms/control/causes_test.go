package control

import (
	"strings"
	"testing"
)

func TestCauses(t *testing.T) {
	for _, c := range []struct {
		o           Observed
		cause, ask  string
		electrician bool
	}{
		{Observed{DidNotStart, ExhaustFan, ProbesSilent | DrawsNothing}, "circuit", "breaker", true},
		{Observed{DidNotStart, ExhaustFan, DrawsNothing}, "no current", "plug", true},
		{Observed{DidNotStart, ExhaustFan, DrawsNothing | ContactOpen}, "has not switched", "bulb", true},
		{Observed{DidNotStart, IntakeShutter, 0}, "linkage", "blades", true},
		{Observed{NoEffect, ExhaustFan, DrawsUsually}, "belt", "vents", false},
		{Observed{NoEffect, ExhaustFan, DrawsUsually | CompanionStill}, "shutter", "door", false},
		{Observed{NoEffect, Heater, 0}, "no heat", "fuel", false},
		{Observed{NoEffect, LoopFan, OneOutletLikeHouse}, "damper", "damper", false},
		{Observed{StoodStill, LoopFan, AllOutletsLikeHouse}, "switch", "timer", true},
		{Observed{NoEffect, LoopFan, AllOutletsLikeHouse}, "moves no air", "joint", false},
		{Observed{OpenUnneeded, IntakeShutter, Frost | DriverStill}, "linkage", "ice", false},
		{Observed{DrawsMore, ExhaustFan, DrawsTooMuch}, "held", "switch it off", true},
		{Observed{DrawsLess, ExhaustFan, DrawsTooLittle}, "belt", "unplugged", false},
		{Observed{Contradiction, ExhaustFan, ContactMade | DrawsNothing}, "no current", "really runs", true},
	} {
		cause, check := Causes(c.o)
		if !strings.Contains(cause, c.cause) || !strings.Contains(check, c.ask) || strings.Contains(check, "licensed electrician") != c.electrician {
			t.Errorf("%+v: %q, %q", c.o, cause, check)
		}
	}
}

// Every verdict has a cause whatever shows with it, every row can be reached,
// and nobody is sent behind a cover.
func TestCausesAreWhole(t *testing.T) {
	reached := map[int]bool{}
	for k := DidNotStart; k <= DriftedOff; k++ {
		for d := ExhaustFan; d <= CirculatingFan; d++ {
			for s := Sign(0); s < Frost<<1; s++ {
				o := Observed{k, d, s}
				for i := range causes {
					if causes[i].matches(o) {
						reached[i] = true
						break
					}
				}
			}
			if cause, check := Causes(Observed{k, d, 0}); cause == "" || check == "" {
				t.Errorf("%v of drive kind %d has no cause", k, d)
			}
		}
	}
	for i, c := range causes {
		if !reached[i] {
			t.Errorf("row %d can never be reached: %s", i, c.cause)
		}
		for _, mains := range []string{"open the panel", "bridge", "bypass", "rewire", "multimeter", "remove the cover"} {
			if strings.Contains(c.check, mains) {
				t.Errorf("%q asks for work at mains", c.check)
			}
		}
		if strings.HasSuffix(c.check, ".") || strings.HasSuffix(c.cause, ".") {
			t.Errorf("%q must be a clause", c.check)
		}
	}
}
