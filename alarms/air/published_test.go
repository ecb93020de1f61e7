package air

import (
	"math"
	"testing"
)

// ASHRAE Handbook - Fundamentals 2017, chapter 1, tables 1 to 3.
func TestHandbookTables(t *testing.T) {
	for _, c := range []struct{ t, pa float64 }{{5, 872.6}, {25, 3169.7}, {50, 12351.3}, {100, 101418}} {
		near(t, "saturation over water", SaturationPressure(c.t), c.pa, 0.005*c.pa)
	}
	for _, c := range []struct{ t, pa float64 }{{-60, 1.08}, {-20, 103.24}, {-5, 401.74}} {
		near(t, "saturation over ice", saturationIce(c.t), c.pa, 0.005*c.pa)
	}
	for _, c := range []struct{ t, w float64 }{{5, 0.005425}, {25, 0.020173}, {50, 0.086863}} {
		near(t, "saturated ratio", HumidityRatio(c.t, 100, 0), c.w, 0.01*c.w)
	}
	for _, c := range []struct{ t, w float64 }{{-50, 0.0000243}, {-20, 0.0006373}, {-5, 0.0024863}} {
		near(t, "ratio saturated over ice", HumidityRatio(c.t, fromIce(c.t, 100), 0), c.w, 0.01*c.w)
	}
	for _, c := range []struct{ t, h float64 }{{5, 18639}, {25, 76504}, {50, 275353}} {
		near(t, "saturated enthalpy", EnthalpyOf(c.t, HumidityRatio(c.t, 100, 0)), c.h, 0.01*c.h)
	}
	near(t, "dry enthalpy", EnthalpyOf(25, 0), 25148, 5)
	near(t, "dry volume", 1/Density(25, 0, 0), 0.8443, 0.0005)
}

// ASHRAE Handbook - Fundamentals 2017, chapter 1, example 1: dry bulb 40 °C,
// wet bulb 20 °C, by its equation 33; and worked values of PsychroLib's own test
// suite.
func TestHandbookExample(t *testing.T) {
	ws := HumidityRatio(20, 100, 0)
	w := ((2501-2.326*20)*ws - 1.006*(40-20)) / (2501 + 1.86*40 - 4.186*20)
	near(t, "W", w, 0.0065, 1e-4)
	rh := humidityOf(40, w, StandardAtmosphere)
	near(t, "RH", rh, 14, 1)
	near(t, "dew point", dewPoint(40, rh), 7, 0.5)
	near(t, "enthalpy", EnthalpyOf(40, w), 56700, 100)
	near(t, "enthalpy of 30 °C, W 0.02", EnthalpyOf(30, 0.02), 81316, 10)
	rh = humidityOf(30, 0.02, 95461)
	near(t, "density of 30 °C, W 0.02", Density(30, rh, 95461), 1.084120, 1e-4)
}

// humidityOf turns a humidity ratio back into % over water.
func humidityOf(tC, w, p float64) float64 {
	return 100 * (p * w / (ratio + w)) / SaturationPressure(tC)
}

// FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), chapter 3: seen
// e°(24.5) and e°(15); the others, from memory, recompute with its equations.
func TestFAO56(t *testing.T) {
	for _, c := range []struct{ t, kPa float64 }{{24.5, 3.075}, {15, 1.705}, {1, 0.657}, {20, 2.338}, {30, 4.243}, {40, 7.376}, {48.5, 11.447}} {
		near(t, "e°", SaturationPressure(c.t)/1000, c.kPa, 0.005*c.kPa)
	}
	near(t, "mean of e°", (SaturationPressure(24.5)+SaturationPressure(15))/2000, 2.39, 0.01)
	ea := (vapourPressure(18, 82) + vapourPressure(25, 54)) / 2000
	near(t, "example 5 ea", ea, 1.70, 0.01)
	near(t, "example 5 deficit", (SaturationPressure(18)+SaturationPressure(25))/2000-ea, 0.91, 0.01)
	for _, c := range []struct{ t, rh, kPa float64 }{{20, 40, 1.403}, {20, 60, 0.935}, {20, 80, 0.468}, {20, 90, 0.234}, {20, 95, 0.117}, {30, 40, 2.546}, {30, 90, 0.424}, {25, 50, 1.5839}, {35, 30, 3.9359}} {
		near(t, "VPD", VPD(c.t, c.rh)/1000, c.kPa, 0.005*c.kPa+0.0005)
	}
}

