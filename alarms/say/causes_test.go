package say

import (
	"regexp"
	"strings"
	"testing"

	"telltale/alarms/control"
)

func TestCauses(t *testing.T) {
	for _, c := range []struct {
		o           control.Observed
		cause, ask  string
		electrician bool
	}{
		{control.Observed{Kind: control.DidNotStart, Drive: control.ExhaustFan, Signs: control.FeedLost | control.DrawsNothing}, "circuit", "breaker", true},
		{control.Observed{Kind: control.DidNotStart, Drive: control.ExhaustFan, Signs: control.DrawsNothing}, "no current", "plug", true},
		{control.Observed{Kind: control.DidNotStart, Drive: control.ExhaustFan, Signs: control.DrawsNothing | control.ContactOpen}, "not switched on", "bulb", true},
		{control.Observed{Kind: control.DidNotStart, Drive: control.IntakeShutter, Signs: 0}, "linkage", "blades", true},
		{control.Observed{Kind: control.NoEffect, Drive: control.ExhaustFan, Signs: control.DrawsUsually}, "belt", "vents", false},
		{control.Observed{Kind: control.NoEffect, Drive: control.ExhaustFan, Signs: control.DrawsUsually | control.CompanionStill}, "shutter", "door", false},
		{control.Observed{Kind: control.NoEffect, Drive: control.Heater, Signs: 0}, "no heat", "fuel", false},
		{control.Observed{Kind: control.NoEffect, Drive: control.LoopFan, Signs: control.OneOutletLikeHouse}, "damper", "damper", false},
		{control.Observed{Kind: control.StoodStill, Drive: control.LoopFan, Signs: control.AllOutletsLikeHouse}, "switch", "timer", true},
		{control.Observed{Kind: control.NoEffect, Drive: control.LoopFan, Signs: control.AllOutletsLikeHouse}, "moves no air", "joint", false},
		{control.Observed{Kind: control.OpenUnneeded, Drive: control.IntakeShutter, Signs: control.Frost | control.DriverStill}, "linkage", "ice", false},
		{control.Observed{Kind: control.DrawsMore, Drive: control.ExhaustFan, Signs: control.DrawsTooMuch}, "labours a little", "leave it running", true},
		{control.Observed{Kind: control.DrawsMore, Drive: control.ExhaustFan, Signs: control.DrawsTooMuch | control.DrawsFar}, "held", "switch it off", true},
		{control.Observed{Kind: control.DrawsMore, Drive: control.ExhaustFan, Signs: control.DrawsTooMuch | control.DrawsFar | control.NeedsAir}, "held", "open doors and vents, for the house needs air now; then switch it off", true},
		{control.Observed{Kind: control.DrawsMore, Drive: control.Heater, Signs: control.DrawsTooMuch | control.DrawsFar | control.NeedsWarmth}, "held", "shut doors, vents and shutter, for the house needs its warmth now; then switch it off", false},
		{control.Observed{Kind: control.DrawsMore, Drive: control.Heater, Signs: control.DrawsTooMuch | control.DrawsFar | control.NeedsAir}, "held", "switch it off", false},
		{control.Observed{Kind: control.SeasonUnfit, Drive: control.ExhaustFan, Signs: control.NeedsAir}, "covers are off", "leave it running", false},
		{control.Observed{Kind: control.RanBarred, Drive: control.ExhaustFan, Signs: control.NeedsAir}, "left on", "open doors", false},
		{control.Observed{Kind: control.RanBarred, Drive: control.ExhaustFan, Signs: control.Covered | control.NeedsAir}, "behind the cover", "open doors and vents, for the house needs air now; then switch it off", false},
		{control.Observed{Kind: control.SeasonUnfit, Drive: control.ExhaustFan, Signs: control.Covered | control.NeedsAir}, "the cover is still on", "open a door, then take the cover off, and leave it running", false},
		{control.Observed{Kind: control.RanAlone, Drive: control.ExhaustFan, Signs: control.Frost}, "did not open", "if the thermostat does not ask for it", true},
		{control.Observed{Kind: control.DrawsLess, Drive: control.ExhaustFan, Signs: control.DrawsTooLittle}, "belt", "unplugged", false},
		{control.Observed{Kind: control.Contradiction, Drive: control.ExhaustFan, Signs: control.ContactMade | control.DrawsNothing}, "no current", "really runs", true},
	} {
		cause, check := Locale{}.likeliest(c.o)
		if !strings.Contains(cause, c.cause) || !strings.Contains(check, c.ask) || strings.Contains(check, "licensed electrician") != c.electrician {
			t.Errorf("%+v: %q, %q", c.o, cause, check)
		}
	}
}

// Every verdict has a cause whatever shows with it, every row can be reached,
// and nobody is sent behind a cover.
func TestCausesAreWhole(t *testing.T) {
	reached, tried := map[int]bool{}, map[[2]int]bool{} // rows; rows of a kind of drive
	for k := control.DidNotStart; k < control.Kinds; k++ {
		for d := control.ExhaustFan; d <= control.Misting; d++ {
			const all = control.Frost << 1 // the first signs; of the others each by itself
			for i := range 4 * int(all) {
				o := control.Observed{Kind: k, Drive: d, Signs: control.Sign(i)%all | []control.Sign{0, control.DrawsFar, control.Timed, control.Covered}[i/int(all)]}
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
			if cause, check := (Locale{}).likeliest(control.Observed{Kind: k, Drive: d, Signs: 0}); cause == "" || check == "" {
				t.Errorf("%v of drive kind %d has no cause", k, d)
			}
		}
	}
	for i, c := range causes {
		if !reached[i] {
			t.Errorf("row %d can never be reached: %s", i, c.cause)
		}
		for _, mains := range []string{"open the panel", "bridge", "bypass", "rewire", "multimeter", "remove the cover"} {
			if strings.Contains(string(c.check), mains) {
				t.Errorf("%q asks for work at mains", c.check)
			}
		}
		if strings.HasSuffix(string(c.check), ".") || strings.HasSuffix(string(c.cause), ".") {
			t.Errorf("%q must be a clause", c.check)
		}
	}
}

var asksToStop = regexp.MustCompile(`switch(ed)? (it|the fan|the shutter|fan and shutter|all)? ?off|unplug|leave it off`)

// stoppedFirst reports whether the check of o, in a house that needs air or
// warmth, asks to stop what gives it before it says what to open or to shut.
func stoppedFirst(o control.Observed) bool {
	for need, first := range map[control.Sign]string{control.NeedsAir: "open ", control.NeedsWarmth: "shut doors"} {
		gives := o.Drive < control.GrowLight && need == control.NeedsAir && o.Drive != control.Heater || o.Drive < control.GrowLight && need == control.NeedsWarmth && o.Drive != control.ExhaustFan && o.Drive != control.IntakeShutter
		p := o
		p.Signs |= need
		_, check := Locale{}.likeliest(p)
		stop := asksToStop.FindStringIndex(check)
		if i := strings.Index(check, first); gives && stop != nil && (i < 0 || i > stop[0]) {
			return true
		}
	}
	return false
}
