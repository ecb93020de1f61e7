package control

import (
	"strings"
	"testing"
)

func TestSigns(t *testing.T) {
	s := measured()
	s.Drives[0].With = []int{1}
	s.Drives = append(s.Drives, DriveSpec{Kind: IntakeShutter, Evidence: []EvidenceSpec{{What: EndSwitch}}})
	j := judge(s)
	for line := range strings.Lines(`08:00 air 31
08:00 outside 3
08:00 drive 0 evidence 0 is 0
08:00 drive 0 evidence 1 is 0
08:00 drive 1 evidence 0 is 0
`) {
		tell(t, j, line)
	}
	if got, want := j.Signs(0), DrawsNothing|ContactOpen|CompanionStill|Frost|NeedsAir|NeedsWarmth; got != want {
		t.Errorf("signs %b, want %b", got, want)
	}
	if got, want := j.Signs(1), DriverStill|Frost|NeedsAir|NeedsWarmth; got != want {
		t.Errorf("signs of the shutter %b, want %b", got, want)
	}
	tell(t, j, "09:00 drive 0 evidence 0 is 1")
	tell(t, j, "09:01 drive 0 evidence 1 is 5")
	if got, want := j.Signs(0), ContactMade|DrawsTooMuch|DrawsFar|CompanionStill|Frost|NeedsAir|NeedsWarmth; got != want {
		t.Errorf("signs %b, want %b", got, want)
	}
}
