package say

import (
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/infer"
)

func TestWhatIsInferredIsSaidToBe(t *testing.T) {
	for want, got := range map[string]string{
		"the exhaust fan probably runs (85 %), inferred from the temperatures inside and outside alone":                                                        believedOf("exhaust fan", infer.Belief{Running: 0.85, Outside: true, Settled: true}),
		"it is not known whether the exhaust fan runs: that cannot be inferred without a probe outside":                                                        believedOf("exhaust fan", infer.Belief{Running: 0.40, Settled: true}),
		"it is not known whether the exhaust fan runs (52 % likely, inferred from the temperatures inside and outside alone)":                                  believedOf("exhaust fan", infer.Belief{Running: 0.52, Outside: true, Settled: true}),
		"the loop fan probably stands still (88 %), inferred from the temperatures inside and outside alone, which the watch has known for less than two days": believedOf("loop fan", infer.Belief{Running: 0.12, Outside: true}),
	} {
		if got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
	}
	for p := 0.0; p <= 1; p += 0.01 {
		for _, b := range []infer.Belief{{Running: p, Outside: true, Settled: true}, {Running: p, Outside: true}, {Running: p}} {
			s := believedOf("fan", b)
			if !strings.Contains(s, "inferred") || strings.Contains(s, "%") != b.Outside {
				t.Errorf("%s: must say that it is inferred, and how likely", s)
			}
			if strings.Contains(s, "probably") != (b.Shown() != control.Unknown) {
				t.Errorf("at %.2f it says %q", p, s)
			}
		}
	}
}

func believedOf(drive string, b infer.Belief) string {
	return drawn{controls: controls{speaker: &speaker{}}, DrivePicture: &alarms.DrivePicture{Name: drive}}.believed(b)
}
