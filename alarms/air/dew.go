package air

import "math"

// dewOf returns the temperature in °C at which the vapour pressure e in Pa is
// saturation over water, supercooled below 0 °C: Newton's method on logarithms,
// the inverse of SaturationPressure to within 0.001 K. NaN for no vapour and
// below -100 °C.
func dewOf(e float64) float64 {
	if !(e > 0) {
		return math.NaN()
	}
	ln := math.Log(e)
	td := magnus(ln, 17.62, 243.12)
	for range 2 {
		tK := td + kelvin
		slope := 6096.9385/(tK*tK) - 2.711193e-2 + 2*1.673952e-5*tK + 2.433502/tK
		td -= (lnOverWater(tK) - ln) / slope
	}
	return within(td, hottest)
}

// frostOf is the same over ice. NaN where the air holds more vapour than ice can
// balance.
func frostOf(e float64) float64 {
	if !(e > 0) {
		return math.NaN()
	}
	ln := math.Log(e)
	tf := magnus(ln, 22.46, 272.62)
	for range 2 {
		tK := tf + kelvin
		slope := 6024.5282/(tK*tK) + 1.0613868e-2 - 2*1.3198825e-5*tK - 0.49382577/tK
		tf -= (lnOverIce(tK) - ln) / slope
	}
	return within(tf, triplePoint)
}

// DepositPoint returns the temperature in °C below which a surface becomes
// wet or white in this air: the frost point where there is one, which is never
// below the dew point, else the dew point.
func DepositPoint(tC, rh float64) float64 {
	const triplePressure = 611.657 // Pa, IAPWS; ice cannot balance more
	e := vapourPressure(tC, rh)
	if e < triplePressure {
		return frostOf(e)
	}
	return dewOf(e)
}

// LeafEstimate returns the temperature in °C of a leaf that is belowK kelvin
// cooler than the air, for places without a surface probe. A leaf with enough
// water in dim light, or under a clear night sky, is commonly 1 to 2 K below
// the air (common practice, no source); in full sun it may be warmer.
func LeafEstimate(airC, belowK float64) float64 { return airC - belowK }

// magnus inverts the Magnus formula of WMO-No. 8 (2008, Annex 4.B) from the
// logarithm of the vapour pressure in Pa; ln 611.2 = 6.415424.
func magnus(ln, b, c float64) float64 {
	g := ln - 6.415424
	return c * g / (b - g)
}

// within returns t, or NaN where it is outside the range of the formulas.
func within(t, top float64) float64 {
	const rounding = 0.002 // K, so that saturated air at the end keeps its dew point
	if !(t >= coldest-rounding && t <= top+rounding) {
		return math.NaN()
	}
	return t
}
