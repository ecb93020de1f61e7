package ground

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"
)

const (
	cfm = 0.0004719474432 // m³/s in a cubic foot a minute
	btu = 3.412142        // BTU/h in a watt
)

// The rule of the ventilation trade, heat in BTU/h = 1.08 x cfm x °F, holds
// for dry air of 0.075 lb/ft³, which is 21 °C at sea level.
func TestTradeRuleForSensibleHeat(t *testing.T) {
	for _, c := range []struct{ flow, rise float64 }{{150, 5}, {200, 3}, {250, -4}, {1000, 10}} {
		p := Passage{Arriving: Dry(21.1), House: Dry(21.1 - c.rise), Volume: c.flow * cfm}.Delivered()
		near(t, "BTU/h", p.Watts*btu, 1.08*c.flow*c.rise*1.8, 0.01*math.Abs(1.08*c.flow*c.rise*1.8))
		if p.Basis != NoneHumid || p.Latent != 0 || p.Water != 0 {
			t.Errorf("dry air carries no vapour: %+v", p)
		}
	}
}

// Worked with the handbook's equations in PsychroLib's coding: a loop of 200
// cfm at an outlet of 8 °C into a house of 0 °C and 90 %, no condensation.
func TestWorkedLoop(t *testing.T) {
	for name, arriving := range map[string]Air{"outlet humidity unknown": Dry(8), "known": {8, 51.4}} {
		p := Passage{Arriving: arriving, House: Air{0, 90}, Volume: 200 * cfm}.Delivered()
		near(t, name+": W", p.Watts, 954.5, 5)
		near(t, name+": dry flow", p.DryFlow, 0.11787, 0.0001)
		near(t, name+": vapour", p.Water, 0, 0.006)
	}
	p := Passage{Arriving: Dry(8), House: Air{0, 90}, Volume: 200 * cfm}.Delivered()
	near(t, "W", p.Watts, 954.5, 0.5)
	if p.Basis != OneHumid {
		t.Errorf("basis is %v", p.Basis)
	}
}

// Worked in the same way: 0.30 m³/s of house air of 30 °C and 60 % replaced by
// outside air of 20 °C and 70 %.
func TestWorkedVent(t *testing.T) {
	p := Passage{Arriving: Air{20, 70}, House: Air{30, 60}, Volume: 0.30, AtHouse: true}.Delivered()
	near(t, "total", p.Watts, -8564, 10)
	near(t, "sensible", p.Sensible, -3527, 5)
	near(t, "latent", p.Latent, -5037, 10)
	near(t, "water", p.Water, -7.14, 0.02)
	if p.Basis != BothHumid {
		t.Errorf("basis is %v", p.Basis)
	}
}

func TestCoolingCondenses(t *testing.T) {
	p := Passage{Arriving: Dry(14), House: Air{30, 70}, Volume: 0.09}.Delivered()
	if p.Basis != OneHumid || !(p.Water < -1) || !(p.Latent < 0) {
		t.Errorf("air of 30 °C and 70 %% cooled to 14 °C must leave water in the pipe: %+v", p)
	}
	known := Passage{Arriving: Air{14, 100}, House: Air{30, 70}, Volume: 0.09}.Delivered()
	near(t, "the same as saturated", p.Watts, known.Watts, 1e-6)
	up := Passage{Arriving: Dry(8), House: Dry(0), Volume: 0.09, Pressure: 85000}.Delivered()
	sea := Passage{Arriving: Dry(8), House: Dry(0), Volume: 0.09}.Delivered()
	near(t, "thin air carries less", up.Watts/sea.Watts, 85000/101325.0, 1e-9)
	if w := (Passage{Arriving: Dry(math.NaN()), House: Dry(3), Volume: 1}).Delivered().Watts; !math.IsNaN(w) {
		t.Errorf("got %v from no temperature", w)
	}
}

func TestPerFanWatt(t *testing.T) {
	if r, ok := PerFanWatt(-570, 57); !ok || r != 10 {
		t.Errorf("got %v %v, want 10", r, ok)
	}
	for _, fan := range []float64{0, math.NaN(), 0.4} {
		if _, ok := PerFanWatt(500, fan); ok {
			t.Errorf("a fan of %v W has no yield", fan)
		}
	}
}

func TestEnergyOfADay(t *testing.T) {
	var e Energy
	midnight := time.Date(2026, 1, 10, 0, 0, 0, 0, time.UTC)
	at := midnight
	for ; at.Before(midnight.Add(6 * time.Hour)); at = at.Add(5 * time.Minute) {
		e.Step(at, 900, 0, 45, true) // six hours of warmth
	}
	for ; at.Before(midnight.Add(9 * time.Hour)); at = at.Add(5 * time.Minute) {
		e.Step(at, -300, 0, 45, true) // three of cold
	}
	for ; at.Before(midnight.Add(24 * time.Hour)); at = at.Add(5 * time.Minute) {
		e.Step(at, 500, 0, 0, false) // the fan stands: nothing is delivered
	}
	day := e.Close(midnight.Add(24 * time.Hour))
	near(t, "heat", day.Heat, 5.4, 1e-9)
	near(t, "cold", day.Cold, 0.9, 1e-9)
	near(t, "fan", day.Fan, 0.405, 1e-9)
	if day.Run != 9*time.Hour || day.Watched != 24*time.Hour {
		t.Errorf("ran %v, watched %v", day.Run, day.Watched)
	}
	if e.Heat != 0 || !e.Last.Equal(midnight.Add(24*time.Hour)) {
		t.Errorf("the next day begins with %+v", e)
	}
}

