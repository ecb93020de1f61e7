package thermal

import (
	"math"
	"time"

	"telltale/alarms/sun"
)

// chance is a source of random numbers that can be copied with what it moves: SplitMix64
// (Steele, Lea & Flood 2014).
type chance uint64

func (c *chance) next() float64 {
	*c += 0x9e3779b97f4a7c15
	z := uint64(*c)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return float64((z^z>>31)>>11) / (1 << 53)
}

func (c *chance) between(a, b float64) float64 { return a + (b-a)*c.next() }

func (c *chance) normal() float64 {
	sum := -6.0
	for range 12 {
		sum += c.next()
	}
	return sum
}

// garden is a simulated house with its weather, of another structure than the model: a
// cover that stores and radiates to the sky, plants and benches, a floor and the ground
// below it as masses of their own, light that comes in by the height and side of the
// sun, plants that turn a share of it into vapour, wind that comes in gusts and leaks in,
// clouds of a day and clouds of minutes, a loop whose soil tires, probes that lag behind
// and round. All of it is W and J for 1 m² of floor.
type garden struct {
	c                                   chance
	now                                 time.Time
	air, plants, cover, floor, deep     float64 // °C
	soil                                float64 // °C, around the loop
	probe                               float64 // °C, what the probe feels
	wind, gust, dull, haze, spell, left float64
	shade                               float64 // of the cloud that passes, for left s
	outside, light                      float64 // °C; share of a clear sky's
	fan, heater, loop                   bool    // as they run
	dead                                [drives]bool
	called                              [drives]bool
	ranFor                              [drives]float64 // s, since the last reading
	gardenKind
}

// gardenKind is what does not change.
type gardenKind struct {
	latitude                                      float64
	height                                        float64 // m
	airHeat, plantHeat, coverHeat                 float64 // J/K
	floorHeat, deepHeat                           float64
	plantFilm, floorFilm, deepFilm, inner         float64 // W/K
	coverArea, toAir, toPlants, through, sideways float64
	vapour                                        float64 // share of the light on plants
	leak, fanFlow                                 float64 // air changes an hour
	power                                         float64 // W, of the heater
	loopUA, soilHeat                              float64
	set, width, heatSet, loopSet                  float64       // °C, K, °C, °C
	mean, year, day, spells                       float64       // °C, K: of the weather
	lag                                           float64       // s, of the probe
	windy                                         float64       // m/s, usual
	astray                                        time.Duration // of the sun, as it is said
}

func newGarden(seed uint64, start time.Time, inland bool) *garden {
	c := chance(seed * 7919)
	k := gardenKind{latitude: c.between(38, 58), height: c.between(1.8, 3.2), through: c.between(0.5, 0.72), sideways: c.between(-0.25, 0.25)}
	k.airHeat, k.plantHeat, k.plantFilm = 1210*k.height, c.between(4e3, 14e3), c.between(12, 30)
	k.floorHeat, k.floorFilm = c.between(8e4, 2.5e5), c.between(5, 9)
	k.deepHeat, k.deepFilm = 6e5, c.between(1, 3)
	k.coverArea, k.coverHeat, k.inner = c.between(1.6, 2.6), c.between(1500, 8400), c.between(3.5, 8.3)
	k.toAir, k.toPlants, k.vapour = c.between(0.05, 0.2), c.between(0.3, 0.45), c.between(0.15, 0.5)
	k.leak, k.fanFlow = c.between(0.4, 2), c.between(20, 55)
	k.set, k.width, k.heatSet, k.loopSet = c.between(24, 29.5), c.between(1.2, 3), c.between(7, 12), c.between(12, 14)
	k.power = c.between(1.1, 2.2) * 20 * k.coverArea * k.inner / 1.6
	k.loopUA, k.soilHeat = c.between(4, 9), 4e5
	k.mean, k.year, k.day, k.spells = c.between(9, 12), c.between(6, 8), c.between(5, 7), 3
	if inland {
		k.mean, k.year, k.day, k.spells = 6, 18, 9, 8
	}
	k.lag, k.windy = c.between(30, 150), 2.2
	g := &garden{c: c, now: start, gardenKind: k, wind: 2, dull: 0.5, haze: 0.5}
	g.weather()
	for _, t := range []*float64{&g.air, &g.plants, &g.cover, &g.floor, &g.probe} {
		*t = g.outside + 4
	}
	g.deep, g.soil = g.season()+2, k.mean
	return g
}

// season is the usual mean of the day.
func (g *garden) season() float64 {
	return g.mean - g.year*math.Cos(2*math.Pi*float64(g.now.YearDay()-20)/365)
}

const instant = 10.0 // s, of a step

