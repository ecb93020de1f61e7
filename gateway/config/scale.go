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
	if s.fahrenheit && q.Absolute() {
		return rounded((v - 32) / 1.8)
	}
	return s.stepInto(q, v)
}

// stepInto converts a difference, deadband or rate of q.
func (s scale) stepInto(q alarms.Quantity, v float64) float64 {
	if s.fahrenheit && q.Facts().Warmth() {
		return rounded(v / 1.8)
	}
	return v
}

// from converts a value of q from the core's unit to the file's.
func (s scale) from(q alarms.Quantity, v float64) float64 {
	if s.fahrenheit && q.Absolute() {
		return rounded(v*1.8 + 32)
	}
	return s.stepFrom(q, v)
}

func (s scale) stepFrom(q alarms.Quantity, v float64) float64 {
	if s.fahrenheit && q.Facts().Warmth() {
		return rounded(v * 1.8)
	}
	return v
}

// unit is the file's unit of q.
func (s scale) unit(q alarms.Quantity) string {
	if q.Absolute() && s.fahrenheit {
		return "°F"
	}
	return q.Facts().Unit
}

// stepUnit is the file's unit of a difference of q.
func (s scale) stepUnit(q alarms.Quantity) string {
	switch {
	case !q.Facts().Warmth():
		return s.unit(q)
	case s.fahrenheit:
		return "°F"
	}
	return "K"
}

// rounded cuts what floating point adds: 86 °F is 30 °C.
func rounded(v float64) float64 { return math.Round(v*1e9) / 1e9 }
