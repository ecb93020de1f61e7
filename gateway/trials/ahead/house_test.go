package ahead_test

import (
	"math"
	"math/rand/v2"
	"time"

	"telltale/alarms/air"
)

// house is an invented one, of another structure than any forecaster thinks: air
// with what follows it at once, its vapour, and three bodies that store heat (the
// cover; benches, plants and the top of the beds; wall, water and floor), each in
// exchange with the others by its own film, and the slow one with the ground. Light
// comes in by planes that face their own ways. Plants evaporate more where it is dry.
// The cover radiates to the sky, and vapour condenses on it. Leaks follow the gusts.
// A mechanical thermostat with a slow bulb and a differential switches fan and shutter;
// in some houses a vent opens by wax as it warms, and a heater keeps the night.
type house struct {
	weather
	planes     []plane
	floor      float64 // m²
	volume     float64 // m³
	shell      float64 // m²
	passes     float64 // share of the light
	share      [3]float64
	heat       [4]float64 // J/K of air, benches, wall, cover
	film       [4]float64 // W/K: air-cover, air-benches, air-wall, benches-wall
	below      float64    // W/K, wall to the ground
	ground     float64    // °C
	radiates   float64    // emissivity of the cover
	plants     float64    // m²
	leak, blow float64    // air changes an hour: in still air, and per m/s
	flow       float64    // m³/s, of the fan
	cracks     float64    // share of it that comes in by cracks
	wax        float64    // m³/s through the vent that opens by itself, at most
	power      float64    // W, of the heater
	cool, warm thermostat
	lag        float64 // s, of the bulb
	swing      float64 // s, in which the shutter opens

	t                  [4]float64 // °C of air, benches, wall, cover
	vapour             float64    // kg/kg
	bulb, open         float64    // °C, and share of the shutter
	fan, dead, stuck   bool       // it turns; it has failed; the shutter sticks
	felt, noise, round float64    // by the probe, °C
	slow               float64    // s, its lag
}

type plane struct{ area, tilt, azimuth float64 } // m², degrees from level, degrees over east

type thermostat struct {
	dial, differential float64
	on                 bool
}

const (
	bodyAir = iota
	bodyBenches
	bodyWall
	bodyCover
)

func saturated(celsius float64) float64 {
	p := air.SaturationPressure(min(max(celsius, -60), 90))
	return 0.622 * p / (101325 - p)
}

// newHouse draws a house and where and when it stands.
func newHouse(seed uint64) *house {
	r := &chance{*rand.NewPCG(seed, 1)}
	c := [...]climate{temperate, interior, southern, temperate, interior}[seed%5]
	c.latitude, c.longitude = r.between(38, 56), r.between(-5, 5)
	begin := time.Date(2026, time.April, 10+int(r.between(0, 120)), 0, 0, 0, 0, time.UTC)
	h := &house{weather: newWeather(c, begin, seed), floor: r.between(8, 60)}
	h.volume = h.floor * r.between(1.9, 2.8)
	h.form(r, seed%3)
	h.fill(r)
	h.fit(r)
	return h
}

// form draws the shell: glass that leans on a wall, a tunnel of film, twin-wall sheet.
func (h *house) form(r *chance, kind uint64) {
	south := r.between(150, 210)
	side := math.Sqrt(h.floor)
	switch kind {
	case 0:
		h.passes, h.radiates, h.film[0], h.heat[bodyCover] = r.between(0.72, 0.82), 0.9, 8, 8400
		h.planes = []plane{{1.1 * h.floor, r.between(17, 35), south}, {1.6 * side, 90, south}, {1.3 * side, 90, south - 90}, {1.3 * side, 90, south + 90}}
	case 1:
		h.passes, h.radiates, h.film[0], h.heat[bodyCover] = r.between(0.68, 0.78), r.between(0.45, 0.7), 7, 900
		h.planes = []plane{{0.8 * h.floor, 40, south - 90}, {0.8 * h.floor, 40, south + 90}, {2 * side, 90, south}, {2 * side, 90, south + 180}}
	default:
		h.passes, h.radiates, h.film[0], h.heat[bodyCover] = r.between(0.6, 0.72), 0.9, 4.2, 3500
		h.planes = []plane{{0.6 * h.floor, 30, south - 90}, {0.6 * h.floor, 30, south + 90}, {3 * side, 90, south}, {1.5 * side, 90, south + 90}, {1.5 * side, 90, south - 90}}
	}
	for _, p := range h.planes {
		h.shell += p.area
	}
	h.film[0] *= h.shell
	h.heat[bodyCover] *= h.shell
}

// fill draws what stores heat.
func (h *house) fill(r *chance) {
	h.heat[bodyAir] = 1230*h.volume + r.between(3e3, 9e3)*h.floor
	h.heat[bodyBenches] = r.between(20e3, 70e3) * h.floor
	h.heat[bodyWall] = r.between(150e3, 600e3) * h.floor
	h.film[1], h.film[2], h.film[3] = r.between(5, 11)*h.floor, r.between(2, 8)*h.floor, r.between(1, 3)*h.floor
	h.below, h.ground = r.between(0.5, 1.5)*h.floor, h.mean+r.between(-1, 2)
	h.share = [3]float64{r.between(0.2, 0.4), r.between(0.3, 0.45), 0}
	h.share[2] = 0.92 - h.share[0] - h.share[1]
	h.plants = h.floor * r.between(0.1, 0.6)
	h.leak, h.blow = r.between(0.4, 1.5), r.between(0.1, 0.6)
	first := h.mean + 3
	h.t = [4]float64{first, first + 1, first + 3, first - 1}
	h.vapour, h.bulb, h.felt = h.ratio, first, first
}