// weather moves the sky and the air outside.
func (g *garden) weather() {
	if g.now.Hour() == 0 && g.now.Minute() == 0 && g.now.Second() == 0 {
		g.dull = g.c.next()
	}
	pull := func(v *float64, to, hours, size float64) {
		d := instant / 3600 / hours
		*v += (to-*v)*d + size*math.Sqrt(2*d)*g.c.normal()
	}
	pull(&g.haze, g.dull, 1.5, 0.15)
	pull(&g.wind, g.windy, 3, 1)
	pull(&g.gust, 0, 0.1, 0.35)
	pull(&g.spell, 0, 40, g.spells)
	g.left -= instant
	if g.left <= 0 { // a cloud of minutes, or a hole between two
		g.left, g.shade = g.c.between(120, 1500), 0
		if g.c.next() < 0.1+0.4*g.dull {
			g.shade, g.left = g.c.between(0.1, 0.5), g.c.between(60, 900)
		}
	}
	haze := min(max(g.haze, 0), 1)
	g.light = (1 - 0.75*math.Pow(haze, 2.5)) * (1 - g.shade)
	hour := float64(g.now.Hour()) + float64(g.now.Minute())/60
	wave := 2 * math.Pi * (hour - 15) / 24
	g.outside = g.season() + g.spell + g.day*(1-0.6*haze)*math.Cos(wave+0.25*math.Sin(wave))
}

// sunshine is the light that stays in the house, in W.
func (g *garden) sunshine() float64 {
	p := sun.At(g.latitude, 0, g.now)
	up := math.Sin(p.Elevation * math.Pi / 180)
	if up <= 0.01 {
		return 0
	}
	// Direct: Meinel & Meinel (1976), on a level surface and on one upright side that
	// looks sideways; diffuse: a tenth of the sun's constant, more under cloud.
	beam := 1353 * math.Pow(0.7, math.Pow(1/(up+0.02), 0.678)) * g.light
	side := max(0, math.Cos(p.Elevation*math.Pi/180)*math.Cos((p.Azimuth-180-300*g.sideways)*math.Pi/180))
	return g.through * (beam*(up+0.5*math.Abs(g.sideways)*side*4) + 135*up*(0.5+0.5*g.light))
}

func (g *garden) step() {
	g.now = g.now.Add(instant * time.Second)
	g.weather()
	g.switches()
	g.flow(instant)
	g.probe += (g.air - g.probe) * instant / g.lag
	for d, on := range [drives]bool{g.fan, g.loop, g.heater} {
		if on {
			g.ranFor[d] += instant
		}
	}
}

// switches lets the thermostats act, and what is dead stand.
func (g *garden) switches() {
	turn := func(d Drive, on, off bool) bool {
		g.called[d] = on || g.called[d] && !off
		return g.called[d] && !g.dead[d]
	}
	g.fan = turn(ExhaustFan, g.probe >= g.set, g.probe <= g.set-g.width)
	g.heater = turn(Heater, g.probe <= g.heatSet-1.5, g.probe >= g.heatSet)
	g.loop = turn(LoopFan, g.probe <= g.loopSet-1.5, g.probe >= g.loopSet)
}

func (g *garden) flow(dt float64) {
	const part = 2 // the air is quick
	for range part {
		s := g.sunshine()
		gust := max(0.2, 1+g.gust)
		changes := g.leak * (1 + 0.3*max(0, g.wind)) * gust
		if g.fan {
			changes += g.fanFlow * (0.9 + 0.1*gust)
		}
		toPlants := g.plantFilm * (g.air - g.plants)
		toFloor := g.floorFilm * (g.air - g.floor)
		toCover := g.inner * g.coverArea * (g.air - g.cover)
		toDeep := g.deepFilm * (g.floor - g.deep)
		vents := changes / 3600 * g.airHeat * (g.air - g.outside)
		sky := 4.3 * g.coverArea * 0.6 * (g.cover - (g.outside - 4 - 12*g.light))
		air := g.toAir*s - toPlants - toFloor - toCover - vents
		if g.heater {
			air += g.power
		}
		if g.loop {
			w := g.loopUA * (g.soil - g.air)
			air += w
			g.soil -= w * dt / part / g.soilHeat
		}
		g.soil += 2 * (g.mean + 1 - g.soil) * dt / part / g.soilHeat
		g.air += air / g.airHeat * dt / part
		g.plants += (g.toPlants*s*(1-g.vapour) + toPlants) / g.plantHeat * dt / part
		g.floor += ((1-g.toAir-g.toPlants)*0.7*s + toFloor - toDeep) / g.floorHeat * dt / part
		g.deep += (toDeep + 0.5*(g.mean-g.deep)) / g.deepHeat * dt / part
		g.cover += (toCover - sky - (2.8+1.2*max(0, g.wind))*g.coverArea*(g.cover-g.outside)) / (g.coverHeat * g.coverArea) * dt / part
	}
}

// read lets some seconds pass and returns what is known then.
func (g *garden) read(every time.Duration, outside bool) In {
	steps := int(every.Seconds() / instant)
	g.ranFor = [drives]float64{}
	for range steps {
		g.step()
	}
	in := In{At: g.now, Wall: g.now.Add(g.astray), Air: math.Round(10*(g.probe+0.04*g.c.normal())) / 10, Outside: math.NaN()}
	if outside {
		in.Outside = math.Round(10*(g.outside+0.1*g.c.normal())) / 10
	}
	for d, s := range g.ranFor {
		in.Drives[d] = s / every.Seconds()
	}
	return in
}
