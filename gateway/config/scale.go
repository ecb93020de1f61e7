package config

import (
	"math"

	"telltale/alarms"
)

// scale is how temperatures are written in the file and in sentences. The
// core works in °C and K.
type scale struct{ fahrenheit bool }

// into converts a value of q from the file's unit to the core's.
func (s scale) into(q alarms.Quantity, v float64) float64 {
	if s.fahrenheit && absolute(q) {
		return rounded((v - 32) / 1.8)
	}
	return s.stepInto(q, v)
}

// stepInto converts a difference, deadband or rate of q.
func (s scale) stepInto(q alarms.Quantity, v float64) float64 {
	if s.fahrenheit && (absolute(q) || q == alarms.DewMargin) {
		return rounded(v / 1.8)
	}
	return v
}

// from converts a value of q from the core's unit to the file's.
func (s scale) from(q alarms.Quantity, v float64) float64 {
	if s.fahrenheit && absolute(q) {
		return rounded(v*1.8 + 32)
	}
	return s.stepFrom(q, v)
}

func (s scale) stepFrom(q alarms.Quantity, v float64) float64 {
	if s.fahrenheit && (absolute(q) || q == alarms.DewMargin) {
		return rounded(v * 1.8)
	}
	return v
}

// unit is the file's unit of q.
func (s scale) unit(q alarms.Quantity) string {
	if absolute(q) && s.fahrenheit {
		return "°F"
	}
	return quantityFacts[q].unit
}

// stepUnit is the file's unit of a difference of q.
func (s scale) stepUnit(q alarms.Quantity) string {
	switch {
	case !absolute(q) && q != alarms.DewMargin:
		return s.unit(q)
	case s.fahrenheit:
		return "°F"
	}
	return "K"
}

// rounded cuts what floating point adds: 86 °F is 30 °C.
func rounded(v float64) float64 { return math.Round(v*1e9) / 1e9 }

// absolute reports whether q is a temperature with a zero point.
func absolute(q alarms.Quantity) bool {
	return q == alarms.Temperature || q == alarms.Surface || q == alarms.Soil
}

// facts are what can be said of a quantity beforehand.
type facts struct {
	unit     string
	lo, hi   float64 // values that a limit or range may have, in the core's unit
	deadband float64 // default of the core
	limits   bool    // limits make sense
}

var quantityFacts = map[alarms.Quantity]facts{
	alarms.Temperature: {"°C", -60, 100, 0.5, true},
	alarms.Humidity:    {"%", 0, 100, 2, true},
	alarms.Surface:     {"°C", -60, 120, 0.5, true},
	alarms.Soil:        {"°C", -60, 80, 0.5, true},
	alarms.VPD:         {"kPa", 0, 20, 0.05, true},
	alarms.DewMargin:   {"K", -60, 100, 0.3, true},
	alarms.Contact:     {"", 0, 1, 0, false},
	alarms.Current:     {"A", 0, 1000, 0.5, true},
	alarms.Power:       {"W", -100000, 100000, 0.5, true},
	alarms.Speed:       {"%", 0, 100, 0.5, true},
	alarms.Opening:     {"%", 0, 100, 0.5, true},
	alarms.Battery:     {"%", 0, 100, 0, false},
	alarms.Voltage:     {"V", 0, 1000, 0, false},
	alarms.Signal:      {"dBm", -200, 20, 0, false},
	alarms.Pressure:    {"Pa", -200000, 200000, 0.5, true},
}
