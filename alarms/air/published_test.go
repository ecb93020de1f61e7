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
		near(t, "saturation over ice", SaturationPressureIce(c.t), c.pa, 0.005*c.pa)
	}
	for _, c := range []struct{ t, w float64 }{{5, 0.005425}, {25, 0.020173}, {50, 0.086863}} {
		near(t, "saturated ratio", HumidityRatio(c.t, 100, 0), c.w, 0.01*c.w)
	}
	for _, c := range []struct{ t, w float64 }{{-50, 0.0000243}, {-20, 0.0006373}, {-5, 0.0024863}} {
		near(t, "ratio saturated over ice", HumidityRatio(c.t, RelativeFromIce(c.t, 100), 0), c.w, 0.01*c.w)
	}
	for _, c := range []struct{ t, h float64 }{{5, 18639}, {25, 76504}, {50, 275353}} {
		near(t, "saturated enthalpy", Enthalpy(c.t, 100, 0), c.h, 0.01*c.h)
	}
	near(t, "dry enthalpy", Enthalpy(25, 0, 0), 25148, 5)
	near(t, "dry volume", 1/Density(25, 0, 0), 0.8443, 0.0005)
	for _, c := range []struct{ z, pa float64 }{{-500, 107478}, {0, 101325}, {500, 95461}, {1000, 89875}, {4000, 61640}, {10000, 26436}} {
		near(t, "pressure at height", Pressure(c.z), c.pa, 1)
	}
}

// ASHRAE Handbook - Fundamentals 2017, chapter 1, example 1: dry bulb 40 °C,
// wet bulb 20 °C; and worked values of PsychroLib's own test suite.
func TestHandbookExample(t *testing.T) {
	w := overWater(40, 20, StandardAtmosphere)
	near(t, "W", w, 0.0065, 1e-4)
	rh := humidityOf(40, w, StandardAtmosphere)
	near(t, "RH", rh, 14, 1)
	near(t, "dew point", DewPoint(40, rh), 7, 0.5)
	near(t, "enthalpy", Enthalpy(40, rh, 0), 56700, 100)
	near(t, "wet bulb back", WetBulb(40, rh, 0), 20, 0.01)
	near(t, "W from wet bulb 25 at 30 °C", overWater(30, 25, 95461), 0.0192281274, 1e-5)
	near(t, "W from ice bulb -5 at -1 °C", overIce(-1, -5, 95461), 0.00120399820, 1e-5)
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
	ea := (VapourPressure(18, 82) + VapourPressure(25, 54)) / 2000
	near(t, "example 5 ea", ea, 1.70, 0.01)
	near(t, "example 5 deficit", (SaturationPressure(18)+SaturationPressure(25))/2000-ea, 0.91, 0.01)
	near(t, "example 2 pressure", Pressure(1800)/1000, 81.8, 0.35)
	// Equation 15 takes an aspirated psychrometer: example 4.
	rh := 100 * 1912 / SaturationPressure(25.6)
	near(t, "example 4 wet bulb", WetBulb(25.6, rh, 87900), 19.5, 0.1)
	for _, c := range []struct{ t, rh, kPa float64 }{{20, 40, 1.403}, {20, 60, 0.935}, {20, 80, 0.468}, {20, 90, 0.234}, {20, 95, 0.117}, {30, 40, 2.546}, {30, 90, 0.424}, {25, 50, 1.5839}, {35, 30, 3.9359}} {
		near(t, "VPD", VPD(c.t, c.rh)/1000, c.kPa, 0.005*c.kPa+0.0005)
	}
}

// A humidity sensor maker's dew-point note (after WMO-No. 8), PsychroLib's
// header, and dew and wet bulbs by Hyland & Wexler.
func TestDewAndWetBulbExamples(t *testing.T) {
	near(t, "note 25/10", DewPoint(25, 10), -8.77, 0.1)
	near(t, "note 50/90", DewPoint(50, 90), 47.90, 0.1)
	near(t, "header 25/80", DewPoint(25, 80), 21.3094, 0.01)
	for _, c := range []struct{ t, rh, dew, wet float64 }{
		{25, 50, 13.864, 17.889}, {25, 80, 21.309, 22.380}, {20, 90, 18.310, 18.864}, {30, 60, 21.388, 23.812},
		{10, 95, 9.237, 9.581}, {40, 20, 12.783, 22.032}, {35, 30, 14.844, 21.524},
	} {
		near(t, "dew point", DewPoint(c.t, c.rh), c.dew, 0.01)
		near(t, "wet bulb", WetBulb(c.t, c.rh, 0), c.wet, 0.02)
	}
	near(t, "frost point 5/70", FrostPoint(5, 70), -0.008, 0.02)
	near(t, "dew point 5/70", DewPoint(5, 70), -0.02, 0.02)
	near(t, "dew point -10/80", DewPoint(-10, 80), -12.80, 0.02)
	near(t, "over ice", RelativeOverIce(-10, 80), 88.2, 0.1)
	near(t, "frost point of 80 % over ice", FrostPoint(-10, RelativeFromIce(-10, 80)), -12.49, 0.02)
}

// Stull (2011, J. Appl. Meteor. Climatol. 50:2267), from memory: his short
// formula is within about -1 to +0.65 K of the full method.
func TestStullWetBulb(t *testing.T) {
	for _, c := range []struct{ t, rh, wet float64 }{{20, 50, 13.699}, {30, 60, 23.996}, {10, 90, 8.920}, {40, 20, 22.704}} {
		if diff := c.wet - WetBulb(c.t, c.rh, 0); diff < -1 || diff > 0.7 {
			t.Errorf("%v °C %v %%: Stull gives %v, we differ by %v", c.t, c.rh, c.wet, diff)
		}
	}
}

