package air

import "math"

// WetBulb returns the thermodynamic wet bulb temperature in °C at a total
// pressure in Pa: the temperature to which air cools when water, or ice below
// 0 °C, evaporates into it until it is saturated. ASHRAE Fundamentals 2017
// ch. 1 eq. 33 (water) and 35 (ice), solved to within 0.001 K; for -100 to
// 100 °C, NaN outside. Defined at 0 % too. Where both a wet and an iced bulb
// would balance, just above freezing, it is the wet one. Below 0 °C air that
// is damper than saturation over ice has an iced bulb warmer than itself.
func WetBulb(tC, rh, pressure float64) float64 {
	p := standard(pressure)
	w := HumidityRatio(tC, rh, p)
	if math.IsNaN(w) {
		return w
	}
	balance, low, high := overIce, coldest, min(0, tC+2)
	if tC >= 0 && w >= overWater(tC, 0, p) {
		balance, low, high = overWater, 0, tC
	}
	for high-low > 0.0005 {
		mid := (low + high) / 2
		if balance(tC, mid, p) > w {
			high = mid
		} else {
			low = mid
		}
	}
	return (low + high) / 2
}

// overWater is the humidity ratio of air of tC whose wet bulb is at tw.
func overWater(tC, tw, pressure float64) float64 {
	ws := saturated(SaturationPressure(tw), pressure)
	return ((2501-2.326*tw)*ws - 1.006*(tC-tw)) / (2501 + 1.86*tC - 4.186*tw)
}

// overIce is the same for a bulb covered with ice.
func overIce(tC, tw, pressure float64) float64 {
	ws := saturated(SaturationPressureIce(tw), pressure)
	return ((2830-0.24*tw)*ws - 1.006*(tC-tw)) / (2830 + 1.86*tC - 2.1*tw)
}

// saturated is the humidity ratio of saturated air, endless where water boils.
func saturated(vapour, pressure float64) float64 {
	if vapour >= pressure {
		return math.Inf(1)
	}
	return ratioOf(vapour, pressure)
}
