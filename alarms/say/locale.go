package say

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// Locale is how one reader wants words, numbers and times. The zero value is English,
// and writes °C, a decimal point and 24 hours, in UTC.
type Locale struct {
	Fahrenheit bool           // temperatures in °F instead of °C, lengths in ft instead of m
	Decimal    string         // decimal mark where it is not that of the language
	Hours12    bool           // clock times as 3:04 pm
	Zone       *time.Location // of clock times; nil means UTC
	Tongue     tongue.Tongue  // the language
}

// say is x in the reader's language.
func (m Locale) say(x tongue.Text, args ...any) string { return m.Tongue.Say(x, args...) }

// Of is the locale of a plan: that of the garden.
func Of(p *alarms.Plan) Locale { return In(p.Words) }

// In is the locale of the garden's words.
func In(w alarms.Words) Locale {
	return Locale{Fahrenheit: w.Fahrenheit, Decimal: w.Tongue.Decimal(), Zone: w.Zone, Tongue: w.Tongue}
}

// Value writes a value of q with its unit: "36.4 °C", "92 %", "0.18 kPa".
func (m Locale) Value(q alarms.Quantity, v float64) string { return m.value(q, v, 0) }

// value is Value with more decimals than usual.
func (m Locale) value(q alarms.Quantity, v float64, more int) string {
	switch {
	case q == alarms.Contact && v >= 0.5:
		return m.say("closed")
	case q == alarms.Contact:
		return m.say("open")
	}
	return m.written(q, m.Shown(q, v), more)
}

// Distance writes a difference of two values of q with its unit; a difference
// of temperatures has no offset: 1 K is 1.8 °F.
func (m Locale) Distance(q alarms.Quantity, d float64) string { return m.distance(q, d, 0) }

// distance is Distance with more decimals than usual.
func (m Locale) distance(q alarms.Quantity, d float64, more int) string {
	return m.written(q, m.ShownDistance(q, d), more)
}

// Shown brings a value of q to the unit that it is shown in.
func (m Locale) Shown(q alarms.Quantity, v float64) float64 {
	if q.Absolute() && m.Fahrenheit {
		return v*9/5 + 32
	}
	return m.ShownDistance(q, v)
}

// ShownDistance does the same with a difference of two values of q.
func (m Locale) ShownDistance(q alarms.Quantity, d float64) float64 {
	switch f := q.Facts(); {
	case f.Warmth() && m.Fahrenheit:
		return d * 9 / 5
	case f.ShownAs != "":
		return d / f.ShownBy
	}
	return d
}

// written writes what is in the unit shown, with it.
func (m Locale) written(q alarms.Quantity, v float64, more int) string {
	text, unit := m.number(v, q.Facts().Digits+more), m.unit(q)
	if unit == "" {
		return text
	}
	return text + " " + unit
}

// unit is that in which q is shown; "" for none.
func (m Locale) unit(q alarms.Quantity) string {
	f := q.Facts()
	switch {
	case f.Warmth() && m.Fahrenheit:
		return "°F"
	case f.Warmth():
		return "°C"
	}
	return cmp.Or(f.ShownAs, f.Unit)
}

// depth writes a depth: "1.5 m", with °F "4.9 ft".
func (m Locale) depth(v float64) string {
	if m.Fahrenheit {
		return m.number(v/0.3048, 1) + " ft"
	}
	return m.number(v, 1) + " m"
}

// flow writes a flow of air: "144 m³/h", with °F "85 cfm".
func (m Locale) flow(v float64) string {
	if m.Fahrenheit {
		return m.number(v*60/(0.3048*0.3048*0.3048), 0) + " cfm"
	}
	return m.number(v*3600, 0) + " m³/h"
}

var sides = map[alarms.Side]tongue.Text{alarms.LowSide: "low", alarms.HighSide: "high"}

// side is of a limit: "low", to stand before it.
func (m Locale) side(s alarms.Side) string { return m.say(sides[s]) }

func (m Locale) kWh(v float64) string {
	if v < 1 {
		return m.number(v, 2) + " kWh"
	}
	return m.number(v, 1) + " kWh"
}

