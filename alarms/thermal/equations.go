package thermal

import "math"

// rates are the parameters as they are, in 1/h and K/h.
type rates struct {
	lag                          float64 // h
	light, mass                  storage
	loss, vent, gain, heat, pipe float64
	earth                        float64 // °C
}

// storage is what takes warmth from the air and gives it back.
type storage struct{ couple, rate, gain float64 }

func (f *filter) rates() rates {
	e := func(i int) float64 { return math.Exp(f.x[i]) }
	return rates{
		lag:   e(probeLag),
		light: storage{e(lightCouple), math.Exp(f.x[lightCouple] + f.x[lightRatio]), e(lightGain)},
		mass:  storage{e(massCouple), math.Exp(f.x[massCouple] + f.x[massRatio]), e(massGain)},
		loss:  e(loss), vent: e(vent), gain: e(airGain), heat: e(heat), pipe: e(pipes), earth: f.x[earth],
	}
}

// node is the house as the equations move it.
type node struct{ probe, air, light, mass, cloud, outside float64 }

// pull is how fast the air goes, in 1/h, and where to, times that.
func (r *rates) pull(n node, sun float64, share *[drives]float64) (k, u float64) {
	out := r.loss + r.vent*share[ExhaustFan]
	loop := r.pipe * share[LoopFan]
	k = r.light.couple + r.mass.couple + out + loop
	u = r.light.couple*n.light + r.mass.couple*n.mass + out*n.outside + loop*r.earth + r.gain*sun*n.cloud + r.heat*share[Heater]
	return k, u
}

// move goes on by some hours with everything else held: first the air, exactly, then
// what stores, by an implicit step, which is stable at any pace.
func (r *rates) move(n node, hours, sun float64, share *[drives]float64) node {
	k, u := r.pull(n, sun, share)
	decay := math.Exp(-k * hours)
	n.air = decay*n.air + (1-decay)/k*u
	behind := math.Exp(-hours / r.lag)
	n.probe = n.air + (n.probe-n.air)*behind
	n.light = r.light.move(n.light, n.air, hours, sun*n.cloud)
	n.mass = r.mass.move(n.mass, n.air, hours, sun*n.cloud)
	return n
}

func (s *storage) move(v, air, hours, sun float64) float64 {
	q := s.rate * hours
	return (v + q*air + hours*s.gain*sun) / (1 + q)
}

// jacobian holds the slopes of the states that move; the others stay as they are.
type jacobian [moving][states]float64

// slopes are the derivatives of move.
func (r *rates) slopes(n node, hours, sun float64, share *[drives]float64) (j jacobian) {
	k, u := r.pull(n, sun, share)
	decay := math.Exp(-k * hours)
	by := (1 - decay) / k                           // of what u grows
	byK := u*(hours*decay-by)/k - hours*decay*n.air // of what k does
	out, fan, loop := r.loss, r.vent*share[ExhaustFan], r.pipe*share[LoopFan]
	a := &j[airNode]
	a[airNode], a[lightNode], a[massNode] = decay, by*r.light.couple, by*r.mass.couple
	a[cloud], a[outside] = by*r.gain*sun, by*(out+fan)
	a[lightCouple] = r.light.couple * (by*n.light + byK)
	a[massCouple] = r.mass.couple * (by*n.mass + byK)
	a[loss] = out * (by*n.outside + byK)
	a[vent] = fan * (by*n.outside + byK)
	a[airGain] = by * r.gain * sun * n.cloud
	a[heat] = by * r.heat * share[Heater]
	a[pipes] = loop * (by*r.earth + byK)
	a[earth] = by * loop
	to := decay*n.air + by*u
	behind := math.Exp(-hours / r.lag)
	for i, d := range a {
		j[probeNode][i] = (1 - behind) * d
	}
	j[probeNode][probeNode] = behind
	j[probeNode][probeLag] = (n.probe - to) * behind * hours / r.lag
	r.light.slopes(&j, lightNode, n.light, to, hours, sun, n.cloud)
	r.mass.slopes(&j, massNode, n.mass, to, hours, sun, n.cloud)
	return j
}

// slopes are those of what stores, once the air's are known.
func (s *storage) slopes(j *jacobian, at int, v, air, hours, sun, clouds float64) {
	couple, ratio, gain := lightCouple, lightRatio, lightGain
	if at == massNode {
		couple, ratio, gain = massCouple, massRatio, massGain
	}
	q := s.rate * hours
	own, of := &j[at], 1/(1+q)
	for i, d := range j[airNode] {
		own[i] = of * q * d
	}
	byRate := of * q * (air - s.move(v, air, hours, sun*clouds))
	own[at] += of
	own[cloud] += of * hours * s.gain * sun
	own[couple] += byRate
	own[ratio] += byRate
	own[gain] += of * hours * s.gain * sun * clouds
}
