package page

import (
	"math"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
)

// words writes values and times as the core's sentences do, in the shorter
// forms that a list needs.
type words struct {
	garden alarms.Words // as the core writes sentences
	core   alarms.Words // as the visitor reads them
	zone   *time.Location
	manner manner // of numbers and times
}

func newWords(w alarms.Words) words {
	if w.Zone == nil {
		w.Zone = time.UTC
	}
	return words{garden: w, core: w, zone: w.Zone, manner: manner{fahrenheit: w.Fahrenheit}}
}

// in returns the words in the manner of one visitor.
func (w words) in(m manner) words {
	w.manner, w.core.Fahrenheit = m, m.fahrenheit
	return w
}

// closeBy is how near to a limit is said, in the core's unit; common practice,
// no source.
var closeBy = map[alarms.Quantity]float64{
	alarms.Temperature: 1, alarms.Surface: 1, alarms.Soil: 1, alarms.DewMargin: 0.5, alarms.Humidity: 4,
	alarms.VPD: 0.1, alarms.Current: 0.1, alarms.Power: 5, alarms.Speed: 2, alarms.Opening: 2, alarms.Battery: 5,
	alarms.Voltage: 0.1, alarms.Signal: 3, alarms.Pressure: 100,
}

// noBreak keeps a number and its unit on one line.
const noBreak = "\u00a0"

// value writes v, given in the core's unit, with its unit.
func (w words) value(q alarms.Quantity, v float64) string {
	number, unit := w.parts(q, v)
	return number + unit
}

// parts writes v as its number and its unit with the space before it.
func (w words) parts(q alarms.Quantity, v float64) (number, unit string) {
	number, unit, found := strings.Cut(w.manner.text(w.core.Value(q, v)), " ")
	if math.IsNaN(v) || math.IsInf(v, 0) {
		number = "–"
	}
	if found {
		unit = noBreak + unit
	}
	return number, unit
}

func (w words) unit(q alarms.Quantity) string {
	_, unit := w.parts(q, 0)
	return unit
}

// limit writes a limit without unit and without digits that say nothing: 32,
// not 32.0.
func (w words) limit(q alarms.Quantity, v float64) string {
	number, _ := w.parts(q, v)
	if strings.ContainsAny(number, "."+w.manner.decimal) {
		number = strings.TrimRight(strings.TrimRight(number, "0"), "."+w.manner.decimal)
	}
	return number
}

// difference writes how far two values of q are apart, always positive; one
// too small to be seen is "less than" the smallest that can be.
func (w words) difference(q alarms.Quantity, d float64) string {
	said := w.manner.text(w.core.Distance(q, math.Abs(d)))
	number, unit, _ := strings.Cut(said, " ")
	if d != 0 && strings.Trim(number, "0."+w.manner.decimal) == "" {
		number = "less than " + number[:len(number)-1] + "1"
	}
	if unit == "" {
		return number
	}
	return number + noBreak + unit
}

// shown converts v to the unit it is written in, for drawing.
func (w words) shown(q alarms.Quantity, v float64) float64 {
	switch q {
	case alarms.Temperature, alarms.Surface, alarms.Soil:
		if w.core.Fahrenheit {
			return v*9/5 + 32
		}
	case alarms.DewMargin:
		if w.core.Fahrenheit {
			return v * 9 / 5
		}
	case alarms.Pressure:
		return v / 100
	}
	return v
}

// shownDifference converts a difference of two values of q, for drawing.
func (w words) shownDifference(q alarms.Quantity, d float64) float64 {
	return w.shown(q, d) - w.shown(q, 0)
}

// number writes v in the visitor's manner.
func (w words) number(v float64, digits int) string { return w.manner.text(plainNumber(v, digits)) }

// plainNumber writes v with a true minus sign and never as minus nought.
func plainNumber(v float64, digits int) string {
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}