// dose writes degree-hours; those of °F are 1.8 times as many.
func (m Locale) dose(kelvinHours float64) string {
	if m.Fahrenheit {
		return m.say("%s degree-hours (°F)", m.number(kelvinHours*9/5, 1))
	}
	return m.say("%s degree-hours", m.number(kelvinHours, 1))
}

// number writes v with so many decimals, never "-0".
func (m Locale) number(v float64, decimals int) string {
	scale := math.Pow10(decimals)
	if v = math.Round(v*scale) / scale; v == 0 {
		v = 0 // drops the sign
	}
	s := strings.Replace(fmt.Sprintf("%.*f", decimals, v), "-", "−", 1)
	return strings.Replace(s, ".", cmp.Or(m.Decimal, m.Tongue.Decimal(), "."), 1)
}

// noBreak keeps a clock time and its half of the day on one line.
const noBreak = "\u00a0"

// hours is t's time of day, to the second if that is wanted.
func (m Locale) hours(t time.Time, seconds bool) string {
	layout := "15:04"
	if seconds {
		layout = "15:04:05"
	}
	if m.Hours12 {
		layout = strings.Replace(layout, "15", "3", 1) + noBreak + "pm"
	}
	return t.Format(layout)
}

// halfYear is how far off the year of a date must be named.
const halfYear = 183 * 24 * time.Hour

// Clock writes t as a clock time, with the day where it is not that of now.
//
// The year is named where it would be guessed wrong.
func (m Locale) Clock(t, now time.Time) string {
	t, now = m.local(t), m.local(now)
	if t.Year() == now.Year() && t.YearDay() == now.YearDay() {
		return m.hours(t, false)
	}
	if t.Year() != now.Year() && t.Sub(now).Abs() > halfYear {
		return m.Moment(t)
	}
	return m.hours(t, false) + m.Tongue.Date(" on 2 January", t)
}

// Moment writes t in words that are still right when they are read years later.
func (m Locale) Moment(t time.Time) string {
	t = m.local(t)
	return m.hours(t, false) + m.Tongue.Date(" on 2 January 2006", t)
}

// date writes the day of t in its own zone, without the year: "2 January".
func (m Locale) date(t time.Time) string { return m.Tongue.Date("2 January", t) }

// local is t in the zone of m, UTC where there is none.
func (m Locale) local(t time.Time) time.Time {
	if m.Zone == nil {
		return t.In(time.UTC)
	}
	return t.In(m.Zone)
}

// ofDay writes a time after midnight as clocks show it.
func (m Locale) ofDay(d time.Duration) string {
	if !m.Hours12 {
		return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60)
	}
	return m.hours(time.Time{}.Add(d), false)
}

// Span writes a duration as a person says it: "40 s", "6 min", "2 h 5 min", "3 days".
func (m Locale) Span(d time.Duration) string {
	d = d.Round(time.Second)
	switch {
	case d < 90*time.Second:
		return fmt.Sprintf("%d s", int(d.Seconds()))
	case d < time.Hour:
		return fmt.Sprintf("%d min", int(d.Round(time.Minute).Minutes()))
	case d < 48*time.Hour:
		d = d.Round(time.Minute)
		h, mins := int(d.Hours()), int(d.Minutes())%60
		if mins == 0 {
			return m.say("%d h", h)
		}
		return m.say("%d h %d min", h, mins)
	}
	days := d.Hours() / 24
	if years := days / 365.2425; years >= 2 {
		return m.say("%.0f years", years)
	}
	return m.say("%d days", int(days+0.5))
}

// span is Span, but says "1 day" where that is meant.
func (m Locale) span(d time.Duration) string {
	if d == 24*time.Hour {
		return m.say("a day")
	}
	return m.Span(d)
}

// hours writes d in the unit that suits a limit: "3.0 h", "20 min".
func (m Locale) lasting(d, limit time.Duration) string {
	if limit < time.Hour {
		return fmt.Sprintf("%d min", int(math.Floor(d.Minutes()+1e-9)))
	}
	return m.number(d.Hours(), 1) + " h"
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
