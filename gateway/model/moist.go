package model

import (
	"math"

	"telltale/alarms/air"
)

// Heat of moist air as in the ASHRAE Handbook - Fundamentals 2017, chapter 1,
// equation 30, counted from dry air and liquid water at 0 °C.
const (
	heatDry    = 1006.0  // J/(kg K)
	heatVapour = 1860.0  // J/(kg K)
	latentZero = 2501000 // J/kg, evaporation at 0 °C
	ratioMass  = 0.621945
)

// moist is the state of some air.
type moist struct {
	temperature float64 // °C
	ratio       float64 // kg of vapour per kg of dry air
}

// moistOf turns a relative humidity into a state at standard pressure.
func moistOf(temperature, rh float64) moist {
	return moist{temperature, air.HumidityRatio(temperature, rh, 0)}
}

// enthalpy in J per kg of dry air.
func (m moist) enthalpy() float64 { return air.EnthalpyOf(m.temperature, m.ratio) }

// humidity is the relative humidity over water in %, at most 100.
func (m moist) humidity() float64 {
	vapour := air.StandardAtmosphere * m.ratio / (ratioMass + m.ratio)
	return min(100, 100*vapour/air.SaturationPressure(m.temperature))
}

// dryFlow is the mass of dry air in kg/s that flows where m³/s of moist air do.
func (m moist) dryFlow(volume float64) float64 {
	return volume * air.Density(m.temperature, m.humidity(), 0) / (1 + m.ratio)
}

// saturated is the humidity ratio of saturated air, over water as the probes
// count it. Temperatures beyond the formulas count as their ends.
func saturated(temperature float64) float64 {
	return air.HumidityRatio(math.Min(math.Max(temperature, -90), 90), 100, 0)
}

// exchange is what a flow of dry air brings when it enters in one state and
// leaves in another, positive for what the house gains.
type exchange struct {
	total    float64 // W
	sensible float64 // W, at the humidity of the air that leaves
	latent   float64 // W, the rest
	water    float64 // kg/s
}

func exchanged(dryFlow float64, entering, leaving moist) exchange {
	total := dryFlow * (entering.enthalpy() - leaving.enthalpy())
	sensible := dryFlow * (heatDry + heatVapour*leaving.ratio) * (entering.temperature - leaving.temperature)
	return exchange{total, sensible, total - sensible, dryFlow * (entering.ratio - leaving.ratio)}
}
