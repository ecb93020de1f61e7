package air

import "math"

const (
	// StandardAtmosphere is the pressure in Pa at sea level.
	StandardAtmosphere = 101325.0

	dryGas = 287.042  // J/(kg K), gas constant of dry air, ASHRAE Fundamentals 2017 ch. 1 eq. 1
	ratio  = 0.621945 // molar mass of water to that of dry air, same, eq. 20
)

// VPD returns the vapour pressure deficit of the air in Pa, a thousandth of it
// being the kPa that growers use: saturation pressure over water less vapour
// pressure, both at air temperature.
func VPD(tC, rh float64) float64 {
	return SaturationPressure(tC) * (1 - share(rh))
}

// HumidityRatio returns kg of vapour per kg of dry air at a total pressure in
// Pa: ASHRAE Fundamentals 2017 ch. 1 eq. 20. NaN where the vapour alone has
// the pressure or more.
func HumidityRatio(tC, rh, pressure float64) float64 {
	return ratioOf(vapourPressure(tC, rh), standard(pressure))
}

// Density returns kg of moist air per m³ at a total pressure in Pa: the sum of
// dry air and vapour by the gas law, as in ASHRAE Fundamentals 2017 ch. 1 eq.
// 26 and 28.
func Density(tC, rh, pressure float64) float64 {
	w := HumidityRatio(tC, rh, pressure)
	volume := dryGas * (tC + kelvin) * (1 + w/ratio) / standard(pressure)
	return (1 + w) / volume
}

// EnthalpyOf returns J per kg of dry air, counted from dry air and liquid water
// at 0 °C, for a humidity ratio in kg per kg of dry air: ASHRAE Fundamentals
// 2017 ch. 1 eq. 30.
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
