package words

import (
	"math"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
)

// Words writes values and times as the core's sentences do, in the shorter
// forms that a list needs.
type Words struct {
	plan   *alarms.Plan // of which sentences tell; nil: they stay as they were kept
	garden say.Locale   // as sentences are kept
	Core   say.Locale   // as the visitor reads them
	Zone   *time.Location
	Locale
}

// New returns the words of the garden, for a visitor of no locale of their own.
func New(w alarms.Words) Words {
	if w.Zone == nil {
		w.Zone = time.UTC
	}
	core := say.In(w)
	return Words{garden: core, Core: core, Zone: w.Zone}.Speaking(w.Tongue)
}

// Speaking returns the words as the garden writes them, in a language.
func (w Words) Speaking(t tongue.Tongue) Words {
	return w.In(Locale{Tongue: t, Fahrenheit: w.garden.Fahrenheit, Decimal: t.Decimal()})
}

// Telling returns the words that can say again what was kept of a plan.
func (w Words) Telling(plan *alarms.Plan) Words {
	w.plan = plan
	return w
}

// In returns the words in the locale of one visitor.
func (w Words) In(m Locale) Words {
	w.Locale = m
	w.Core.Tongue, w.Core.Fahrenheit, w.Core.Decimal, w.Core.Hours12 = m.Tongue, m.Fahrenheit, m.Decimal, m.Hours12
	return w
}

// Say is x in the visitor's language, with args filled in.
func (w Words) Say(x tongue.Text, args ...any) string { return w.Tongue.Say(x, args...) }

// Said is the sentence of a transition in the visitor's locale. One that an early
// version kept, as text alone, is as it was kept.
func (w Words) Said(t alarms.Transition) string {
	switch {
	case w.Fahrenheit != w.garden.Fahrenheit && t.Other != "":
		return t.Other
	case w.plan == nil:
		return t.Sentence
	}
	return say.Again(w.plan, &t, w.garden, w.Core)
}

// NoBreak keeps a number and its unit on one line.
const NoBreak = "\u00a0"

// Value writes v, given in the core's unit, with its unit.
func (w Words) Value(q alarms.Quantity, v float64) string {
	number, unit := w.Parts(q, v)
	return number + unit
}

// Parts writes v as its number and its unit with the space before it.
func (w Words) Parts(q alarms.Quantity, v float64) (number, unit string) {
	number, unit, found := strings.Cut(w.Core.Value(q, v), " ")
	if math.IsNaN(v) || math.IsInf(v, 0) {
		number = "–"
	}
	if found {
		unit = NoBreak + unit
	}
	return number, unit
}

// Unit is the unit of q with the space before it, "" for none.
func (w Words) Unit(q alarms.Quantity) string {
	_, unit := w.Parts(q, 0)
	return unit
}

// limit writes a limit without unit and without digits that say nothing: 32,
// not 32.0.
func (w Words) limit(q alarms.Quantity, v float64) string {
	number, _ := w.Parts(q, v)
	if strings.ContainsAny(number, "."+w.Decimal) {
		number = strings.TrimRight(strings.TrimRight(number, "0"), "."+w.Decimal)
	}
	return number
}

// Difference writes how far two values of q are apart, always positive; one
// too small to be seen is "less than" the smallest that can be.
func (w Words) Difference(q alarms.Quantity, d float64) string {
	said := w.Core.Distance(q, math.Abs(d))
	number, unit, _ := strings.Cut(said, " ")
	if d != 0 && strings.Trim(number, "0."+w.Decimal) == "" {
		number = w.Say("less than %s", number[:len(number)-1]+"1")
	}
	if unit == "" {
		return number
	}
	return number + NoBreak + unit
}

// Shown converts v to the unit it is written in, for drawing.
func (w Words) Shown(q alarms.Quantity, v float64) float64 { return w.Core.Shown(q, v) }

// ShownDifference converts a difference of two values of q, for drawing.
func (w Words) ShownDifference(q alarms.Quantity, d float64) float64 {
	return w.Core.ShownDistance(q, d)
}

// Number writes v in the visitor's locale.
func (w Words) Number(v float64, digits int) string { return w.Text(plainNumber(v, digits)) }

// plainNumber writes v with a true minus sign and never as minus zero.
func plainNumber(v float64, digits int) string {
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

// Trend writes a rate per hour as the core's sentences do.
func (w Words) Trend(q alarms.Quantity, perHour float64) string {
	return strings.ReplaceAll(w.Core.Course(q, perHour), " °", NoBreak+"°")
}

// Watts says which way power goes.
func (w Words) Watts(v float64) string {
	switch {
	case v >= 0.5:
		return w.Say("%s of heat", w.Number(v, 0)+NoBreak+"W")
	case v <= -0.5:
		return w.Say("%s of cold", w.Number(-v, 0)+NoBreak+"W")
	}
	return w.Say("nothing")
}

// KWh writes an energy; small ones with one decimal more.
func (w Words) KWh(v float64) string {
	digits := 1
	if v < 1 {
		digits = 2
	}
	return w.Number(v, digits) + NoBreak + "kWh"
}

// Depth writes a depth in the unit of the visitor's degrees.
func (w Words) Depth(m float64) string {
	if w.Fahrenheit {
		return w.Number(m/0.3048, 1) + NoBreak + "ft"
	}
	return w.Number(m, 1) + NoBreak + "m"
}
