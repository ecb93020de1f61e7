package model

import (
	"math"

	"telltale/alarms/air"
)

// flows are the rates of change of a house, in W and kg/s.
type flows struct {
	bounds  Ledger // W, what crosses the bounds
	toAir   float64
	toMass  float64
	toCover float64
	toSoil  [mostPipes]float64
	vapour  float64 // kg/s, gained by the air
	light   float64 // W per m² of floor that stays in the house
	outlet  [mostPipes]moist
}

// rates works out every flow of a house at one moment.
func (h *house) rates(n nodes, s setting, o outside, g ground) flows {
	var f flows
	a := h.air(n)
	h.sunshine(&f, s, o)
	h.transpiration(&f, a)
	h.bedMoisture(&f, n, a)
	h.throughCover(&f, n, a, o)
	h.ventilation(&f, a, s, o)
	h.throughMass(&f, n, a, o, g)
	h.throughLoop(&f, n, a, s, o, g)
	if s.heater {
		f.bounds.Heater = h.heaterPower
		f.toAir += h.heaterPower
	}
	return f
}

func (h *house) sunshine(f *flows, s setting, o outside) {
	if o.light.global <= 0 {
		return
	}
	for _, p := range h.panes {
		f.bounds.Sun += p.passes(o.light, h.transmittance)
	}
	f.bounds.Sun *= h.absorbed * (1 - s.shade)
	f.light = f.bounds.Sun / h.floor
	f.toMass += f.bounds.Sun * h.toMass
	f.toAir += f.bounds.Sun * (1 - h.toMass)
}

// transpiration of plants follows Boulard & Baille (1993, Agric. For.
// Meteorol. 65:145): a share of the light plus a coefficient times the vapour
// pressure deficit; the figures, for a half-grown crop, are from memory. The
// heat for it comes from the air node, whose enthalpy does not change.
func (h *house) transpiration(f *flows, a moist) {
	const lightShare, night, byDay = 0.35, 4.0, 10.0 // -, W/(m² kPa), more of them in the light
	vpd := air.SaturationPressure(a.temperature) / 1000 * (1 - a.humidity()/100)
	if vpd < 0.02 {
		return
	}
	perArea := lightShare*f.light + (night+byDay*min(f.light/100, 1))*vpd
	f.vapour += h.plantArea * perArea / (latentZero - 2381*a.temperature)
}

// bedMoisture is what evaporates from wet beds, or condenses on cold ones, by
// the analogy of Lewis: a film that carries h W/(m² K) of heat carries h/cp kg
// of vapour per m² s and unit of humidity ratio. Its heat is the beds'.
func (h *house) bedMoisture(f *flows, n nodes, a moist) {
	water := h.innerBreath / heatDry * h.wetArea * (saturated(n.mass) - a.ratio)
	heat := water * (latentZero + heatVapour*n.mass)
	f.vapour += water
	f.toAir += heat
	f.toMass -= heat
}

// throughCover is the way of heat from the house to the cover and on to the
// outside. Outer film: Bot (1983, Greenhouse climate, Wageningen), 2.8 + 1.2
// times the wind in m/s. Condensation goes by the analogy of Lewis.
func (h *house) throughCover(f *flows, n nodes, a moist, o outside) {
	area := h.coverArea()
	inner := h.innerFilm * area * (a.temperature - n.cover)
	condensed := max(0, h.innerBreath/heatDry*area*(a.ratio-saturated(n.cover)))
	latent := condensed * (latentZero + heatVapour*a.temperature)

	f.bounds.Cover = (2.8 + 1.2*o.wind) * area * (o.air.temperature - n.cover)
	share := h.skyShare()
	around := share*fourth(o.sky) + (1-share)*fourth(o.air.temperature)
	f.bounds.Sky = h.emissivity * stefan * area * (around - fourth(n.cover))

	f.toAir -= inner + latent
	f.vapour -= condensed
	f.toCover += inner + latent + f.bounds.Cover + f.bounds.Sky
}

