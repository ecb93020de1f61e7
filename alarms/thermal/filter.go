package thermal

import "math"

// What the filter estimates: six states that move, and what the house is like. The
// rates are logarithms of 1/h or K/h.
const (
	probeNode = iota // °C, what is read of the air
	airNode          // °C
	lightNode        // °C, plants, benches and cover
	massNode         // °C, beds, walls and water
	cloud            // share of a clear sky's light that comes through
	outside          // °C
	moving

	probeLag    = iota - 1 // T, of the probe behind the air, h
	lightCouple            // b, air to what is light
	lightRatio             // q, of their heat capacities
	massCouple             // a, air to mass
	massRatio              // r, of their heat capacities
	loss                   // l, to the outside, no fan running
	vent                   // v, more of it while the fan runs
	airGain                // s, sun on the air
	lightGain              // t, sun on what is light
	massGain               // m, sun on the mass
	heat                   // h, of the heater
	pipes                  // p, of the ground loop
	earth                  // °C, G, what the loop draws towards
	states
)

// bound is what one state may be, and what is thought of it before anything is heard.
type bound struct{ low, high, first, spread float64 }

// rate is a bound of a logarithm: about first, by a factor either way.
func rate(low, first, high, factor float64) bound {
	return bound{math.Log(low), math.Log(high), math.Log(first), math.Log(factor)}
}

// bounds are wide enough for a frame of film and for a house of stone.
var bounds = [states]bound{
	probeNode: {-60, 80, 20, 5}, airNode: {-60, 80, 20, 5}, lightNode: {-60, 80, 20, 5}, massNode: {-40, 70, 20, 4}, cloud: {0.02, 1.3, 0.7, 0.3}, outside: {-60, 60, 12, 8},
	probeLag: rate(0.002, 0.025, 0.1, 2), lightCouple: rate(1, 10, 60, 2.5), lightRatio: rate(0.03, 0.3, 2, 2.2),
	massCouple: rate(0.2, 4, 40, 2.5), massRatio: rate(0.003, 0.03, 0.3, 2.5),
	loss: rate(0.1, 4, 60, 2.5), vent: rate(0.3, 12, 150, 3),
	airGain: rate(1, 30, 300, 2.5), lightGain: rate(0.3, 15, 150, 2.5), massGain: rate(0.02, 0.6, 20, 2.5),
	heat: rate(0.5, 30, 600, 3), pipes: rate(0.02, 6, 60, 3), earth: {-4, 28, 12, 4},
}

// wander is how far each state goes by itself in an hour, as a variance. What a house
// is like changes by a tenth or so in a week.
var wander = [states]float64{
	probeNode: 0.02, airNode: 0.2, lightNode: 0.1, massNode: 0.02, probeLag: slow, lightCouple: slow, lightRatio: slow, massCouple: slow, massRatio: slow, loss: slow, vent: slow,
	airGain: slow, lightGain: slow, massGain: slow, heat: slow, pipes: slow, earth: 0.02,
}

const slow = 4e-5

const (
	pairs      = states * (states + 1) / 2
	cloudTime  = 0.75 // h, in which clouds are others
	cloudSize  = 0.25 // of cloud, usual
	cloudUsual = 2.0  // h of sun over which cloud is usual
	airTime    = 5.0  // h, in which the outside air comes back to its day's curve
	airSize    = 2.5  // K, usual from it
	readingVar = 0.01 // K², of a reading of the house
	outsideVar = 0.1  // K², of one of outside
	outlier    = 4.0  // standard deviations from which a reading counts less
)

// square is a covariance at work; it is kept as its upper triangle.
type square [states][states]float64

// filter is an extended Kalman filter.
type filter struct {
	x     [states]float64
	p     [pairs]float32
	rough float32 // times the usual, that the air is moved by what the model does not know
	usual float32 // cloud of the last hours of sun
}

func (f *filter) empty() {
	var p square
	for i, b := range bounds {
		f.x[i] = b.first
		p[i][i] = b.spread * b.spread
	}
	f.rough, f.usual = 1, float32(bounds[cloud].first)
	f.keep(&p)
}

func (f *filter) open(p *square) {
	k := 0
	for i := range states {
		for j := i; j < states; j++ {
			p[i][j] = float64(f.p[k])
			p[j][i] = p[i][j]
			k++
		}
	}
}

// keep stores a covariance. No state is known less than before anything was heard, nor
// better than is credible.
func (f *filter) keep(p *square) {
	for i, b := range bounds {
		most := b.spread * b.spread
		if v := p[i][i]; v > most {
			by := math.Sqrt(most / v)
			for j := range states {
				p[i][j] *= by
				p[j][i] *= by
			}
		} else if v < 1e-6 {
			p[i][i] = 1e-6
		}
	}
	k := 0
	for i := range states {
		for j := i; j < states; j++ {
			f.p[k] = float32(p[i][j])
			k++
		}
	}
}

func (f *filter) node() node {
	x := &f.x
	return node{x[probeNode], x[airNode], x[lightNode], x[massNode], x[cloud], x[outside]}
}

// predict goes on by some hours, with the light there is, the drives as they ran, and
// the day's curve of the outside air going from one value to another.
func (f *filter) predict(p *square, hours, light float64, share *[drives]float64, from, to float64) {
	r, x := f.rates(), &f.x
	n := f.node()
	j := r.slopes(n, hours, light, share)
	n = r.move(n, hours, light, share)
	clouds, air := math.Exp(-hours/cloudTime), math.Exp(-hours/airTime)
	x[probeNode], x[airNode], x[lightNode], x[massNode] = n.probe, n.air, n.light, n.mass
	x[cloud] = float64(f.usual) + (n.cloud-float64(f.usual))*clouds
	x[outside] = to + (n.outside-from)*air
	j[cloud][cloud], j[outside][outside] = clouds, air
	p.through(&j)
	for i, w := range wander {
		p[i][i] += w * hours
	}
	p[airNode][airNode] += wander[airNode] * hours * float64(f.rough-1)
	p[cloud][cloud] += cloudSize * cloudSize * (1 - clouds*clouds)
	p[outside][outside] += airSize * airSize * (1 - air*air)
}

// through carries a covariance through the slopes.
func (p *square) through(j *jacobian) {
	var q [moving][states]float64
	for i := range moving {
		for k, s := range j[i] {
			if s != 0 {
				for c := range states {
					q[i][c] += s * p[k][c]
				}
			}
		}
	}
	for i := range moving {
		p[i] = q[i]
	}
	for c := moving; c < states; c++ {
		for i := range moving {
			p[c][i] = p[i][c]
		}
	}
	for i := range moving {
		for k := i; k < moving; k++ {
			sum := 0.0
			for c, s := range j[k] {
				sum += s * q[i][c]
			}
			p[i][k], p[k][i] = sum, sum
		}
	}
}

// hear takes a reading of one state, of a variance. It returns how far off it was, in
// standard deviations.
func (f *filter) hear(p *square, state int, v, variance float64) float64 {
	s := p[state][state] + variance
	e := v - f.x[state]
	off := e / math.Sqrt(s)
	if math.Abs(off) > outlier { // it counts as one that is just as far off as can be believed
		s *= math.Abs(off) / outlier
	}
	var g [states]float64
	for i := range states {
		g[i] = p[i][state] / s
		f.x[i] = min(max(f.x[i]+g[i]*e, bounds[i].low), bounds[i].high)
	}
	row := p[state]
	for i := range states {
		for k := range states {
			p[i][k] -= g[i] * row[k]
		}
	}
	return off
}
