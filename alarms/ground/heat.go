package ground

import (
	"math"

	"telltale/alarms/air"
)

// Air is air at one place. Humidity is relative, in %, and NaN where unknown.
type Air struct {
	Temperature float64
	Humidity    float64
}

// Dry is air of a temperature whose humidity is unknown.
func Dry(temperature float64) Air { return Air{temperature, math.NaN()} }

// ratio is kg of vapour per kg of dry air, NaN where the humidity is unknown.
func (a Air) ratio(pressure float64) float64 {
	return air.HumidityRatio(a.Temperature, a.Humidity, pressure)
}

// Basis says from what a power was computed.
type Basis uint8

// Bases, the most trusted first.
const (
	BothHumid Basis = iota // by the enthalpies of moist air on both sides
	OneHumid               // one humidity unknown: taken that no water joined, and left only by saturation
	NoneHumid              // by temperature alone, as dry air: latent heat is left out
)

var basisNames = [...]string{"both humidities known", "one humidity known", "humidity unknown"}

func (b Basis) String() string { return name(basisNames[:], int(b)) }

// Passage is air that comes into a house and takes the place of house air: the
// air of a loop, or outside air that a fan draws in.
type Passage struct {
	Arriving Air     // as it enters the house, at the outlet of the pipe
	House    Air     // that it replaces; with a loop also what entered the pipe
	Volume   float64 // m³/s
	AtHouse  bool    // Volume was measured in the state of the house air, not of the arriving air
	Pressure float64 // Pa; 0 for sea level
}

// Power is what a passage delivers to the house: positive warms it, negative
// cools it.
type Power struct {
	Watts    float64 // in all
	Sensible float64 // W that the thermometer shows
	Latent   float64 // W carried by vapour: brought in, or (negative) taken away
	Water    float64 // kg/h of vapour brought in, negative where the house is dried
	DryFlow  float64 // kg/s of dry air
	Basis    Basis
}

// Delivered returns the power of a passage: the dry air flow times the
// difference of the enthalpies of moist air (ASHRAE Handbook - Fundamentals
// 2017, chapter 1, equations 26 and 30). The heat in the drained water is left
// out: it is under 2 % of the heat that made it. All fields are NaN where a
// temperature is no number.
func (p Passage) Delivered() Power {
	basis, arriving, house := p.ratios()
	measured, w := p.Arriving.Temperature, arriving
	if p.AtHouse {
		measured, w = p.House.Temperature, house
	}
	flow := p.Volume / dryVolume(measured, w, p.Pressure)
	from, to := air.EnthalpyOf(p.House.Temperature, house), air.EnthalpyOf(p.Arriving.Temperature, arriving)
	warmed := air.EnthalpyOf(p.Arriving.Temperature, house)
	return Power{
		Watts:    flow * (to - from),
		Sensible: flow * (warmed - from),
		Latent:   flow * (to - warmed),
		Water:    3600 * flow * (arriving - house),
		DryFlow:  flow,
		Basis:    basis,
	}
}

// ratios are the humidity ratios on both sides, with what is unknown assumed.
func (p Passage) ratios() (basis Basis, arriving, house float64) {
	arriving, house = p.Arriving.ratio(p.Pressure), p.House.ratio(p.Pressure)
	switch {
	case math.IsNaN(arriving) && math.IsNaN(house):
		return NoneHumid, 0, 0
	case math.IsNaN(arriving):
		return OneHumid, min(house, air.HumidityRatio(p.Arriving.Temperature, 100, p.Pressure)), house
	case math.IsNaN(house):
		return OneHumid, arriving, arriving
	}
	return BothHumid, arriving, house
}

// dryVolume returns m³ of moist air per kg of dry air.
func dryVolume(tC, ratio, pressure float64) float64 {
	const dryGas, molar, kelvin = 287.042, 0.621945, 273.15
	if pressure == 0 {
		pressure = air.StandardAtmosphere
	}
	return dryGas * (tC + kelvin) * (1 + ratio/molar) / pressure
}

// PerFanWatt returns the heat or cold delivered in W for each W that the fan
// draws. ok is false where the fan draws less than a watt: it is off, or its
// power is not known.
func PerFanWatt(delivered, fan float64) (perWatt float64, ok bool) {
	if !(fan >= 1) || math.IsNaN(delivered) {
		return 0, false
	}
	return math.Abs(delivered) / fan, true
}