// A humidity sensor maker's dew-point note (after WMO-No. 8), PsychroLib's
// header, and dew points by Hyland & Wexler.
func TestDewExamples(t *testing.T) {
	near(t, "note 25/10", dewPoint(25, 10), -8.77, 0.1)
	near(t, "note 50/90", dewPoint(50, 90), 47.90, 0.1)
	near(t, "header 25/80", dewPoint(25, 80), 21.3094, 0.01)
	for _, c := range []struct{ t, rh, dew float64 }{
		{25, 50, 13.864}, {25, 80, 21.309}, {20, 90, 18.310}, {30, 60, 21.388},
		{10, 95, 9.237}, {40, 20, 12.783}, {35, 30, 14.844},
	} {
		near(t, "dew point", dewPoint(c.t, c.rh), c.dew, 0.01)
	}
	near(t, "frost point 5/70", frostPoint(5, 70), -0.008, 0.02)
	near(t, "dew point 5/70", dewPoint(5, 70), -0.02, 0.02)
	near(t, "dew point -10/80", dewPoint(-10, 80), -12.80, 0.02)
	near(t, "frost point of 80 % over ice", frostPoint(-10, fromIce(-10, 80)), -12.49, 0.02)
}

func TestEdges(t *testing.T) {
	nan := math.NaN()
	for what, got := range map[string]float64{
		"too cold":          SaturationPressure(-127),
		"too hot":           SaturationPressure(125),
		"not a number":      dewPoint(nan, 50),
		"humidity unknown":  VPD(20, nan),
		"humidity nonsense": dewPoint(20, 999),
		"humidity below":    dewPoint(20, -40),
		"dry air, dew":      dewPoint(20, 0),
		"dry air, frost":    frostPoint(20, 0),
		"dry air, deposit":  DepositPoint(20, 0),
		"warm damp frost":   frostPoint(20, 60),
		"boiling":           HumidityRatio(100, 100, 0),
		"endless":           dewPoint(math.Inf(1), 50),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s: got %v, want NaN", what, got)
		}
	}
	near(t, "overshoot is cropped", dewPoint(20, 104), 20, 0.001)
	near(t, "undershoot is cropped", vapourPressure(20, -3), 0, 0)
	near(t, "saturated air at the end", dewPoint(100, 100), 100, 0.001)
	near(t, "frost at the triple point", frostPoint(0.01, 100), 0.01, 0.002)
}

func TestDepositPoint(t *testing.T) {
	near(t, "above freezing", DepositPoint(25, 50), 13.864, 0.01)
	near(t, "below freezing frost comes first", DepositPoint(-10, 80), frostPoint(-10, 80), 1e-9)
	for tC := -30.0; tC < 30; tC += 0.01 { // no jump where frost gives way to dew
		if d := DepositPoint(tC+0.01, 60) - DepositPoint(tC, 60); d < 0.005 || d > 0.02 {
			t.Errorf("deposit point rises by %v K at %v °C", d, tC)
		}
	}
	if DepositPoint(-10, 80) <= dewPoint(-10, 80) {
		t.Error("frost must form before dew")
	}
	near(t, "leaf", LeafEstimate(20, 1), 19, 1e-9)
}

// Over the whole range: inverses come back, frost point above dew point below
// freezing.
func TestOrder(t *testing.T) {
	for tC := -40.0; tC <= 60; tC += 0.7 {
		for rh := 1.0; rh <= 100; rh += 3 {
			dew := dewPoint(tC, rh)
			near(t, "dew back", SaturationPressure(dew), vapourPressure(tC, rh), 1e-4*vapourPressure(tC, rh))
			if frost := frostPoint(tC, rh); !math.IsNaN(frost) {
				near(t, "frost back", saturationIce(frost), vapourPressure(tC, rh), 1e-4*vapourPressure(tC, rh))
				if frost < dew-0.001 {
					t.Errorf("%v °C %v %%: frost point %v below dew point %v", tC, rh, frost, dew)
				}
			}
		}
	}
}

func TestNoAllocation(t *testing.T) {
	var sink float64
	n := testing.AllocsPerRun(100, func() { sink += VPD(21, 60) + DepositPoint(21, 60) })
	if n != 0 || math.IsNaN(sink) {
		t.Errorf("got %v allocations, want none", n)
	}
}

func BenchmarkDepositPoint(b *testing.B) {
	var sink float64
	for i := range b.N {
		sink += DepositPoint(float64(i%40)-5, 60)
	}
	_ = sink
}
