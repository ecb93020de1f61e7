package page

import (
	"math"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
)

// words turns values and times into what a person reads.
type words struct {
	fahrenheit bool
	zone       *time.Location
}

func newWords(w alarms.Words) words {
	if w.Zone == nil {
		w.Zone = time.UTC
	}
	return words{fahrenheit: w.Fahrenheit, zone: w.Zone}
}

// measure is how a quantity is written.
type measure struct {
	name   string  // as said in a sentence
	unit   string  // with its leading space
	digits int     // after the point
	close  float64 // nearer to a limit than this is said; common practice, no source
}

var measures = map[alarms.Quantity]measure{
	alarms.Temperature: {"temperature", " °C", 1, 1},
	alarms.Surface:     {"surface temperature", " °C", 1, 1},
	alarms.Soil:        {"soil temperature", " °C", 1, 1},
	alarms.DewMargin:   {"margin to dew", " °C", 1, 0.5},
	alarms.Humidity:    {"humidity", " %", 0, 4},
	alarms.VPD:         {"vapour pressure deficit", " kPa", 2, 0.1},
	alarms.Contact:     {"contact", "", 0, 0},
	alarms.Current:     {"current", " A", 2, 0.1},
	alarms.Power:       {"power", " W", 0, 5},
	alarms.Speed:       {"speed", " %", 0, 2},
	alarms.Battery:     {"battery", " %", 0, 5},
	alarms.Voltage:     {"voltage", " V", 2, 0.1},
	alarms.Signal:      {"signal", " dBm", 0, 3},
	alarms.Pressure:    {"pressure", " Pa", 0, 5},
}

// measureOf returns how q is written; a quantity without an entry is written
// plainly under its own name.
func measureOf(q alarms.Quantity) measure {
	if m, ok := measures[q]; ok {
		return m
	}
	return measure{name: strings.ReplaceAll(string(q), "-", " "), digits: 2}
}

func isTemperature(q alarms.Quantity) bool {
	return q == alarms.Temperature || q == alarms.Surface || q == alarms.Soil
}

// shown converts v from the core's unit to the one shown.
func (w words) shown(q alarms.Quantity, v float64) float64 {
	if w.fahrenheit && isTemperature(q) {
		return v*9/5 + 32
	}
	return w.shownDifference(q, v)
}

// shownDifference converts a difference of two values of q, or a value of a
// quantity that is a difference itself.
func (w words) shownDifference(q alarms.Quantity, d float64) float64 {
	if w.fahrenheit && measureOf(q).unit == " °C" {
		return d * 9 / 5
	}
	return d
}

// unit returns the unit shown for q with its leading space.
func (w words) unit(q alarms.Quantity) string {
	u := measureOf(q).unit
	if w.fahrenheit && u == " °C" {
		return " °F"
	}
	return u
}

// number writes v, given in the core's unit, without unit.
func (w words) number(q alarms.Quantity, v float64) string {
	return plainNumber(w.shown(q, v), measureOf(q).digits)
}

// value writes v with its unit, or a contact in words.
func (w words) value(q alarms.Quantity, v float64) string {
	if q == alarms.Contact {
		return contactWord(v)
	}
	return w.number(q, v) + w.unit(q)
}

// limit writes a limit without digits that say nothing: 32, not 32.0.
func (w words) limit(q alarms.Quantity, v float64) string {
	s := plainNumber(w.shown(q, v), measureOf(q).digits)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// difference writes how far two values of q are apart, always positive; one
// too small to be seen is "less than" the smallest that can be.
func (w words) difference(q alarms.Quantity, d float64) string {
	d = math.Abs(w.shownDifference(q, d))
	digits := measureOf(q).digits
	if least := math.Pow10(-digits); d > 0 && d < least/2 {
		return "less than " + plainNumber(least, digits) + w.unit(q)
	}
	return plainNumber(d, digits) + w.unit(q)
}

func contactWord(v float64) string {
	if v >= 0.5 {
		return "closed"
	}
	return "open"
}

// plainNumber writes v with a true minus sign and never as minus nought.
func plainNumber(v float64, digits int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if digitsOnly := strings.Trim(s, "-0."); digitsOnly == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}
