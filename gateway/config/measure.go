package config

import (
	"strconv"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// measured is a kind of figure that may be written with its unit: "8 ft".
type measured struct {
	what  tongue.Text
	base  string             // unit of the core, and of a bare number
	units map[string]float64 // how many of base one of each is
	names []string           // of units, as told
	other string             // the unit that a reader in °F most likely means
}

var lengths = measured{what: "length|a measure", base: "m", other: "ft", names: []string{"m", "cm", "mm", "ft", "in"},
	units: map[string]float64{"m": 1, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}}

// flows are in m³ an hour. A cubic foot is 0.3048³ m³.
var flows = measured{what: "flow|a measure", base: "m³/h", other: "cfm", names: []string{"m³/h", "m³/s", "l/s", "cfm"},
	units: map[string]float64{"m³/h": 1, "m3/h": 1, "m³/s": 3600, "m3/s": 3600, "l/s": 3.6, "cfm": 60 * 0.3048 * 0.3048 * 0.3048}}

// length reads a length in m from lo to hi, flow a flow in m³/h. Either may be
// written with its unit. A bare number is doubted in a file in °F, and where it
// is beyond usual, which is what such a thing has at most in base units.
func (t *table) length(key string, lo, hi, usual float64) value[float64] {
	return t.measure(key, lengths, lo, hi, usual)
}

func (t *table) flow(key string, lo, hi, usual float64) value[float64] {
	return t.measure(key, flows, lo, hi, usual)
}

func (t *table) measure(key string, m measured, lo, hi, usual float64) value[float64] {
	return read(t, key, func(raw any) (float64, error) {
		v, unit, ok := m.parse(raw)
		switch {
		case !ok:
			return 0, tongue.Put("must be a %s with its unit, %s, for example \"1.5 %s\" (got %s)", m.what, alarms.Either(m.names), m.base, got(raw))
		case unit == "" && v != 0 && (t.r.scale.fahrenheit || v > usual):
			why := tongue.Put("a figure as large is seldom meant in %s", m.base)
			if t.r.scale.fahrenheit {
				why = tongue.Put("this file is in °F")
			}
			bare := figure(v)
			return 0, tongue.Put("must say its unit, since %s (got %s): write \"%s %s\", which is %s %s, or \"%s %s\", whichever it is",
				why, bare, bare, m.other, figure3(v*m.units[m.other]), m.base, bare, m.base)
		case unit != "":
			v = rounded(v * m.units[unit])
		}
		if !(v >= lo && v <= hi) {
			return 0, tongue.Put("must be from %s to %s%s (got %s)", figure(lo), figure(hi), spaced(m.base), figure3(v)+spaced(m.base))
		}
		return v, nil
	})
}

// parse takes a number, or one with a unit of m.
func (m measured) parse(raw any) (v float64, unit string, ok bool) {
	switch n := raw.(type) {
	case int64:
		return float64(n), "", true
	case float64:
		return n, "", true
	case string:
		at := strings.LastIndexAny(n, "0123456789.") + 1
		if strings.HasSuffix(n, "m3/h") || strings.HasSuffix(n, "m3/s") {
			at = len(n) - len("m3/h")
		}
		unit = strings.TrimSpace(n[at:])
		if _, known := m.units[unit]; !known {
			return 0, "", false
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(n[:at]), 64)
		return v, unit, err == nil
	}
	return 0, "", false
}

// figure3 writes v with three digits at most after the point.
func figure3(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(v, 'f', 3, 64), "0"), ".")
}

// deep, tall and wide are what pipes and houses of this kind have at most, m;
// much air is what one pipe carries at most, m³/h. Common practice, no source.
const (
	deepPipe  = 4.0
	tallHouse = 8.0
	wideHouse = 30.0
	longHouse = 100.0
	muchAir   = 3000.0
)