// fit draws drives and the probe.
func (h *house) fit(r *chance) {
	h.cool = thermostat{dial: r.between(22, 29), differential: r.between(1, 3)}
	h.warm = thermostat{dial: -90, differential: 1}
	h.flow, h.cracks = h.volume*r.between(25, 60)/3600, r.between(0.05, 0.2)
	h.lag, h.swing = r.between(45, 240), r.between(20, 90)
	if r.even() < 0.4 {
		h.wax = h.volume * r.between(4, 15) / 3600
	}
	if r.even() < 0.5 {
		h.warm.dial, h.power = r.between(4, 10), r.between(90, 160)*h.floor
	}
	h.noise, h.slow, h.round = r.between(0.02, 0.06), r.between(30, 150), [...]float64{0.01, 0.0625, 0.1}[r.IntN(3)]
}

func (c *chance) IntN(n int) int { return int(c.even() * float64(n)) }

func (t *thermostat) feel(cools bool, bulb float64) {
	if over := bulb >= t.dial; over {
		t.on = cools
	} else if bulb <= t.dial-t.differential {
		t.on = !cools
	}
}

// drives lets the mechanism act for some seconds.
func (h *house) drives(seconds float64) {
	h.bulb += (h.t[bodyAir] - h.bulb) * (1 - math.Exp(-seconds/h.lag))
	h.cool.feel(true, h.bulb)
	h.warm.feel(false, h.bulb)
	h.fan = h.cool.on && !h.dead
	way := seconds / h.swing
	switch {
	case h.stuck:
	case h.cool.on:
		h.open = min(1, h.open+way)
	default:
		h.open = max(0, h.open-way)
	}
}

// enters is the outside air that comes in, m³/s.
func (h *house) enters() float64 {
	flow := (h.leak + h.blow*h.blows()) * h.volume / 3600
	if h.fan {
		flow += h.flow * (h.cracks + (1-h.cracks)*h.open)
	} else { // through an open shutter, by warmth and wind
		flow += 0.05 * h.flow * h.open * (1 + h.blows()/3)
	}
	return flow + h.wax*min(max((h.t[bodyAir]-22)/8, 0), 1)*(0.6+0.2*h.blows())
}

// light is what comes in, W.
func (h *house) light() (sum float64) {
	sinUp, cosUp := math.Sincos(h.place.Elevation * math.Pi / 180)
	for _, p := range h.planes {
		sinTilt, cosTilt := math.Sincos(p.tilt * math.Pi / 180)
		if hits := cosTilt*sinUp + sinTilt*cosUp*math.Cos((h.place.Azimuth-p.azimuth)*math.Pi/180); hits > 0.02 {
			sum += h.direct * hits * max(0, 1-0.1*(1/hits-1)) * p.area
		}
		sum += (h.spread*(1+cosTilt)/2 + 0.2*(h.spread+h.direct*max(sinUp, 0))*(1-cosTilt)/2) * 0.9 * p.area
	}
	return h.passes * 0.8 * sum
}

// step moves the house on by some seconds, short enough to be stable.
func (h *house) step(seconds float64) {
	h.weather.step(seconds)
	h.drives(seconds)
	var q [4]float64
	light := 0.0
	if h.direct+h.spread > 0 {
		light = h.light()
	}
	for i, share := range h.share {
		q[i] = share * light
	}
	t := &h.t
	for i, to := range [...]int{bodyCover, bodyBenches, bodyWall} {
		over := h.film[i] * (t[bodyAir] - t[to])
		q[bodyAir], q[to] = q[bodyAir]-over, q[to]+over
	}
	over := h.film[3] * (t[bodyBenches] - t[bodyWall])
	q[bodyBenches], q[bodyWall] = q[bodyBenches]-over, q[bodyWall]+over+h.below*(h.ground-t[bodyWall])
	q[bodyCover] += (2.8+1.2*h.blows())*h.shell*(h.outside-t[bodyCover]) +
		h.radiates*0.75*5.67e-8*h.shell*(math.Pow(h.skyAt+273.15, 4)-math.Pow(t[bodyCover]+273.15, 4))
	dry := 1.2 * h.enters()
	q[bodyAir] += 1006 * dry * (h.outside - t[bodyAir])
	if h.warm.on {
		q[bodyAir] += h.power
	}
	h.breathe(&q, light, dry, seconds)
	for i := range t {
		t[i] += q[i] * seconds / h.heat[i]
	}
	h.felt += (t[bodyAir] - h.felt) * (1 - math.Exp(-seconds/h.slow))
}

// breathe is what vapour does: plants and beds give it off, the outside takes it, the
// cover turns it into dew.
func (h *house) breathe(q *[4]float64, light, dry, seconds float64) {
	const latent = 2.45e6 // J/kg
	full := saturated(h.t[bodyAir])
	lacks := max(0, full-h.vapour) * 160 // kPa
	gives := h.plants * (0.35*light/h.floor + (4+10*min(light/h.floor/100, 1))*lacks) / latent
	dew := max(0, 3e-3*h.shell*(h.vapour-saturated(h.t[bodyCover])))
	q[bodyAir] -= gives * latent
	q[bodyCover] += dew * latent
	h.vapour += (gives - dew + dry*(h.ratio-h.vapour)) * seconds / (1.2 * h.volume)
	h.vapour = min(max(h.vapour, 1e-4), full)
}

// reads is what the probe says.
func (h *house) reads() float64 {
	return math.Round((h.felt+h.noise*h.normal())/h.round) * h.round
}
