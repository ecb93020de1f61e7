package decode

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"telltale/alarms"
)

// conversion brings a value to the core's unit: (x - sub) * mul / div.
type conversion struct{ sub, mul, div float64 }

// same leaves a value as it is.
var same = conversion{0, 1, 1}

// apply converts x times factor. A converted value is rounded to 1e-9 of the
// core's unit, so that 0.55 becomes 55 % and not 55.00000000000001: a value on
// a limit must stay on it.
func (c conversion) apply(x, factor float64) float64 {
	if c == same && factor == 1 {
		return x
	}
	v := (x*factor - c.sub) * c.mul / c.div
	if math.Abs(v) < 1e6 {
		v = math.Round(v*1e9) / 1e9
	}
	return v
}

// unit is one way to write a value of some quantities.
type unit struct {
	name  string   // as used in sentences
	also  []string // further spellings; SenML's are those of RFC 8428, section 12.1
	of    []alarms.Quantity
	scale conversion
}

// unitTable returns every known unit, the core's own first for each quantity.
// Factors: the SI prefixes, 0 °C = 273.15 K, °F = 9/5 °C + 32, and the
// conventional inch of mercury of NIST SP 811, 3386.389 Pa (from memory).
func unitTable() []unit {
	warm := []alarms.Quantity{alarms.Temperature, alarms.Surface, alarms.Soil}
	share := []alarms.Quantity{alarms.Humidity, alarms.Speed, alarms.Opening, alarms.Battery}
	one := func(q alarms.Quantity) []alarms.Quantity { return []alarms.Quantity{q} }
	return []unit{
		{"°C", []string{"ºC", "C", "degC", "Cel", "celsius"}, warm, same},
		{"°F", []string{"ºF", "F", "degF", "fahrenheit"}, warm, conversion{32, 5, 9}},
		{"K", []string{"kelvin"}, warm, conversion{273.15, 1, 1}},
		{"%", []string{"percent"}, share, same},
		{"%", []string{"%RH"}, one(alarms.Humidity), same},
		{"%", []string{"%EL"}, one(alarms.Battery), same},
		{"ratio", []string{"/", "1"}, share, conversion{0, 100, 1}},
		{"A", nil, one(alarms.Current), same},
		{"mA", nil, one(alarms.Current), conversion{0, 1, 1000}},
		{"W", nil, one(alarms.Power), same},
		{"kW", nil, one(alarms.Power), conversion{0, 1000, 1}},
		{"V", nil, one(alarms.Voltage), same},
		{"mV", nil, one(alarms.Voltage), conversion{0, 1, 1000}},
		{"dBm", nil, one(alarms.Signal), same},
		{"dBW", nil, one(alarms.Signal), conversion{-30, 1, 1}},
		{"Pa", nil, one(alarms.Pressure), same},
		{"hPa", []string{"mbar"}, one(alarms.Pressure), conversion{0, 100, 1}},
		{"kPa", nil, one(alarms.Pressure), conversion{0, 1000, 1}},
		{"inHg", nil, one(alarms.Pressure), conversion{0, 3386.389, 1}},
	}
}

func (u unit) spelt(s string) bool { return u.name == s || slices.Contains(u.also, s) }

// units holds what of the table concerns one quantity.
type units struct {
	quantity alarms.Quantity
	fit      []unit
}

func unitsOf(q alarms.Quantity) units {
	us := units{quantity: q}
	for _, u := range unitTable() {
		if slices.Contains(u.of, q) {
			us.fit = append(us.fit, u)
		}
	}
	return us
}

// find returns the unit spelt s that suits the quantity.
func (us units) find(s string) (unit, bool) {
	for _, u := range us.fit {
		if u.spelt(s) || (u.name == "%" && s == "%") {
			return u, true
		}
	}
	return unit{}, false
}

// check returns the unit s, or an error that names those that would be right.
func (us units) check(s string) (unit, error) {
	if u, ok := us.find(s); ok {
		return u, nil
	}
	if len(us.fit) == 0 {
		return unit{}, fmt.Errorf("unit: %s has no unit (got %q)", us.quantity, s)
	}
	return unit{}, fmt.Errorf("unit: %q is no unit of %s, want %s", s, us.quantity, us.names())
}

func (us units) names() string {
	var names []string
	for _, u := range us.fit {
		if !slices.Contains(names, u.name) {
			names = append(names, u.name)
		}
	}
	return strings.Join(names, ", ")
}
