package control

import (
	"regexp"
	"strings"
	"testing"
)

func TestCauses(t *testing.T) {
	for _, c := range []struct {
		o           Observed
		cause, ask  string
		electrician bool
	}{
		{Observed{DidNotStart, ExhaustFan, FeedLost | DrawsNothing}, "circuit", "breaker", true},
		{Observed{DidNotStart, ExhaustFan, DrawsNothing}, "no current", "plug", true},
		{Observed{DidNotStart, ExhaustFan, DrawsNothing | ContactOpen}, "not switched on", "bulb", true},
		{Observed{DidNotStart, IntakeShutter, 0}, "linkage", "blades", true},
		{Observed{NoEffect, ExhaustFan, DrawsUsually}, "belt", "vents", false},
		{Observed{NoEffect, ExhaustFan, DrawsUsually | CompanionStill}, "shutter", "door", false},
		{Observed{NoEffect, Heater, 0}, "no heat", "fuel", false},
		{Observed{NoEffect, LoopFan, OneOutletLikeHouse}, "damper", "damper", false},
		{Observed{StoodStill, LoopFan, AllOutletsLikeHouse}, "switch", "timer", true},
		{Observed{NoEffect, LoopFan, AllOutletsLikeHouse}, "moves no air", "joint", false},
		{Observed{OpenUnneeded, IntakeShutter, Frost | DriverStill}, "linkage", "ice", false},
		{Observed{DrawsMore, ExhaustFan, DrawsTooMuch}, "labours a little", "leave it running", true},
		{Observed{DrawsMore, ExhaustFan, DrawsTooMuch | DrawsFar}, "held", "switch it off", true},
		{Observed{DrawsMore, ExhaustFan, DrawsTooMuch | DrawsFar | NeedsAir}, "held", "open doors and vents, for the house needs air now; then switch it off", true},
		{Observed{DrawsMore, Heater, DrawsTooMuch | DrawsFar | NeedsWarmth}, "held", "shut doors, vents and shutter, for the house needs its warmth now; then switch it off", false},
		{Observed{DrawsMore, Heater, DrawsTooMuch | DrawsFar | NeedsAir}, "held", "switch it off", false},
		{Observed{SeasonUnfit, ExhaustFan, NeedsAir}, "covers are off", "leave it running", false},
		{Observed{RanBarred, ExhaustFan, NeedsAir}, "left on", "open doors", false},
		{Observed{RanBarred, ExhaustFan, Covered | NeedsAir}, "behind the cover", "open doors and vents, for the house needs air now; then switch it off", false},
		{Observed{SeasonUnfit, ExhaustFan, Covered | NeedsAir}, "the cover is still on", "open a door, then take the cover off, and leave it running", false},
		{Observed{RanAlone, ExhaustFan, Frost}, "did not open", "if the thermostat does not ask for it", true},
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
	reached, tried := map[int]bool{}, map[[2]int]bool{} // rows; rows of a kind of drive
	for k := DidNotStart; k < Kinds; k++ {
		for d := ExhaustFan; d <= Misting; d++ {
			const all = Frost << 1 // the first signs; of the others each by itself
			for i := range 4 * int(all) {
				o := Observed{k, d, Sign(i)%all | []Sign{0, DrawsFar, Timed, Covered}[i/int(all)]}
				for i := range causes {
					if causes[i].matches(o) {
						if at := [2]int{i, int(d)}; !tried[at] && stoppedFirst(o) {
							t.Fatalf("%v of drive kind %d, signs %b: it asks to stop what the house needs", k, d, o.Signs)
						}
						reached[i], tried[[2]int{i, int(d)}] = true, true
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

var asksToStop = regexp.MustCompile(`switch(ed)? (it|the fan|the shutter|fan and shutter|all)? ?off|unplug|leave it off`)

// stoppedFirst reports whether the check of o, in a house that needs air or
// warmth, asks to stop what gives it before it says what to open or to shut.
func stoppedFirst(o Observed) bool {
	for need, first := range map[Sign]string{NeedsAir: "open ", NeedsWarmth: "shut doors"} {
		gives := o.Drive < GrowLight && need == NeedsAir && o.Drive != Heater || o.Drive < GrowLight && need == NeedsWarmth && o.Drive != ExhaustFan && o.Drive != IntakeShutter
		p := o
		p.Signs |= need
		_, check := Causes(p)
		stop := asksToStop.FindStringIndex(check)
		if i := strings.Index(check, first); gives && stop != nil && (i < 0 || i > stop[0]) {
			return true
		}
	}
	return false
}