func fourth(celsius float64) float64 {
	k := celsius + zeroKelvin
	return k * k * k * k
}

// volumeFlow is the outside air in m³/s that enters: leakage, the exhaust fan
// as far as the shutter lets it, and through an open shutter without a fan the
// exchange of a single opening (Warren 1977: a third of the discharge
// coefficient times area times the root of g H dT/T).
func (h *house) volumeFlow(a moist, s setting, o outside) float64 {
	const crack = 0.06 // share of the fan's flow that finds cracks
	leak := h.leak + h.leakWind*o.wind
	if s.covered {
		leak /= 2
	}
	flow := leak * h.volume / 3600
	if s.fan > 0 { // flow goes with the speed (first fan law)
		return flow + s.fan*h.fanFlow*(crack+(1-crack)*s.shutter)
	}
	buoyant := 9.81 * math.Sqrt(h.shutterArea) * math.Abs(a.temperature-o.air.temperature) / (o.air.temperature + zeroKelvin)
	return flow + 0.6/3*h.shutterArea*s.shutter*math.Sqrt(buoyant)
}

func (h *house) ventilation(f *flows, a moist, s setting, o outside) {
	e := exchanged(o.air.dryFlow(h.volumeFlow(a, s, o)), o.air, a)
	f.bounds.Air = e.total
	f.toAir += e.total
	f.vapour += e.water
}

func (h *house) throughMass(f *flows, n nodes, a moist, o outside, g ground) {
	toAir := h.massFilm * (n.mass - a.temperature)
	fromGround := h.massGround * (g.at(h.groundDepth, o.day) - n.mass)
	f.toAir += toAir
	f.toMass += fromGround - toAir
	f.bounds.Ground += fromGround
}

// throughLoop sends house air through the pipes, an equal part through each,
// and lets the soil around them settle towards the undisturbed ground.
func (h *house) throughLoop(f *flows, n nodes, a moist, s setting, o outside, g ground) {
	for i, p := range h.pipes {
		f.outlet[i] = a
		fromGround := p.outward() * (g.at(p.depth, o.day) - n.soil[i])
		f.bounds.Ground += fromGround
		f.toSoil[i] = fromGround
		if !s.loop {
			continue
		}
		volume := h.loopFlow / float64(len(h.pipes))
		dry := a.dryFlow(volume)
		f.outlet[i] = p.through(a, n.soil[i], volume, dry)
		e := exchanged(dry, f.outlet[i], a)
		f.toAir += e.total
		f.vapour += e.water
		f.toSoil[i] -= e.total
	}
	if s.loop {
		f.bounds.Electric += h.loopPower
		f.toAir += h.loopPower
	}
}

// longest is the longest step in s that is stable: the quickest node, the air
// of a small house under a strong fan, settles within about 30 s.
const longest = 5.0

// step moves a house on by some seconds in steps short enough to be stable,
// with weather and drives held, and enters the flows in the ledger. It returns
// the flows of the last of them.
func (h *house) step(n *nodes, l *Ledger, s setting, o outside, g ground, seconds float64) flows {
	count := max(1, math.Ceil(seconds/longest-1e-9))
	dt := seconds / count
	var f flows
	for range int(count) {
		f = h.rates(*n, s, o, g)
		n.enthalpy += f.toAir * dt
		n.water = max(0, n.water+f.vapour*dt)
		n.mass += f.toMass / h.massHeat * dt
		n.cover += f.toCover / (h.coverHeat * h.coverArea()) * dt
		for i, p := range h.pipes {
			n.soil[i] += f.toSoil[i] / p.capacity() * dt
		}
		h.fog(n)
		l.add(f.bounds, dt)
	}
	return f
}

// fog takes vapour beyond saturation out of the air; its heat stays.
func (h *house) fog(n *nodes) {
	a := h.air(*n)
	if surplus := a.ratio - saturated(a.temperature); surplus > 0 {
		n.water -= surplus / 2 * h.dryMass()
	}
}
