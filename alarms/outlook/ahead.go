package outlook

import (
	"math"
	"time"
)

// Outlook is what is expected of a place.
type Outlook struct {
	Lacks  Lack
	Sides  [sides][horizons]Ahead // Highest and Lowest, by Horizons
	likely [sides][horizons]likely
}

// Ahead is what is expected of one side within one horizon.
type Ahead struct {
	Quantiles [levels]float64      // °C, of the shares 5, 10, 30, 50, 70, 90 and 95 %
	Weights   [forecasters]float64 // the say that each forecaster had
}

// Reach is how likely a limit in °C is reached within each horizon. What is
// reached sooner is reached later too.
func (o *Outlook) Reach(side int, limit float64) (p [horizons]float64) {
	if o.Lacks != Nothing {
		return p
	}
	for h := range p {
		p[h] = o.likely[side][h].right(o.Sides[side][h].reach(side, limit))
		if h > 0 {
			p[h] = max(p[h], p[h-1])
		}
	}
	return p
}

// Chance is how likely a limit is reached within the farthest horizon by the quantiles
// alone, which warnings go by: it parts what comes from what does not better than it
// says how often it comes.
func (o *Outlook) Chance(side int, limit float64) (p float64) {
	if o.Lacks != Nothing {
		return 0
	}
	for h := range horizons {
		p = max(p, o.Sides[side][h].reach(side, limit))
	}
	return p
}

// ChanceFrom is Chance of a limit that holds only after some time: that it is first
// reached since, or that the temperature is beyond it all along.
func (o *Outlook) ChanceFrom(side int, limit float64, after time.Duration) (p float64) {
	if o.Lacks != Nothing {
		return 0
	}
	before, other := 0.0, Highest+Lowest-side
	for h := range horizons {
		reach := o.Sides[side][h].reach(side, limit)
		if Horizons[h] <= after {
			before = max(before, reach)
			continue
		}
		p = max(p, reach-before, 1-o.Sides[other][h].reach(other, limit))
	}
	return p
}

// reach is how likely a limit is reached by the quantiles.
func (a *Ahead) reach(side int, limit float64) float64 {
	if side == Highest {
		return 1 - a.below(limit)
	}
	return a.below(limit)
}

// below is the probability of less than v: straight between the quantiles, and
// falling off exponentially beyond them.
func (a *Ahead) below(v float64) float64 {
	q := &a.Quantiles
	const tail = 1.79 // ln of the 6 between the outer shares
	if v <= q[0] {
		return Quantiles[0] * math.Exp(-tail*(q[0]-v)/max(q[2]-q[0], 0.02))
	}
	for i := 1; i < levels; i++ {
		if v <= q[i] {
			return Quantiles[i-1] + (Quantiles[i]-Quantiles[i-1])*(v-q[i-1])/max(q[i]-q[i-1], 1e-9)
		}
	}
	return 1 - Quantiles[0]*math.Exp(-tail*(v-q[levels-1])/max(q[levels-1]-q[levels-3], 0.02))
}

// When is in how long a limit is reached if it is reached at all within the
// farthest horizon: the moment by which that has happened in a share of the
// cases.
func (o *Outlook) When(side int, limit, share float64) time.Duration {
	p := o.Reach(side, limit)
	want, before, at := share*p[horizons-1], 0.0, time.Duration(0)
	for h, now := range p {
		if now >= want && now > before {
			return at + time.Duration(float64(Horizons[h]-at)*max(0, want-before)/(now-before))
		}
		before, at = now, Horizons[h]
	}
	return at
}
