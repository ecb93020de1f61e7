package lookback

import (
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/words"
)

// Days on the calendar are cut at midnight there, also those of 23 and 25 hours
// (see scenes.Berlin).
func TestCutsAreMidnights(t *testing.T) {
	w := words.New(alarms.Words{Zone: scenes.Berlin()})
	for _, z := range zooms {
		if !z.inCells() {
			continue
		}
		s, cuts := stretchOf(w, z, time.Date(2026, 11, 3, 9, 0, 0, 0, w.Zone), time.Date(2024, 2, 20, 15, 0, 0, 0, time.UTC))
		for i, c := range cuts {
			if h, m, _ := c.In(w.Zone).Clock(); h != 0 || m != 0 {
				t.Fatalf("%s: cut %d is at %s", z.Key, i, c)
			}
			if i > 0 && !c.After(cuts[i-1]) {
				t.Fatalf("%s: cut %d is not after the one before", z.Key, i)
			}
		}
		if !s.From.Equal(cuts[0]) || !s.To.Equal(cuts[len(cuts)-1]) {
			t.Errorf("%s: got %v, the cuts are %s to %s", z.Key, s, cuts[0], cuts[len(cuts)-1])
		}
		switch z.Key {
		case "month":
			if len(cuts) != 33 || cuts[23].Sub(cuts[22]) != 25*time.Hour {
				t.Errorf("month: got %d cuts, the day of 25 October %s long", len(cuts), cuts[23].Sub(cuts[22]))
			}
		case "all":
			if cuts[0].Weekday() != time.Monday || cuts[1].Sub(cuts[0]) != 7*24*time.Hour {
				t.Errorf("all: begins on a %s in steps of %s, want weeks from Monday", cuts[0].Weekday(), cuts[1].Sub(cuts[0]))
			}
		}
	}
}

// Less than a day is as long as it says, also where the clocks are put forward or back.
func TestPartsOfADay(t *testing.T) {
	w := words.New(alarms.Words{Zone: scenes.Berlin()})
	until := time.Date(2026, 10, 25, 4, 0, 0, 0, w.Zone) // an hour after they were put back
	for key, want := range map[string]time.Duration{"hour": time.Hour, "6-hours": 6 * time.Hour} {
		z := zoomOf(key)
		s, cuts := stretchOf(w, z, until, time.Time{})
		if cuts != nil || !s.To.Equal(until) || s.Len() != want || !z.add(until, -1).Equal(s.From) || z.halfAfter(s.From).Sub(s.From) != want/2 {
			t.Errorf("%s: got %v (%s), want %s until %v", key, s, s.Len(), want, until)
		}
	}
}