func TestEnergyOfAGapIsNotMadeUp(t *testing.T) {
	var e Energy
	start := time.Date(2026, 1, 10, 0, 0, 0, 0, time.UTC)
	e.Step(start, 1000, 0, 0, true)
	e.Step(start.Add(10*time.Hour), 1000, 0, 0, true)
	near(t, "a quarter of an hour counts", e.Heat, 0.25, 1e-9)
	e.Step(start.Add(10*time.Hour+6*time.Minute), math.NaN(), 0, 0, true)
	near(t, "up to the reading lost", e.Heat, 0.35, 1e-9)
	if c := e.Close(start.Add(11 * time.Hour)); math.Abs(c.Heat-0.35) > 1e-9 || c.Watched != 21*time.Minute {
		t.Errorf("after it: %+v", c)
	}
	e.Step(start.Add(12*time.Hour), 600, 0, 0, true)
	e.Step(start.Add(11*time.Hour), -9000, 0, 0, true) // late: left out
	e.Step(start.Add(12*time.Hour+10*time.Minute), 600, 0, 0, true)
	near(t, "order", e.Heat-e.Cold, 0.1, 1e-9)
}

func TestEffectiveness(t *testing.T) {
	share, ok := Effectiveness(0, 8, 10)
	if !ok || share != 0.8 {
		t.Errorf("got %v %v", share, ok)
	}
	near(t, "leaving", Leaving(0, 10, 0.8), 8, 1e-9)
	if _, ok := Effectiveness(11, 10, 10); ok {
		t.Error("a kelvin of difference tells nothing")
	}
}

func TestBetterDepth(t *testing.T) {
	for _, c := range []struct {
		name    string
		want    Want
		house   float64
		options []Option
		pick    Pick
	}{
		{"winter: the deep one is warmer", Warmth, 2, []Option{{1.5, 6, true}, {2.3, 8, false}}, Pick{1, 6, 0, true}},
		{"high summer: the shallow one is too warm to cool with", Cooling, 17, []Option{{1.5, 18.5, true}, {2.3, 14, false}}, Pick{1, 3, 1.5, true}},
		{"near each other: leave the damper", Warmth, 2, []Option{{1.5, 7.8, true}, {2.3, 8, false}}, Pick{0, 5.8, 0, false}},
		{"neither helps", Cooling, 14, []Option{{1.5, 16, true}, {2.3, 13.5, false}}, Pick{-1, 0, 2, true}},
		{"nothing wanted", Nothing, 20, []Option{{1.5, 16, true}}, Pick{-1, 0, 0, false}},
		{"one not known", Warmth, 2, []Option{{1.5, math.NaN(), true}, {2.3, 8, false}}, Pick{1, 6, 0, true}},
		{"no pipes", Warmth, 2, nil, Pick{-1, 0, 0, false}},
	} {
		if got := Better(c.want, c.house, c.options); got != c.pick {
			t.Errorf("%s: got %+v, want %+v", c.name, got, c.pick)
		}
	}
}

// Moist air by the table of psychrometrics (t, rh, humidity ratio, enthalpy per
// kg of dry air at 101325 Pa): what a passage delivers in all is the difference
// of the enthalpies, and its warmth is what the same air would bring at the
// ratio of the house.
func TestWarmthAndMoistureApart(t *testing.T) {
	table := psychrometrics(t)
	for _, c := range []struct{ house, arriving [2]float64 }{
		{[2]float64{10, 70}, [2]float64{15, 100}}, // a wet pipe: moisture carries most
		{[2]float64{20, 50}, [2]float64{15, 60}},
		{[2]float64{25, 80}, [2]float64{15, 100}}, // water condenses in the pipe
	} {
		in, out := table[c.arriving], table[c.house]
		p := Passage{Arriving: Air{c.arriving[0], c.arriving[1]}, House: Air{c.house[0], c.house[1]}, Volume: 0.05}.Delivered()
		flow := 0.05 / in.volume
		near(t, "dry flow", p.DryFlow, flow, 2e-5)
		near(t, "all", p.Watts, flow*(in.enthalpy-out.enthalpy), 0.004*math.Abs(p.Watts)+1)
		near(t, "moisture", p.Latent, flow*(in.ratio-out.ratio)*(2501000+1860*c.arriving[0]), 0.004*math.Abs(p.Latent)+1)
		near(t, "warmth", p.Sensible, flow*(1006+1860*out.ratio)*(c.arriving[0]-c.house[0]), 0.004*math.Abs(p.Sensible)+1)
		var e Energy
		at := time.Date(2026, 1, 10, 0, 0, 0, 0, time.UTC)
		e.Step(at, p.Sensible, p.Latent, 0, true)
		day := e.Close(at.Add(6 * time.Minute))
		near(t, "kWh of warmth", day.Heat-day.Cold, p.Sensible/10000, 1e-9)
		near(t, "kWh of moisture", day.Wet-day.Dried, p.Latent/10000, 1e-9)
	}
}

type moistRow struct{ ratio, enthalpy, volume float64 }

// psychrometrics are the rows of the table at standard pressure, by temperature
// and humidity.
func psychrometrics(t *testing.T) map[[2]float64]moistRow {
	t.Helper()
	f, err := os.Open("../../testdata/reference/psychrometrics.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	all := map[[2]float64]moistRow{}
	for _, r := range rows[1:] {
		v := make([]float64, 11)
		for i := range v {
			v[i], _ = strconv.ParseFloat(r[i], 64)
		}
		if v[2] == 101325 {
			all[[2]float64{v[0], v[1]}] = moistRow{v[8], v[9], v[10]}
		}
	}
	return all
}
