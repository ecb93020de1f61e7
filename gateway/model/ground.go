package model

import "math"

const (
	year = 365.0 // days

	airConductivity = 0.026   // W/(m K), air at 25 °C
	airViscosity    = 15.6e-6 // m²/s, the same
	airPrandtl      = 0.71    // the same
)

// ground is undisturbed soil.
type ground struct {
	mean        float64 // °C, of the surface over the year
	swing       float64 // K, half of the surface's yearly swing
	coldest     float64 // day of the year on which the surface is coldest
	diffusivity float64 // m²/day
}

// at returns the temperature in °C at a depth in m on a day of the year, after
// Kusuda & Achenbach (1965, ASHRAE Transactions 71(1):61-74).
func (g ground) at(depth, day float64) float64 {
	damping := math.Sqrt(math.Pi / (year * g.diffusivity))
	lag := depth / 2 * math.Sqrt(year/(math.Pi*g.diffusivity))
	return g.mean - g.swing*math.Exp(-depth*damping)*math.Cos(2*math.Pi/year*(day-g.coldest-lag))
}

// pipe is one buried pipe of the loop and the soil that it warms or cools.
type pipe struct {
	depth    float64 // m
	length   float64 // m
	diameter float64 // m
	soil     float64 // W/(m K), conductivity of the soil
	heat     float64 // J/(m³ K), of the soil
}

// The soil that answers to the air within hours reaches this far from the axis
// of the pipe, and the undisturbed ground begins at the second distance.
const (
	nearRadius = 0.30 // m
	farRadius  = 1.50 // m
)

// capacity is the heat stored per kelvin in the near soil, J/K.
func (p pipe) capacity() float64 {
	return math.Pi * (nearRadius*nearRadius - p.diameter*p.diameter/4) * p.length * p.heat
}

// outward is the conductance in W/K from the near soil to undisturbed ground:
// a hollow cylinder from the middle of the near soil to the far radius.
func (p pipe) outward() float64 {
	return 2 * math.Pi * p.soil * p.length / math.Log(farRadius/(nearRadius/2))
}

// inward is the conductance in W/K from the near soil to air that flows at
// volume m³/s: the film in the pipe after Dittus & Boelter (1930) in series
// with half of the near soil.
func (p pipe) inward(volume float64) float64 {
	speed := volume / (math.Pi * p.diameter * p.diameter / 4)
	reynolds := speed * p.diameter / airViscosity
	film := 0.023 * math.Pow(reynolds, 0.8) * math.Pow(airPrandtl, 0.35) * airConductivity / p.diameter
	wall := film * math.Pi * p.diameter * p.length
	shell := 2 * math.Pi * p.soil * p.length / math.Log(nearRadius/p.diameter)
	return 1 / (1/wall + 1/shell)
}

// effectiveness is the share of the difference between air and soil that the
// air gives up on its way: 1 - exp(-NTU), the exchanger with one side at one
// temperature (Kays & London, Compact Heat Exchangers, 3rd ed. 1984).
func (p pipe) effectiveness(volume, dryFlow float64) float64 {
	if volume <= 0 || dryFlow <= 0 {
		return 0
	}
	return 1 - math.Exp(-p.inward(volume)/(dryFlow*heatDry))
}

// through returns the air at the far end of the pipe. Where the soil is colder
// than the dew point water condenses on the wall, in the same share as the
// heat goes over (the contact factor of a cooling coil, ASHRAE Handbook - HVAC
// Systems and Equipment 2016, chapter 23), and drains away.
func (p pipe) through(entering moist, soil, volume, dryFlow float64) moist {
	share := p.effectiveness(volume, dryFlow)
	out := moist{entering.temperature + share*(soil-entering.temperature), entering.ratio}
	if wall := saturated(soil); entering.ratio > wall {
		out.ratio += share * (wall - entering.ratio)
	}
	out.ratio = min(out.ratio, saturated(out.temperature))
	return out
}