// Absolute humidity at saturation, as every physics handbook tabulates it
// (from memory): 4.85, 9.4, 17.3 and 30.4 g/m³.
func TestAbsoluteHumidity(t *testing.T) {
	for _, c := range []struct{ t, g float64 }{{0, 4.85}, {10, 9.4}, {20, 17.3}, {30, 30.4}} {
		near(t, "absolute humidity", AbsoluteHumidity(c.t, 100), c.g, 0.01*c.g)
	}
	near(t, "half", AbsoluteHumidity(20, 50), 17.3/2, 0.1)
}

func TestEdges(t *testing.T) {
	nan := math.NaN()
	for what, got := range map[string]float64{
		"too cold":           SaturationPressure(-127),
		"too hot":            SaturationPressure(125),
		"ice too warm":       SaturationPressureIce(1),
		"not a number":       DewPoint(nan, 50),
		"humidity unknown":   VPD(20, nan),
		"humidity nonsense":  DewPoint(20, 999),
		"humidity below":     DewPoint(20, -40),
		"dry air, dew":       DewPoint(20, 0),
		"dry air, frost":     FrostPoint(20, 0),
		"dry air, margin":    CondensationMargin(20, 20, 0),
		"warm damp frost":    FrostPoint(20, 60),
		"boiling":            HumidityRatio(100, 100, 0),
		"above the air":      Pressure(20000),
		"endless":            DewPoint(math.Inf(1), 50),
		"wet bulb, too cold": WetBulb(-150, 50, 0),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s: got %v, want NaN", what, got)
		}
	}
	near(t, "overshoot is cropped", DewPoint(20, 104), 20, 0.001)
	near(t, "undershoot is cropped", VapourPressure(20, -3), 0, 0)
	near(t, "saturated air at the end", DewPoint(100, 100), 100, 0.001)
	near(t, "frost at the triple point", FrostPoint(0.01, 100), 0.01, 0.002)
	near(t, "dry wet bulb", WetBulb(20, 0, 0), 5.8, 0.3) // psychrometric chart, from memory
	near(t, "hot wet bulb", WetBulb(99, 99, 0), 98.8, 0.3)
}

func TestCondensationMargin(t *testing.T) {
	near(t, "above freezing", CondensationMargin(15, 25, 50), 15-13.864, 0.01)
	near(t, "below freezing frost comes first", CondensationMargin(-12, -10, 80), -12-FrostPoint(-10, 80), 1e-9)
	for tC := -30.0; tC < 30; tC += 0.01 { // no jump where frost gives way to dew
		if d := DepositPoint(tC+0.01, 60) - DepositPoint(tC, 60); d < 0.005 || d > 0.02 {
			t.Errorf("deposit point rises by %v K at %v °C", d, tC)
		}
	}
	if DepositPoint(-10, 80) <= DewPoint(-10, 80) {
		t.Error("frost must form before dew")
	}
	near(t, "leaf", CondensationMargin(LeafEstimate(20, 1), 20, 95), 19-DewPoint(20, 95), 1e-9)
	near(t, "leaf VPD at air temperature", LeafVPD(25, 25, 60), VPD(25, 60), 1e-9)
	if LeafVPD(15, 25, 60) >= 0 {
		t.Error("a leaf below the dew point must have a negative deficit")
	}
}

// Over the whole range: inverses come back, frost point above dew point below
// freezing, wet bulb between dew point and air.
func TestOrder(t *testing.T) {
	for tC := -40.0; tC <= 60; tC += 0.7 {
		for rh := 1.0; rh <= 100; rh += 3 {
			dew := DewPoint(tC, rh)
			near(t, "dew back", SaturationPressure(dew), VapourPressure(tC, rh), 1e-4*VapourPressure(tC, rh))
			if frost := FrostPoint(tC, rh); !math.IsNaN(frost) {
				near(t, "frost back", SaturationPressureIce(frost), VapourPressure(tC, rh), 1e-4*VapourPressure(tC, rh))
				if frost < dew-0.001 {
					t.Errorf("%v °C %v %%: frost point %v below dew point %v", tC, rh, frost, dew)
				}
			}
			wet := WetBulb(tC, rh, 0)
			if wet < dew-0.01 || wet > tC+0.01 && RelativeOverIce(tC, rh) < 100 {
				t.Errorf("%v °C %v %%: wet bulb %v outside %v to %v", tC, rh, wet, dew, tC)
			}
		}
	}
}

func TestNoAllocation(t *testing.T) {
	var sink float64
	n := testing.AllocsPerRun(100, func() { sink += VPD(21, 60) + DewPoint(21, 60) + WetBulb(21, 60, 0) })
	if n != 0 || math.IsNaN(sink) {
		t.Errorf("got %v allocations, want none", n)
	}
}

func BenchmarkVPDAndDewPoint(b *testing.B) {
	b.ReportAllocs()
	var sink float64
	for i := range b.N {
		t := float64(i%40) - 5
		sink += VPD(t, 60) + DewPoint(t, 60)
	}
	_ = sink
}

func BenchmarkDepositPoint(b *testing.B) {
	var sink float64
	for i := range b.N {
		sink += DepositPoint(float64(i%40)-5, 60)
	}
	_ = sink
}

func BenchmarkWetBulb(b *testing.B) {
	var sink float64
	for i := range b.N {
		sink += WetBulb(float64(i%40)-5, 60, 0)
	}
	_ = sink
}
