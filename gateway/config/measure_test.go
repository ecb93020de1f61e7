package config

import (
	"math"
	"testing"
)

// 1 ft is 0.3048 m and 1 in 0.0254 m exactly (international yard and pound
// agreement of 1959); so 200 cfm are 339.8 m³/h.
func TestLengthsAndFlowsWithTheirUnit(t *testing.T) {
	for _, c := range []struct {
		m    measured
		raw  any
		want float64
	}{
		{lengths, "8 ft", 2.4384}, {lengths, "8ft", 2.4384}, {lengths, "30 in", 0.762}, {lengths, "1.5 m", 1.5},
		{lengths, "150 cm", 1.5}, {lengths, "-2300 mm", -2.3}, {lengths, 1.5, 1.5}, {lengths, int64(2), 2},
		{flows, "200 cfm", 339.8022}, {flows, "340 m3/h", 340}, {flows, "340 m³/h", 340}, {flows, "0.1 m3/s", 360},
		{flows, "95 l/s", 342}, {flows, 170.0, 170},
	} {
		v, unit, ok := c.m.parse(c.raw)
		if unit != "" {
			v *= c.m.units[unit]
		}
		if !ok || math.Abs(v-c.want) > 1e-4 {
			t.Errorf("%v: got %v %v, want %v", c.raw, v, ok, c.want)
		}
	}
	for _, bad := range []any{"8 yards", "ft", "8", "1.5 m3/h", "NaN m", "8 ft 2", true, "", "m", "1,5 m"} {
		if v, _, ok := lengths.parse(bad); ok && !math.IsNaN(v) {
			t.Errorf("%v was read as %v", bad, v)
		}
	}
}
