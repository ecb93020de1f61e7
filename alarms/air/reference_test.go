package air

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// table reads a reference table as one map a row.
func table(t testing.TB, file string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/reference/" + file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rows := make([]map[string]string, 0, len(all)-1)
	for _, r := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = r[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func num(t testing.TB, row map[string]string, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[column], 64)
	if err != nil {
		t.Fatalf("column %s of %v: %v", column, row, err)
	}
	return v
}

// near fails unless got is within tolerance of want.
func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.5f, want %.5f within %g", what, got, want, tolerance)
	}
}

func dewPoint(tC, rh float64) float64 { return dewOf(vapourPressure(tC, rh)) }

func frostPoint(tC, rh float64) float64 { return frostOf(vapourPressure(tC, rh)) }

// saturationIce is saturation over ice in Pa up to the triple point.
func saturationIce(tC float64) float64 { return math.Exp(lnOverIce(tC + kelvin)) }

// fromIce turns a humidity over ice, as tables have it below freezing, into one
// over water, in %.
func fromIce(tC, rhIce float64) float64 {
	return rhIce * saturationIce(tC) / SaturationPressure(tC)
}

// psychrometrics.csv was made with PsychroLib 2.5.0 (MIT), which follows the
// ASHRAE Handbook. At 0.01 °C and below its humidity is over ice and its dew
// point is a frost point.
func TestAgainstPsychroLib(t *testing.T) {
	checked := 0
	for _, row := range table(t, "psychrometrics.csv") {
		tC, rh, p := num(t, row, "t_c"), num(t, row, "rh_pct"), num(t, row, "pressure_pa")
		if tC < -20 || tC > 50 {
			continue
		}
		checked++
		what := row["t_c"] + " °C " + row["rh_pct"] + " % " + row["pressure_pa"] + " Pa "
		psat := num(t, row, "psat_pa")
		if tC <= triplePoint {
			near(t, what+"saturation over ice", saturationIce(tC), psat, 0.005*psat)
			near(t, what+"frost point", frostPoint(tC, fromIce(tC, rh)), num(t, row, "dewpoint_c"), 0.1)
			rh = fromIce(tC, rh)
		} else {
			near(t, what+"saturation", SaturationPressure(tC), psat, 0.005*psat)
			near(t, what+"VPD", VPD(tC, rh), num(t, row, "vpd_pa"), 0.005*psat)
			checkDew(t, what, tC, rh, num(t, row, "dewpoint_c"))
		}
		w := num(t, row, "humidity_ratio_kgkg")
		near(t, what+"humidity ratio", HumidityRatio(tC, rh, p), w, 0.005*w+1e-8)
		near(t, what+"enthalpy", EnthalpyOf(tC, HumidityRatio(tC, rh, p)), num(t, row, "enthalpy_j_per_kg_da"), 0.005*w*2.6e6+10)
		near(t, what+"density", Density(tC, rh, p), num(t, row, "density_kg_m3"), 0.0005)
	}
	if checked < 300 {
		t.Fatalf("only %d rows checked", checked)
	}
}

// checkDew compares with a table that gives a frost point below freezing.
func checkDew(t *testing.T, what string, tC, rh, want float64) {
	t.Helper()
	if want > triplePoint {
		near(t, what+"dew point", dewPoint(tC, rh), want, 0.1)
		return
	}
	near(t, what+"frost point", frostPoint(tC, rh), want, 0.1)
}

// saturation-formulas.csv holds fifteen published formulas; over the range in
// use here ours must be within 0.5 % of the standards among them.
func TestAgainstPublishedSaturationFormulas(t *testing.T) {
	for _, row := range table(t, "saturation-formulas.csv") {
		tC := num(t, row, "t_c")
		if tC < -20 || tC > 50 {
			continue
		}
		for _, column := range []string{"ae96_w_pa", "wmo8_w_pa", "buck81_ew1_pa", "buck96_w_pa", "sonntag90_w_pa", "hw_w_pa"} {
			want := num(t, row, column)
			near(t, row["t_c"]+" "+column, SaturationPressure(tC), want, 0.005*want)
		}
		if tC > 0 {
			continue
		}
		for _, column := range []string{"ae96_i_pa", "wmo8_i_pa", "buck81_ei2_pa", "buck96_i_pa", "sonntag90_i_pa", "hw_i_pa"} {
			want := num(t, row, column)
			near(t, row["t_c"]+" "+column, saturationIce(tC), want, 0.005*want)
		}
	}
}
