package alarms

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// Value writes a value of q with its unit: "36.4 °C", "92 %", "0.18 kPa".
func (w Words) Value(q Quantity, v float64) string { return w.value(q, v, 0) }

// value is Value with more decimals than usual.
func (w Words) value(q Quantity, v float64, more int) string {
	switch q {
	case Temperature, Surface, Soil:
		if w.inFahrenheit() {
			return number(v*9/5+32, 1+more) + " °F"
		}
		return number(v, 1+more) + " °C"
	case Contact:
		if v >= 0.5 {
			return "closed"
		}
		return "open"
	}
	return w.distance(q, v, more)
}

// Distance writes a difference of two values of q with its unit; a difference
// of temperatures has no offset: 1 K is 1.8 °F.
func (w Words) Distance(q Quantity, d float64) string { return w.distance(q, d, 0) }

// distance is Distance with more decimals than usual.
func (w Words) distance(q Quantity, d float64, more int) string {
	switch q {
	case Temperature, Surface, Soil, DewMargin:
		if w.inFahrenheit() {
			return number(d*9/5, 1+more) + " °F"
		}
		return number(d, 1+more) + " °C"
	case Humidity, Battery, Speed, Opening:
		return number(d, more) + " %"
	case VPD:
		return number(d, 2+more) + " kPa"
	case Current:
		return number(d, 2+more) + " A"
	case Power:
		return number(d, more) + " W"
	case Voltage:
		return number(d, 2+more) + " V"
	case Signal:
		return number(d, more) + " dBm"
	case Pressure:
		return number(d/100, 1+more) + " hPa"
	}
	return number(d, 2+more)
}

// number writes v with so many decimals, never "-0".
func number(v float64, decimals int) string {
	scale := math.Pow10(decimals)
	if v = math.Round(v*scale) / scale; v == 0 {
		v = 0 // drops the sign
	}
	s := fmt.Sprintf("%.*f", decimals, v)
	return strings.Replace(s, "-", "−", 1)
}

// Clock writes t as a clock time, with the day where it is not that of now.
//
// The year is named where it would be guessed wrong.
func (w Words) Clock(t, now time.Time) string {
	zone := w.Zone
	if zone == nil {
		zone = time.UTC
	}
	t, now = t.In(zone), now.In(zone)
	if t.Year() == now.Year() && t.YearDay() == now.YearDay() {
		return t.Format("15:04")
	}
	if t.Year() != now.Year() && t.Sub(now).Abs() > halfYear {
		return t.Format("15:04 on 2 January 2006")
	}
	return t.Format("15:04 on 2 January")
}

// Span writes a duration as a person says it: "40 s", "6 min", "2 h 5 min", "3 days".
func Span(d time.Duration) string {
	d = d.Round(time.Second)
	switch {
	case d < 90*time.Second:
		return fmt.Sprintf("%d s", int(d.Seconds()))
	case d < time.Hour:
		return fmt.Sprintf("%d min", int(d.Round(time.Minute).Minutes()))
	case d < 48*time.Hour:
		d = d.Round(time.Minute)
		h, m := int(d.Hours()), int(d.Minutes())%60
		if m == 0 {
			return fmt.Sprintf("%d h", h)
		}
		return fmt.Sprintf("%d h %d min", h, m)
	}
	days := d.Hours() / 24
	if years := days / 365.2425; years >= 2 {
		return fmt.Sprintf("%.0f years", years)
	}
	return fmt.Sprintf("%d days", int(days+0.5))
}

// list joins names as a person does: "a", "a and b", "a, b and c".
func list(names []string) string {
	switch n := len(names); n {
	case 0:
		return ""
	case 1:
		return names[0]
	default:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
}

const halfYear = 183 * 24 * time.Hour
