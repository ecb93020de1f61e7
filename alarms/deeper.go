package alarms

import "math"

// deeperSteps are how far beyond the value that was told or acknowledged is
// worth telling again, in the quantity's unit. Common practice, no source: 3 K
// is a fifth of what separates comfort from harm for most crops.
var deeperSteps = map[Quantity]float64{Temperature: 3, Surface: 3, Soil: 3, Humidity: 10, VPD: 0.4, DewMargin: 1}

// Where a band is narrow, less is much: a step is at most this share of its
// width, but never less than two deadbands, the noise of a day.
const deeperShare = 0.15

// deeperStep is that of a quantity within b.
func (b *Band) deeperStep(q Quantity) float64 {
	step, known := deeperSteps[q]
	if !known { // a supply or a current: a tenth of its limit
		for _, l := range b.all() {
			step = max(step, math.Abs(l.Value)/10)
		}
	}
	for _, pair := range [][2]Limit{{b.Low, b.High}, {b.LowLow, b.HighHigh}} {
		if pair[0].Set && pair[1].Set {
			step = min(step, (pair[1].Value-pair[0].Value)*deeperShare)
			break
		}
	}
	return max(step, 2*b.Deadband)
}

// depth is how high, on the low side how low, the furthest value of s is. A
// doubted one is as far out as the two newest readings agree.
func (s *side) depth() (deepest float64, ok bool) {
	var buf [8]voice
	vs := s.point.voices(buf[:0])
	l := s.outermost()
	for i := range vs {
		v := &vs[i]
		d := s.sign * v.now
		if v.doubt != "" {
			if !v.twice || !s.counts(vs, i, l) {
				continue
			}
			d = min(d, s.sign*v.before)
		}
		if !ok || d > deepest {
			deepest, ok = d, true
		}
	}
	return deepest, ok
}

func (s *side) value(depth float64) float64 { return s.sign * depth }

func (s *side) steps() (deeper, better float64) {
	b := s.point.inForce()
	if !s.inner.On && s.inner.runs() { // the worse limit will be told in a moment
		return math.Inf(1), b.Deadband
	}
	return b.deeperStep(s.point.quantity), b.Deadband
}
