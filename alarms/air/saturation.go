// Package air does psychrometrics: what temperature and relative humidity say
// about the water in the air and on surfaces.
//
// Temperatures are in °C and pressures in Pa. Relative humidity is in percent
// over water at every temperature, below freezing too, as humidity sensors and
// WMO-No. 8 give it. A total pressure of 0 stands for the standard atmosphere.
//
// What cannot be computed is NaN: a temperature outside -100 to 100 °C, a
// humidity more than 10 points outside its scale, a pressure that the vapour
// alone would exceed. Humidity up to 10 points outside 0 to 100 % is cropped
// to the scale, as sensor makers advise for readings that overshoot it. At 0 %
// the vapour pressure is 0 and there is no deposit point.
//
// Nothing here allocates.
package air

import "math"

const (
	kelvin      = 273.15 // K at 0 °C
	triplePoint = 0.01   // °C; ice cannot be warmer
	coldest     = -100.0 // °C, end of the range of Sonntag's formulas
	hottest     = 100.0  // °C, the same
	overshoot   = 10.0   // %, how far a humidity may be off the scale
)

// SaturationPressure returns the vapour pressure in Pa at which air of tC is
// in balance with liquid water, supercooled below 0 °C. Formula of Sonntag
// (1990, Zeitschrift für Meteorologie 40:340), valid from -100 to 100 °C and
// NaN outside; within 0.05 % of Hyland & Wexler (1983) from -20 to 60 °C.
func SaturationPressure(tC float64) float64 {
	if !(tC >= coldest && tC <= hottest) {
		return math.NaN()
	}
	return math.Exp(lnOverWater(tC + kelvin))
}

// vapourPressure returns the partial pressure of the water vapour in Pa: the
// saturation pressure over water times the relative humidity.
func vapourPressure(tC, rh float64) float64 {
	return SaturationPressure(tC) * share(rh)
}

// lnOverWater is the logarithm of Sonntag's saturation pressure in Pa at tK.
func lnOverWater(tK float64) float64 {
	return -6096.9385/tK + 21.2409642 - 2.711193e-2*tK + 1.673952e-5*tK*tK + 2.433502*math.Log(tK)
}

// lnOverIce is the same over ice, from -100 °C to the triple point.
func lnOverIce(tK float64) float64 {
	return -6024.5282/tK + 29.32707 + 1.0613868e-2*tK - 1.3198825e-5*tK*tK - 0.49382577*math.Log(tK)
}

// share turns a relative humidity in % into 0 to 1, cropped as the package
// comment says.
func share(rh float64) float64 {
	if !(rh >= -overshoot && rh <= 100+overshoot) {
		return math.NaN()
	}
	return min(max(rh, 0), 100) / 100
}
