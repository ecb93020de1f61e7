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

// dayCurve is the usual course of the air outside: a mean and one wave a day.
type dayCurve struct{ mean, cos, sin float64 }

func (d *dayCurve) empty() {
	sin, cos := math.Sincos(2 * math.Pi * warmest / 24)
	*d = dayCurve{bounds[outside].first, firstSwing * cos, firstSwing * sin}
}

// phase is the angle of the sun's day.
func (h *House) phase(wall int64) float64 {
	return 2 * math.Pi * (float64(wall%int64(aDay))/aDay + h.longitude/360)
}

func (h *House) curve(wall int64) float64 {
	sin, cos := math.Sincos(h.phase(wall))
	return h.day.mean + h.day.cos*cos + h.day.sin*sin
}

// learnDay takes the air outside over some hours: a reading, from which the shape is
// learned too, or what the filter makes of the house.
func (h *House) learnDay(wall int64, v, hours float64, read bool) {
	e := v - h.curve(wall)
	h.day.mean += e * hours / dayMean
	if read {
		sin, cos := math.Sincos(h.phase(wall))
		h.day.cos += 2 * e * cos * hours / dayShape
		h.day.sin += 2 * e * sin * hours / dayShape
	}
}
