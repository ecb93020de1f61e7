package ahead_test

import (
	"math"
	"math/rand/v2"
	"time"

	"telltale/alarms/sun"
)

// chance is random numbers that are copied with what holds them, so that a copy of a
// house lives on in the same weather.
type chance struct{ rand.PCG }

func (c *chance) even() float64 { return float64(c.Uint64()>>11) / (1 << 53) }

func (c *chance) between(lo, hi float64) float64 { return lo + (hi-lo)*c.even() }

// normal has the spread of a standard normal variable: the sum of twelve even ones.
func (c *chance) normal() (sum float64) {
	for range 12 {
		sum += c.even()
	}
	return sum - 6
}

// wander moves a variable that returns to zero, of standard deviation 1, on by some
// seconds of its time constant.
func (c *chance) wander(x *float64, seconds, constant float64) {
	keep := math.Exp(-seconds / constant)
	*x = *x*keep + math.Sqrt(1-keep*keep)*c.normal()
}

// climate is where a house stands.
type climate struct {
	latitude, longitude float64
	mean                float64 // °C, of the season
	sunny               float64 // K, by which a clear day at the solstice warms the air
	radiates            float64 // K, by which a clear night cools it
	front               float64 // K, standard deviation of what a front brings
	every               float64 // days between two fronts, in the mean
	cloudy              float64 // of the slow state of the sky, in the mean: 0 is half covered
	wind                float64 // m/s
}

var (
	temperate = climate{mean: 13, sunny: 11, radiates: 5, front: 3, every: 3.5, cloudy: 0.1, wind: 2.5}
	interior  = climate{mean: 7, sunny: 17, radiates: 9, front: 6, every: 3, cloudy: -0.6, wind: 3}
	southern  = climate{mean: 21, sunny: 12, radiates: 6, front: 2, every: 6, cloudy: -1.2, wind: 2}
)

// weather is the outside: fronts, of which each brings other air within hours, a slow
// state of the sky, single clouds that come and go in minutes under it, wind and gusts.
type weather struct {
	climate
	chance
	at             time.Time
	aim, air       float64 // K, of the air that the last front brought, and of the air there is
	ramp           float64 // s, in which it comes
	next           float64 // s until the next front
	sky, wet       float64 // slow state of the sky, and what the front adds to it
	hidden         bool    // the sun, by a single cloud
	thick          float64 // share of the direct light that the cloud lets through
	left           float64 // s until the sky changes
	breeze, gust   float64
	warmed         float64 // K, by the sun of the day
	direct, spread float64 // W/m²: on what faces the sun, and of the sky on the level
	place          sun.Position
	outside, skyAt float64 // °C: of the air, and of what a surface radiates to
	ratio          float64 // kg/kg, of vapour
}

func newWeather(c climate, begin time.Time, seed uint64) weather {
	w := weather{climate: c, at: begin, ramp: 3 * 3600}
	w.PCG = *rand.NewPCG(seed, 7)
	w.sky, w.breeze, w.next = w.normal(), w.normal(), w.between(0, c.every*86400)
	w.aim = c.front * w.normal()
	w.air = w.aim
	return w
}

// step moves the weather on by some seconds.
func (w *weather) step(seconds float64) {
	w.at = w.at.Add(time.Duration(seconds * float64(time.Second)))
	if w.next -= seconds; w.next < 0 {
		w.aim, w.ramp = w.front*w.normal(), w.between(1, 6)*3600
		w.wet = w.between(-0.3, 1.8) // a front comes with cloud
		w.next = -math.Log(1-w.even()) * w.every * 86400
	}
	w.air += (w.aim - w.air) * (1 - math.Exp(-seconds/w.ramp))
	w.wet *= math.Exp(-seconds / (14 * 3600))
	w.wander(&w.sky, seconds, 7*3600)
	w.wander(&w.breeze, seconds, 3*3600)
	w.wander(&w.gust, seconds, 100)
	w.clouds(seconds)
	if w.at.Second() == 0 {
		w.place = sun.At(w.latitude, w.longitude, w.at)
	}
	w.shine(seconds)
}

// covered is the share of the sky under cloud.
func (w *weather) covered() float64 { return 1 / (1 + math.Exp(-2*(w.cloudy+w.sky+w.wet))) }

// clouds lets single clouds come and go: each hides the sun for some minutes, the
// longer the more of the sky is covered.
func (w *weather) clouds(seconds float64) {
	if w.left -= seconds; w.left > 0 {
		return
	}
	w.hidden = w.even() < w.covered()
	w.thick = w.between(0, 0.5)
	w.left = -math.Log(1-w.even()) * w.between(60, 900)
}

// shine makes the light of the moment, and of that the air outside. The light of a
// clear sky is that of Meinel & Meinel (1976, Applied Solar Energy), as from memory.
func (w *weather) shine(seconds float64) {
	up := math.Sin(w.place.Elevation * math.Pi / 180)
	w.direct, w.spread = 0, 0
	covered := w.covered()
	if up > 0.02 {
		w.direct = 1353 * math.Pow(0.7, math.Pow(1/up, 0.678))
		w.spread = 90*up + 250*up*covered*(1-0.6*covered*covered)
		if w.hidden {
			w.direct *= w.thick * (1 - covered*covered)
			w.spread += 60 * up * (1 - covered)
		}
	}
	aim := w.sunny*(w.direct*max(up, 0)+w.spread)/850 - w.radiates*(1-covered)
	w.warmed += (aim - w.warmed) * (1 - math.Exp(-seconds/(4*3600)))
	w.outside = w.mean + w.air + w.warmed
	clear := 0.0552*math.Pow(w.outside+273.15, 1.5) - 273.15 // Swinbank (1963)
	w.skyAt = clear + covered*(w.outside-clear)
	w.ratio = 0.8 * saturated(w.mean+w.air-0.6*w.radiates)
}

// blows is the wind of the moment in m/s.
func (w *weather) blows() float64 {
	return max(0.1, w.wind*math.Exp(0.6*w.breeze)*(1+0.45*w.gust))
}
