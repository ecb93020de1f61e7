package air

import "math"

const (
	// StandardAtmosphere is the pressure in Pa at sea level.
	StandardAtmosphere = 101325.0

	dryGas    = 287.042  // J/(kg K), gas constant of dry air, ASHRAE Fundamentals 2017 ch. 1 eq. 1
	vapourGas = 461.524  // J/(kg K), gas constant of water vapour, same, eq. 2
	ratio     = 0.621945 // molar mass of water to that of dry air, same, eq. 20
)

// Pressure returns the pressure in Pa of the standard atmosphere at a height
// in m above the sea: ASHRAE Fundamentals 2017 ch. 1 eq. 3, for -5000 to
// 11000 m, NaN outside.
func Pressure(heightM float64) float64 {
	if !(heightM >= -5000 && heightM <= 11000) {
		return math.NaN()
	}
	return StandardAtmosphere * math.Pow(1-2.25577e-5*heightM, 5.2559)
}

// VPD returns the vapour pressure deficit of the air in Pa, a thousandth of it
// being the kPa that growers use: saturation pressure over water less vapour
// pressure, both at air temperature.
func VPD(tC, rh float64) float64 {
	return SaturationPressure(tC) * (1 - share(rh))
}

// LeafVPD returns the vapour pressure deficit in Pa between a leaf and the
// air: saturation at leaf temperature less the vapour pressure of the air. It
// is negative where water condenses on the leaf.
func LeafVPD(leafC, tC, rh float64) float64 {
	return SaturationPressure(leafC) - VapourPressure(tC, rh)
}

// AbsoluteHumidity returns the mass of vapour in g per m³ of moist air, by the
// gas law for water vapour.
func AbsoluteHumidity(tC, rh float64) float64 {
	return 1000 * VapourPressure(tC, rh) / (vapourGas * (tC + kelvin))
}

// HumidityRatio returns kg of vapour per kg of dry air at a total pressure in
// Pa: ASHRAE Fundamentals 2017 ch. 1 eq. 20. NaN where the vapour alone has
// the pressure or more.
func HumidityRatio(tC, rh, pressure float64) float64 {
	return ratioOf(VapourPressure(tC, rh), standard(pressure))
}

// Density returns kg of moist air per m³ at a total pressure in Pa: the sum of
// dry air and vapour by the gas law, as in ASHRAE Fundamentals 2017 ch. 1 eq.
// 26 and 28.
func Density(tC, rh, pressure float64) float64 {
	w := HumidityRatio(tC, rh, pressure)
	volume := dryGas * (tC + kelvin) * (1 + w/ratio) / standard(pressure)
	return (1 + w) / volume
}

// Enthalpy returns J per kg of dry air, counted from dry air and liquid water
// at 0 °C, at a total pressure in Pa: ASHRAE Fundamentals 2017 ch. 1 eq. 30.
func Enthalpy(tC, rh, pressure float64) float64 {
	return EnthalpyOf(tC, HumidityRatio(tC, rh, pressure))
}

// EnthalpyOf is Enthalpy for a humidity ratio in kg per kg of dry air.
func EnthalpyOf(tC, humidityRatio float64) float64 {
	return 1006*tC + humidityRatio*(2501000+1860*tC)
}

func ratioOf(vapour, pressure float64) float64 {
	if !(vapour < pressure) {
		return math.NaN()
	}
	return ratio * vapour / (pressure - vapour)
}

func standard(pressure float64) float64 {
	if pressure == 0 {
		return StandardAtmosphere
	}
	return pressure
}
