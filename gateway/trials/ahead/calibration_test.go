package ahead_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"telltale/alarms/outlook"
)

const horizons = len(outlook.Horizons)

// bin is how often came what was said to be about so likely.
type bin struct {
	said, came float64
	of         int
	moments    int // looks of some limit: what two limits say in one moment is not independent
	last       [2]int
}

func (b *bin) take(house, moment int, said float64, came bool) {
	b.of++
	b.said += said
	if came {
		b.came++
	}
	if now := [2]int{house + 1, moment}; b.last != now {
		b.last = now
		b.moments++
	}
}

// table is the reliability at each horizon, by fifths of the likelihood.
type table [horizons][5]bin

// cover is how many outcomes lay below each quantile, and at it at most: where the
// highest is what it is now already, that is not the same.
type cover struct {
	below, most [7]int
	of          int
}

// judged is what came of the outlook in some houses.
type judged struct {
	reached table
	covers  [2][horizons]cover
	lacked  int
	looks   int
}

// limits are the temperatures that are asked about at a house: such as a day in two, in
// four and in ten is warmer, or a night colder.
func (l *life) limits() (out [2][]float64) {
	high, low := l.tops(learned)
	n := len(high)
	for _, one := range []int{2, 4, 10} {
		out[outlook.Highest] = append(out[outlook.Highest], high[n-1-n/one]-0.05)
		out[outlook.Lowest] = append(out[outlook.Lowest], low[n/one]+0.05)
	}
	return out
}

// judge lets a course follow a house, and looks once an hour; at a horizon of two hours
// every other look counts, so that no two overlap.
func (j *judged) judge(house int, l *life) {
	c, limits := outlook.New(l.latitude, l.longitude), l.limits()
	const hour = perDay / 24
	for i, v := range l.v {
		c.Reading(l.at(i), v)
		if i < learned*perDay || i%hour != 17*int(l.seed)%hour || i+2*hour >= len(l.v) {
			continue
		}
		o := c.Look(l.at(i))
		j.looks++
		if o.Lacks != outlook.Nothing {
			j.lacked++
			continue
		}
		for h, in := range outlook.Horizons {
			if h == horizons-1 && i/hour%2 == 1 {
				continue
			}
			next := l.v[i : i+int(in/every)+1]
			for side, y := range [2]float64{slices.Max(next), slices.Min(next)} {
				j.covers[side][h].take(&o.Sides[side][h], y)
				for _, limit := range limits[side] {
					if beyond(side, v, limit) {
						continue // it is reached already
					}
					p := o.Reach(side, limit)[h]
					j.reached[h][min(int(5*p), 4)].take(house, i, p, beyond(side, y, limit))
				}
			}
		}
	}
}

func beyond(side int, v, limit float64) bool {
	return side == outlook.Highest && v >= limit || side == outlook.Lowest && v <= limit
}

func (c *cover) take(a *outlook.Ahead, y float64) {
	c.of++
	for i, q := range a.Quantiles {
		if y < q-1e-9 {
			c.below[i]++
		}
		if y <= q+1e-9 {
			c.most[i]++
		}
	}
}

// add adds what came of another house.
func (j *judged) add(o *judged) {
	j.looks, j.lacked = j.looks+o.looks, j.lacked+o.lacked
	for h := range horizons {
		for i := range j.reached[h] {
			a, b := &j.reached[h][i], &o.reached[h][i]
			a.said, a.came, a.of, a.moments = a.said+b.said, a.came+b.came, a.of+b.of, a.moments+b.moments
		}
		for side := range j.covers {
			a, b := &j.covers[side][h], &o.covers[side][h]
			a.of += b.of
			for i := range a.below {
				a.below[i], a.most[i] = a.below[i]+b.below[i], a.most[i]+b.most[i]
			}
		}
	}
}

const (
	asked = 0.07 // that what came may be off what was said
	kept  = 0.1  // what a later version must keep: of one bin not quite what is asked, see DEVELOPERS.md
	often = 0.12 // the same of the quantiles
	many  = 130  // moments from which a bin is judged
)

// show prints all, and says what is off.
func (j *judged) show(t *testing.T) {
	t.Helper()
	t.Logf("%d looks, %d of them without an answer", j.looks, j.lacked)
	for h, bins := range j.reached {
		for i, b := range bins {
			said, came, is := b.said/max(1, float64(b.of)), b.came/max(1, float64(b.of)), ""
			switch far := math.Abs(said - came); {
			case b.moments < many:
				is = ", too few to judge"
			case far > kept:
				is = ", FAR OFF"
				t.Errorf("within %v: of what was said with %.0f %%, %.0f %% came", outlook.Horizons[h], 100*said, 100*came)
			case far > asked:
				is = ", off"
			}
			t.Logf("%3.0f min, %2d to %3d %%: said %4.1f %%, came %4.1f %% of %5d at %4d moments%s",
				outlook.Horizons[h].Minutes(), 20*i, 20*i+20, 100*said, 100*came, b.of, b.moments, is)
		}
	}
	j.showCover(t)
}

// showCover prints the share of the outcomes below each quantile and at most at it, and
// says where the share of the quantile is not between them, but for often.
func (j *judged) showCover(t *testing.T) {
	shares := [7]float64{0.05, 0.1, 0.3, 0.5, 0.7, 0.9, 0.95}
	for side, name := range [2]string{"highest", "lowest"} {
		for h, c := range j.covers[side] {
			line := fmt.Sprintf("%3.0f min, %-7s of %d, below and at most each quantile:", outlook.Horizons[h].Minutes(), name, c.of)
			for i, want := range shares {
				below, most := float64(c.below[i])/float64(c.of), float64(c.most[i])/float64(c.of)
				line += fmt.Sprintf("  %.0f %%: %.0f to %.0f", 100*want, 100*below, 100*most)
				if below > want+often || most < want-often {
					t.Errorf("%s within %v: %.0f to %.0f %% lie below the quantile of %.0f %%", name, outlook.Horizons[h], 100*below, 100*most, 100*want)
				}
			}
			t.Log(line)
		}
	}
}
