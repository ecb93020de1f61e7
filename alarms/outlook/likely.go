package outlook

import "math"

// likely turns what the quantiles say into how likely it has proved to be: a
// logistic curve of its log odds (Platt 1999, Advances in Large Margin
// Classifiers), learned on what was said of reaching some kelvin more than the days
// usually reach. Limits lie there, where a fan holds the house, and where the
// quantiles, which hold for all hours alike, go too far.
type likely struct{ shift, slope float32 }

const (
	pace    = 0.0015 // of learning: slow, as the hours of the few days that come near what is usual are much alike
	surest  = 0.98   // beyond which nothing is learned from being right
	oddest  = 2.0    // of the log odds, at most: beyond it the quantiles know no more
	usually = 0.5    // K a day, by which what is usual follows at most: no single failure makes it
)

// first is where learning begins: so it was on simulated houses in the mean, of which
// a mechanism bounds the highest and hardly ever the lowest.
var first = [sides]likely{Highest: {-1.1, 0.7}, Lowest: {-0.4, 0.9}}

// beyondUsual is how far from the usual extreme of a day, in K.
var beyondUsual = [2]float64{2, 4}

func (l *likely) right(p float64) float64 {
	if p > 1-1e-6 { // it is beyond already
		return 1
	}
	return logistic(float64(l.shift) + max(float64(l.slope), 0.2)*odds(p))
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// odds are the log odds, bounded.
func odds(p float64) float64 {
	p = min(max(p, 1e-6), 1-1e-6)
	return min(math.Log(p/(1-p)), oddest)
}

// learn takes what was said two hours ago, and the rise, or fall, y that came.
func (l *likely) learn(v *view, a *Ahead, side int, y float64) {
	sign := 1.0
	if side == Lowest {
		sign = -1
	}
	for _, by := range beyondUsual {
		limit := float64(v.c.usual[side]) + sign*by
		p := a.reach(side, limit)
		if sign*(limit-v.now) <= 0 || p < 1-surest || p > surest {
			continue
		}
		came, z := sign*(v.now+y-limit) >= 0, odds(p)
		e := pace * (float64(yes(came)) - logistic(float64(l.shift)+float64(l.slope)*z))
		l.shift = short(float64(l.shift) + e)
		l.slope = short(float64(l.slope) + e*z)
	}
}

// settle lets what is usual follow the extremes of whole days.
func (c *Course) settle() {
	c.day++
	over := c.day == aDay
	if over {
		c.day = 0
	}
	for side := range sides {
		peak, u := &c.peak[side], &c.usual[side]
		now := short(c.past.extreme(side, ahead, 1))
		if over {
			*u = short(float64(*u + min(max(*peak-*u, -usually), usually)))
			*peak = now
		}
		if side == Highest && now > *peak || side == Lowest && now < *peak {
			*peak = now
		}
		if c.learned < aDay {
			*u = *peak
		}
	}
}
