package thermal

import (
	"math"
	"time"

	"telltale/alarms/sun"
)

// light is that of a clear sky on level ground, in kW/m²: Haurwitz (1945, J.
// Meteorology 2:154), from memory.
func (h *House) light(wall int64) float64 {
	up := math.Sin(sun.At(h.latitude, h.longitude, time.Unix(wall, 0)).Elevation * math.Pi / 180)
	if up <= 0.005 {
		return 0
	}
	return 1.098 * up * math.Exp(-0.059/up)
}

const (
	dayMean    = 40.0    // h over which the curve's mean is learned
	dayShape   = 70.0    // h over which its shape is
	firstSwing = 4.0     // K, half of the swing before it was seen
	warmest    = 15.0    // h of the sun's day, likewise
	aDay       = 86400.0 // s
)

// dayCurve is the usual course of a temperature: a mean and one wave a day.
type dayCurve struct{ mean, cos, sin float64 }

func (d *dayCurve) empty() {
	sin, cos := math.Sincos(2 * math.Pi * warmest / 24)
	*d = dayCurve{bounds[outside].first, firstSwing * cos, firstSwing * sin}
}

// phase is the angle of the sun's day.
func (h *House) phase(wall int64) float64 {
	return 2 * math.Pi * (float64(wall%int64(aDay))/aDay + h.longitude/360)
}

func (h *House) curve(wall int64) float64 { return h.day.at(h.phase(wall)) }

func (d *dayCurve) at(phase float64) float64 {
	sin, cos := math.Sincos(phase)
	return d.mean + d.cos*cos + d.sin*sin
}

// learn takes the temperature over some hours: a reading, from which the shape is
// learned too, or what the filter makes of the house.
func (d *dayCurve) learn(phase, v, hours float64, read bool) {
	e := v - d.at(phase)
	d.mean += e * hours / dayMean
	if read {
		sin, cos := math.Sincos(phase)
		d.cos += 2 * e * cos * hours / dayShape
		d.sin += 2 * e * sin * hours / dayShape
	}
}

const (
	wave     = 1.0  // K, half of the swing from which it is seen when a house is warmest
	earliest = 9.5  // h of the sun's day at which its wave is highest
	latest   = 17.0 // h, likewise
)

// astray reports whether the house is warmest, by the wave of its days, when no sun that
// stands where it is taken to stand could make it so: the longitude or the clock is
// hours off, and all that the sun is said to do is wrong. Four recorded houses had it
// between 10.4 and 15.3 h, simulated ones between 12.3 and 16.9 h.
func (h *House) astray() bool {
	peak := math.Mod(math.Atan2(h.inside.sin, h.inside.cos)*12/math.Pi+24, 24)
	return h.learned >= days && math.Hypot(h.inside.cos, h.inside.sin) >= wave && (peak < earliest || peak > latest)
}
