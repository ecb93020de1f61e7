package decode

import (
	"math"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
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

// unit is one way to write a value of a quantity.
type unit struct {
	name   string   // as used in sentences
	also   []string // further spellings
	inName []string // words of a name that state it: temp_f is in °F
	scale  conversion
}

func (u unit) spelt(s string) bool { return u.name == s || slices.Contains(u.also, s) }

// units are those of one quantity.
type units struct {
	quantity alarms.Quantity
	fit      []unit
}

func unitsOf(q alarms.Quantity) units {
	for i := range table {
		if table[i].quantity == q {
			return units{q, table[i].units}
		}
	}
	return units{quantity: q}
}

// find returns the unit spelt s that suits the quantity.
func (us units) find(s string) (unit, bool) {
	for _, u := range us.fit {
		if u.spelt(s) {
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
		return unit{}, tongue.Put("must be left out: %s has no unit (got %q)", us.quantity, s)
	}
	return unit{}, tongue.Put("must be a unit of %s: %s (got %q)", us.quantity, us.names(), s)
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
