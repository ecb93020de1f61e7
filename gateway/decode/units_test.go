package decode

import (
	"math"
	"strings"
	"testing"

	"telltale/alarms"
)

// Fixed points of the scales: by definition 0 °C = 273.15 K = 32 °F, 100 °C =
// 212 °F, and both scales meet at -40. Prefixes by the SI. inHg: NIST SP 811,
// conventional inch of mercury, and the standard atmosphere 101 325 Pa =
// 29.921 25 inHg (both from memory).
func TestUnitsConvertAtFixedPoints(t *testing.T) {
	tests := []struct {
		quantity alarms.Quantity
		unit     string
		in, want float64
	}{
		{alarms.Temperature, "°C", 21.5, 21.5},
		{alarms.Temperature, "Cel", -40, -40},
		{alarms.Temperature, "°F", 32, 0},
		{alarms.Temperature, "°F", 212, 100},
		{alarms.Temperature, "°F", -40, -40},
		{alarms.Temperature, "F", 86.9, 30.5},
		{alarms.Surface, "degF", 50, 10},
		{alarms.Soil, "fahrenheit", 23, -5},
		{alarms.Temperature, "K", 273.15, 0},
		{alarms.Temperature, "kelvin", 373.15, 100},
		{alarms.Humidity, "%", 71.25, 71.25},
		{alarms.Humidity, "%RH", 30, 30},
		{alarms.Humidity, "ratio", 0.55, 55},
		{alarms.Humidity, "/", 0.29, 29},
		{alarms.Humidity, "ratio", 1, 100},
		{alarms.Battery, "%EL", 98, 98},
		{alarms.Speed, "ratio", 0.58, 58},
		{alarms.Voltage, "mV", 3012, 3.012},
		{alarms.Current, "mA", 430, 0.43},
		{alarms.Power, "kW", 1.5, 1500},
		{alarms.Signal, "dBW", -100, -70},
		{alarms.Pressure, "hPa", 1013.25, 101325},
		{alarms.Pressure, "mbar", 1000, 100000},
		{alarms.Pressure, "kPa", 101.325, 101325},
		{alarms.Pressure, "Pa", 99000, 99000},
		{alarms.Moisture, "%", 23.5, 23.5},
		{alarms.Moisture, "m3/m3", 0.235, 23.5},
		{alarms.Fullness, "/", 0.07, 7},
		{alarms.Light, "klx", 41.5, 41.5},
		{alarms.Light, "lx", 41500, 41.5},
		{alarms.Light, "lux", 0.7, 0.0007},
	}
	for _, tt := range tests {
		u, err := unitsOf(tt.quantity).check(tt.unit)
		if err != nil {
			t.Errorf("%s %s: %v", tt.quantity, tt.unit, err)
			continue
		}
		if got := u.scale.apply(tt.in, 1); got != tt.want {
			t.Errorf("%v %s: got %v, want exactly %v", tt.in, tt.unit, got, tt.want)
		}
	}
	inHg, _ := unitsOf(alarms.Pressure).find("inHg")
	if got := inHg.scale.apply(29.92125, 1); math.Abs(got-101325) > 1 {
		t.Errorf("29.92125 inHg: got %v Pa, want 101325 within 1", got)
	}
}

func TestUnitsThatDoNotSuitAreRefused(t *testing.T) {
	tests := []struct {
		quantity alarms.Quantity
		unit     string
		want     string // in the error
	}{
		{alarms.Temperature, "%", "must be a unit of temperature: °C, °F, K"},
		{alarms.Humidity, "%EL", "%, ratio (got"},
		{alarms.Battery, "%RH", "%, ratio (got"},
		{alarms.Humidity, "Cel", "a unit of humidity"},
		{alarms.Contact, "V", "contact has no unit"},
		{alarms.Temperature, "k", "a unit of"},
		{alarms.Moisture, "%RH", "must be a unit of soil-moisture: %, ratio"},
		{alarms.Light, "W/m2", "must be a unit of light: klx, lx (got"},
	}
	for _, tt := range tests {
		_, err := unitsOf(tt.quantity).check(tt.unit)
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s in %s: got %v, want an error with %q", tt.quantity, tt.unit, err, tt.want)
		}
	}
}

func TestEveryMeasuredQuantityKnowsItsUnit(t *testing.T) {
	for _, q := range alarms.Quantities {
		if q.Derived() || q == alarms.Contact {
			continue
		}
		us := unitsOf(q)
		if len(us.fit) == 0 || us.fit[0].scale != same {
			t.Errorf("%s: the first unit must be the core's own, got %v", q, us.fit)
		}
	}
}
