package infer

import (
	"math"
	"testing"
	"time"
)

// Noon is learned from the wave of the temperature, whatever the clock says.
func TestNoonIsLearned(t *testing.T) {
	for _, zone := range []*time.Location{time.UTC, time.FixedZone("west", -8*3600), time.FixedZone("east", 9*3600)} {
		for _, outside := range []bool{true, false} {
			s := New(Options{})
			for _, r := range home.simulate(2, 21) { // its sun is highest at 12 of its own clock
				if !outside {
					r.outside = math.NaN()
				}
				s.Step(r.at.In(zone), r.inside, r.outside)
			}
			late := insideLate
			if outside {
				late = outsideLate
			}
			if got := math.Mod(s.Noon.hour(s.Last, late)+48, 24); math.Abs(got-12) > 1.6 {
				t.Errorf("zone %v, outside %v: noon at %.2f, want 12 within an hour and a half", zone, outside, got)
			}
		}
	}
}

// The height of the sun at noon is 90° less latitude plus declination: 23.4°
// at the solstices, 0 at the equinoxes (any almanac).
func TestHeightOfTheSun(t *testing.T) {
	for _, c := range []struct {
		latitude float64
		month    time.Month
		day      int
		want     float64
	}{{40, 6, 21, 73.4}, {40, 12, 21, 26.6}, {52, 3, 21, 38}, {-34, 12, 21, 79.4}, {70, 12, 21, 0}} {
		got := math.Asin(height(c.latitude, time.Date(2026, c.month, c.day, 12, 0, 0, 0, time.UTC), 0)) * 180 / math.Pi
		if math.Abs(got-c.want) > 0.8 {
			t.Errorf("%v° on %v %d: %.1f°, want %v", c.latitude, c.month, c.day, got, c.want)
		}
	}
	if height(40, time.Date(2026, 6, 21, 0, 0, 0, 0, time.UTC), 12) != 0 {
		t.Error("no sun at midnight")
	}
}
