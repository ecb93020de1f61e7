package thermal

import (
	"testing"
	"time"
)

// Where the longitude or the clock is many hours off, nothing is said of a house: else it
// would be said for sure that a limit holds, as no sun is seen to come. Where they are
// right, the guard takes nothing away.
func TestUnderAnotherSun(t *testing.T) {
	for _, c := range []struct {
		hours int
		known bool
	}{{0, true}, {-6, false}, {6, false}, {12, false}} {
		asked, known := 0, 0
		for seed := first; seed < first+sample(4, 12); seed++ {
			g, h := opened(seed, ExhaustFan)
			g.astray = time.Duration(c.hours) * time.Hour
			for begin := g.now; g.now.Sub(begin) < 14*24*time.Hour; {
				in := g.read(5*time.Minute, false)
				h.Step(in)
				if g.now.Sub(begin) > 5*24*time.Hour {
					asked++
					known += int(yes(h.Known(ExhaustFan, in.At)))
					if h.astray() == c.known {
						t.Fatalf("seed %d, %d h off: astray is %t at %v, with a wave of %+v", seed, c.hours, h.astray(), in.At, h.inside)
					}
				}
			}
			if !c.known && h.learned >= days && len(h.Figures()) > 0 {
				t.Errorf("seed %d, %d h off: figures are said", seed, c.hours)
			}
		}
		if c.known && known < asked/10 || !c.known && known > 0 {
			t.Errorf("%d h off: known at %d of %d moments", c.hours, known, asked)
		}
	}
}
