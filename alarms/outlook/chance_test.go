package outlook

import (
	"testing"
	"time"
)

// flat is an outlook of which each side has one value at each horizon, give or take a
// little.
func flat(highest, lowest [horizons]float64) *Outlook {
	var o Outlook
	for h := range horizons {
		for i, share := range Quantiles {
			o.Sides[Highest][h].Quantiles[i] = highest[h] + share - 0.5
			o.Sides[Lowest][h].Quantiles[i] = lowest[h] + share - 0.5
		}
	}
	return &o
}

// A limit that holds only later is not reached by what passes before, but by what comes
// since, and by what is beyond it all along.
func TestChanceOfALimitThatHoldsLater(t *testing.T) {
	for name, c := range map[string]struct {
		o           *Outlook
		side        int
		limit       float64
		after       time.Duration
		least, most float64
	}{
		"a peak that passes before":       {flat([4]float64{35, 35, 35, 35}, [4]float64{33, 30, 25, 20}), Highest, 32, 45 * time.Minute, 0, 0.01},
		"the same where it holds already": {flat([4]float64{35, 35, 35, 35}, [4]float64{33, 30, 25, 20}), Highest, 32, 0, 0.99, 1},
		"it comes since":                  {flat([4]float64{28, 29, 30, 34}, [4]float64{27, 27, 27, 27}), Highest, 32, time.Hour, 0.98, 1},
		"it stays beyond":                 {flat([4]float64{35, 35, 35, 35}, [4]float64{34, 34, 33.5, 33}), Highest, 32, 90 * time.Minute, 0.9, 1},
		"cold later":                      {flat([4]float64{15, 15, 15, 15}, [4]float64{14, 13.5, 13, 10}), Lowest, 12, 75 * time.Minute, 0.98, 1},
		"cold all along":                  {flat([4]float64{9, 9, 9, 9}, [4]float64{8, 8, 8, 8}), Lowest, 12, 75 * time.Minute, 0.98, 1},
		"cold now, warm by then":          {flat([4]float64{10, 13, 16, 18}, [4]float64{8, 8, 8, 8}), Lowest, 12, 75 * time.Minute, 0, 0.01},
		"it holds after all":              {flat([4]float64{35, 35, 35, 35}, [4]float64{34, 34, 34, 34}), Highest, 32, 2 * time.Hour, 0, 0},
	} {
		if p := c.o.ChanceFrom(c.side, c.limit, c.after); p < c.least || p > c.most {
			t.Errorf("%s: %.3f, want %.2f to %.2f", name, p, c.least, c.most)
		}
	}
	if p := (&Outlook{Lacks: Days}).ChanceFrom(Highest, 30, 0); p != 0 {
		t.Errorf("nothing is known, and it is likely with %g", p)
	}
}
