package ground

import "math"

// Want is what the house needs.
type Want uint8

// Wants.
const (
	Nothing Want = iota
	Warmth
	Cooling
)

var wantNames = [...]string{"nothing", "warmth", "cooling"}

func (w Want) String() string { return name(wantNames[:], int(w)) }

func name(names []string, i int) string {
	if i < len(names) {
		return names[i]
	}
	return "unknown"
}

// Option is one depth that a damper can open.
type Option struct {
	Depth   float64 // m
	Leaving float64 // °C at its outlet: measured with air moving, or by Leaving from the ground
	Open    bool    // its damper is open now
}

// Pick is what to do with the dampers.
type Pick struct {
	Best    int     // index of the better depth, -1 where none helps
	Gain    float64 // K by which its air helps: warmer than the house for warmth, cooler for cooling
	Against float64 // K by which the worst depth would work against the house, 0 where none does
	Change  bool    // the open damper should change
}

const (
	helps    = 1.0 // K from which the air of a pipe is worth moving
	worthIt  = 0.5 // K by which another depth must be better before a damper is worth changing
	noChoice = -1
)

// Better picks the depth whose air helps the house most. A depth that is now
// open stays the pick unless another is better by 0.5 K, so that two depths
// near each other do not take turns. None is picked where no air would help
// by 1 K: in high summer the shallow pipe may be too warm to cool with, after a
// long winter the deep one may still be the warmer one.
func Better(want Want, house float64, options []Option) Pick {
	pick := Pick{Best: noChoice}
	open := noChoice
	for i, o := range options {
		g := gain(want, house, o)
		if o.Open {
			open = i
		}
		pick.Against = math.Max(pick.Against, -g)
		if g >= helps && (pick.Best == noChoice || g > pick.Gain) {
			pick.Best, pick.Gain = i, g
		}
	}
	if open != noChoice && pick.Best != noChoice {
		if g := gain(want, house, options[open]); g >= helps && pick.Gain-g < worthIt {
			pick.Best, pick.Gain = open, g
		}
	}
	pick.Change = want != Nothing && open != pick.Best
	return pick
}

// gain is how much the air of an option helps, in K; 0 where nothing is wanted
// or known.
func gain(want Want, house float64, o Option) float64 {
	g := o.Leaving - house
	switch {
	case math.IsNaN(g) || want == Nothing:
		return 0
	case want == Cooling:
		return -g
	}
	return g
}
