package ground

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, tolerance)
	}
}

// The unit test of the same model in a published building simulation program
// of a national laboratory: soil of conductivity 1.08 W/(m K), density 980
// kg/m³ and heat 2570 J/(kg K); its results to 0.01 °C.
func TestPublishedGroundTemperatures(t *testing.T) {
	diffusivity := 1.08 / (980.0 * 2570) * 86400
	one := Soil{Mean: 15, Swing: 5, Coldest: 1, Diffusivity: diffusivity}
	for _, c := range []struct{ depth, day, want float64 }{
		{0, 0, 10}, {0, 182.5, 20}, {0, 364, 10}, {100, 0, 15}, {0, 15, 10.15}, {0, 165, 19.75},
	} {
		near(t, "case 1", one.At(c.depth, c.day), c.want, 0.011)
	}
	two := Soil{Mean: 18, Swing: 3, Coldest: 60, Diffusivity: diffusivity}
	for _, c := range []struct{ depth, seconds, want float64 }{
		{0, 0, 16.46}, {0, 11664000, 17.17}, {0, 24883200, 20.12}, {0, 31536000, 16.46}, {100, 0, 18},
	} {
		near(t, "case 2", two.At(c.depth, c.seconds/86400), c.want, 0.011)
	}
}

// ground.csv: the equation of Kusuda and Achenbach in another program.
func TestReferenceTable(t *testing.T) {
	f, err := os.Open("../../testdata/reference/ground.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 271 {
		t.Fatalf("got %d lines, want 271", len(all))
	}
	for _, r := range all[1:] {
		var v [7]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(r[i+1], 64); err != nil {
				t.Fatal(err)
			}
		}
		s := Soil{v[0], v[1], v[2], v[3]}
		near(t, r[0]+" at "+r[5]+" m, day "+r[6], s.At(v[4], v[5]), v[6], 0.0002)
		if err := s.Check(); err != nil {
			t.Error(err)
		}
	}
}

// damping depth, share of the swing and lag at 8 ft, computed elsewhere from
// the same equation for three diffusivities.
func TestDampingAndLag(t *testing.T) {
	for _, c := range []struct{ diffusivity, damping, left, lag, perMetre float64 }{
		{0.03, 1.867, 0.271, 75.9, 31.1}, {0.05, 2.410, 0.364, 58.8, 24.1}, {0.09, 3.234, 0.470, 43.8, 18.0},
	} {
		s := Soil{Swing: 1, Diffusivity: c.diffusivity}
		near(t, "damping depth", s.damping(), c.damping, 0.001)
		near(t, "share left", s.swingAt(2.438), c.left, 0.001)
		near(t, "lag", s.Lag(2.438), c.lag, 0.06)
		near(t, "lag of a metre", s.Lag(1), c.perMetre, 0.06)
	}
	// Published beside a public data set: 3.17 m for 1e-6 m²/s.
	near(t, "reference depth", Soil{Diffusivity: 1e-6 * 86400}.damping(), 3.17, 0.01)
}

// thumb is common soil whose swing fits the rule of thumb at 8 ft.
var thumb = Soil{Mean: 10, Swing: 7.6, Coldest: 35, Diffusivity: 0.05}

const eightFeet, sixFeet = 2.438, 1.829 // m

// A first trial in the first days of November (common practice, no source): 0 °C
// outside, 7 to 10 °C in the house, and 11.1 °C from a bed at 8 ft.
func TestFirstTrialInNovember(t *testing.T) {
	share, ok := Effectiveness(8.5, 11.1, thumb.At(eightFeet, Day(time.Date(2026, 11, 3, 12, 0, 0, 0, time.UTC))))
	if !ok {
		t.Fatal("the ground is too near to the house for an effectiveness")
	}
	near(t, "effectiveness", share, 0.66, 0.02)
}

// The ground of the beds is coldest in spring and not in January (common
// practice, no source).
func TestBedsAreColdestInSpring(t *testing.T) {
	for depth, day := range map[float64]time.Time{
		eightFeet: time.Date(2026, 4, 4, 0, 0, 0, 0, time.UTC),
		sixFeet:   time.Date(2026, 3, 20, 0, 0, 0, 0, time.UTC),
	} {
		coldest, _ := thumb.extremes(depth)
		near(t, day.Format("2 January"), coldest, Day(day), 1)
	}
}

// Growers' rule of thumb (common practice, no source): at 8 ft about 55 °F in
// summer and 45 °F in winter. In common soil that goes with a surface swing of
// 7.6 K about a mean of 10 °C.
func TestRuleOfThumbAtEightFeet(t *testing.T) {
	s := thumb
	low, high := math.Inf(1), math.Inf(-1)
	for day := 1.0; day <= yearDays; day++ {
		low, high = math.Min(low, s.At(eightFeet, day)), math.Max(high, s.At(eightFeet, day))
	}
	near(t, "summer °F", high*1.8+32, 55, 1)
	near(t, "winter °F", low*1.8+32, 45, 1)
	coldest, warmest := s.extremes(eightFeet)
	near(t, "about two months behind the surface", coldest-s.Coldest, 60, 5)
	near(t, "half a year apart", warmest-coldest, yearDays/2, 1e-9)
	near(t, "coldest day is the coldest", s.At(eightFeet, coldest), low, 0.01)
}

func TestDayOfYear(t *testing.T) {
	for _, c := range []struct {
		at   time.Time
		want float64
	}{
		{time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), 1},
		{time.Date(2026, 2, 4, 12, 0, 0, 0, time.UTC), 35.5},
		{time.Date(2028, 12, 31, 6, 0, 0, 0, time.UTC), 366.25},
	} {
		near(t, c.at.String(), Day(c.at), c.want, 1e-9)
	}
	for in, want := range map[float64]float64{1: 1, 365.5: 365.5, 366: 1, 0: 365, -364: 1, 731: 1} {
		near(t, "wrapped", dayOfYear(in), want, 1e-9)
	}
}

func TestImpossibleGround(t *testing.T) {
	if !math.IsNaN((Soil{10, 8, 35, 0.05}).At(-1, 1)) {
		t.Error("above the surface there is no ground")
	}
	err := Soil{60, -1, 400, math.NaN()}.Check()
	const want = "yearly mean of the ground is 60 °C: want -20 to 40\n" +
		"surface swing of the ground is -1 K: want 0 to 40\n" +
		"coldest day of the ground is 400: want 1 to 365\n" +
		"diffusivity of the ground is NaN m²/day: want 0.005 to 0.3"
	if err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

// extremes returns the days of the year, 1 to 365, on which the ground at a
// depth in m is coldest and warmest.
func (s Soil) extremes(depth float64) (coldest, warmest float64) {
	d := s.Coldest + s.Lag(depth)
	return dayOfYear(d), dayOfYear(d + yearDays/2)
}
