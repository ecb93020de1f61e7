package model

import (
	"math"

	"telltale/alarms/sun"
)

const (
	solarConstant = 1353.0   // W/m², as in the formula of Meinel & Meinel
	stefan        = 5.670e-8 // W/(m² K⁴)
	zeroKelvin    = 273.15
)

// sunlight is the radiation of the sun that reaches the ground.
type sunlight struct {
	direct  float64 // W/m² on a surface that faces the sun
	diffuse float64 // W/m² from the sky on a level surface
	global  float64 // W/m², both on a level surface
	place   sun.Position
}

// airMass is how much more air the sun's rays cross than from the zenith:
// Kasten & Young (1989, Applied Optics 28:4735).
func airMass(elevation float64) float64 {
	return 1 / (math.Sin(radians(elevation)) + 0.50572*math.Pow(elevation+6.07995, -1.6364))
}

// clearSky is the light of a cloudless sky. Direct: Meinel & Meinel (1976,
// Applied Solar Energy). Diffuse: Liu & Jordan (1960, Solar Energy 4(3):1).
func clearSky(p sun.Position) sunlight {
	if p.Elevation <= 0 {
		return sunlight{place: p}
	}
	outside := solarConstant / (p.Distance * p.Distance)
	passed := math.Pow(0.7, math.Pow(airMass(p.Elevation), 0.678))
	up := math.Sin(radians(p.Elevation))
	l := sunlight{direct: outside * passed, diffuse: outside * up * (0.271 - 0.294*passed), place: p}
	l.global = l.direct*up + l.diffuse
	return l
}

// under returns the light that is left when cloud covers a share of the sky:
// Kasten & Czeplak (1980, Solar Energy 24:177), whose diffuse share also grows
// with the square of the cover.
func (l sunlight) under(cloud float64) sunlight {
	if l.global <= 0 {
		return l
	}
	global := l.global * (1 - 0.75*math.Pow(cloud, 3.4))
	clear := l.diffuse / l.global
	l.diffuse = global * (clear + (1-clear)*cloud*cloud)
	l.global = global
	// Near the horizon a thin beam would make a huge direct light: leave it out.
	if up := math.Sin(radians(l.place.Elevation)); up > 0.02 {
		l.direct = (global - l.diffuse) / up
	} else {
		l.direct = 0
	}
	return l
}

// pane is one plane of the cover.
type pane struct {
	area    float64 // m²
	tilt    float64 // degrees from level, 90 upright
	azimuth float64 // degrees from north over east, where it looks
}

const (
	groundReflects = 0.2 // short grass; Liu & Jordan (1963)
	diffuseAngle   = 60  // degrees; diffuse light passes like a beam at this angle
)

// passes returns the light in W that goes through a pane of a given
// transmittance: direct light by the angle of incidence, diffuse light of an
// even sky and light reflected by the ground after Liu & Jordan (1963, Solar
// Energy 7:53), the angle's effect on glass after Souka & Safwat (1966, Solar
// Energy 10:170) with a coefficient of 0.1.
func (p pane) passes(l sunlight, transmittance float64) float64 {
	sinTilt, cosTilt := math.Sincos(radians(p.tilt))
	sinUp, cosUp := math.Sincos(radians(l.place.Elevation))
	incidence := cosTilt*sinUp + sinTilt*cosUp*math.Cos(radians(l.place.Azimuth-p.azimuth))
	light := (l.diffuse*(1+cosTilt)/2 + l.global*groundReflects*(1-cosTilt)/2) * angleFactor(math.Cos(radians(diffuseAngle)))
	if incidence > 0 {
		light += l.direct * incidence * angleFactor(incidence)
	}
	return light * transmittance * p.area
}

func angleFactor(cosine float64) float64 {
	return max(0, 1-0.1*(1/max(cosine, 0.01)-1))
}

// skyTemperature in °C is what a surface radiates to: Swinbank (1963, Q. J. R.
// Meteorol. Soc. 89:339) for a clear sky, air temperature under full cloud.
func skyTemperature(outside, cloud float64) float64 {
	clear := 0.0552*math.Pow(outside+zeroKelvin, 1.5) - zeroKelvin
	return clear + cloud*(outside-clear)
}

func radians(d float64) float64 { return d * (math.Pi / 180) }
