package ground

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

var truth = Soil{Mean: 9.5, Swing: 10, Coldest: 38, Diffusivity: 0.055}

// year makes daily readings at the depths with noise that is alike from day to
// day; keep says which days there are.
func year(random *rand.Rand, noise float64, keep func(day int) bool, depths ...float64) []Reading {
	var r []Reading
	for _, depth := range depths {
		slow := 0.0
		for day := 1; day <= 365; day++ {
			slow = 0.5*slow + noise*math.Sqrt(1-0.25)*random.NormFloat64()
			if keep(day) {
				r = append(r, Reading{depth, float64(day), truth.At(depth, float64(day)) + slow})
			}
		}
	}
	return r
}

func always(int) bool { return true }

func TestFitOfReadingsWithoutNoise(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	f, err := FitSoil(year(random, 0, always, 1.5, 2.3), Surface{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean", f.Mean.Value, truth.Mean, 1e-6)
	near(t, "swing", f.Swing.Value, truth.Swing, 1e-5)
	near(t, "coldest", f.Coldest.Value, truth.Coldest, 1e-5)
	near(t, "diffusivity", f.Diffusivity.Value, truth.Diffusivity, 1e-7)
	one, err := FitSoil(year(random, 0, always, 2.3), Surface{Swing: 10, SwingError: 0.1, Coldest: 38, ColdestError: 1})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "diffusivity from one depth", one.Diffusivity.Value, truth.Diffusivity, 1e-6)
}

// The stated intervals hold the truth about 95 times in 100, with three months
// missing, noise that is alike from day to day, and with one depth and a known
// surface as well as with two depths.
func TestIntervalsHoldTheTruth(t *testing.T) {
	const runs = 500
	random := rand.New(rand.NewPCG(20260101, 5))
	for name, c := range map[string]struct {
		depths  []float64
		surface bool
	}{"two depths": {[]float64{1.5, 2.3}, false}, "one depth and the surface": {[]float64{2.3}, true}} {
		var in [4]int
		agree := 0.0
		for range runs {
			from := random.IntN(365)
			gone := func(day int) bool { return (day-from+365)%365 >= 91 }
			var s Surface
			if c.surface {
				s = Surface{truth.Swing + 0.8*random.NormFloat64(), 0.8, truth.Coldest + 5*random.NormFloat64(), 5}
			}
			f, err := FitSoil(year(random, 0.6, gone, c.depths...), s)
			if err != nil {
				t.Fatal(err)
			}
			for i, e := range []struct {
				Estimate
				truth float64
			}{{f.Mean, truth.Mean}, {f.Swing, truth.Swing}, {f.Coldest, truth.Coldest}, {f.Diffusivity, truth.Diffusivity}} {
				if e.Low <= e.truth && e.truth <= e.High {
					in[i]++
				}
			}
			agree += f.Disagree / runs
		}
		for i, what := range []string{"mean", "swing", "coldest", "diffusivity"} {
			share := 100 * float64(in[i]) / runs
			t.Logf("%s: %s held in %.1f %%", name, what, share)
			if share < 92 || share > 98 {
				t.Errorf("%s: the 95 %% interval of the %s holds the truth in %.1f %%", name, what, share)
			}
		}
		if agree < 0.7 || agree > 1.4 {
			t.Errorf("%s: waves of one soil disagree by %v, want about 1", name, agree)
		}
	}
}

func TestFitUsesEveryYear(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	r := year(random, 0.6, always, 1.5, 2.3)
	for _, next := range year(random, 0.6, always, 1.5, 2.3) {
		next.Day += 365
		r = append(r, next)
	}
	one, err := FitSoil(r[:730], Surface{})
	two, err2 := FitSoil(r, Surface{})
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	width := func(e Estimate) float64 { return e.High - e.Low }
	near(t, "two years halve the variance", width(two.Mean)/width(one.Mean), math.Sqrt(0.5), 0.15)
}

func TestWhatNoFitCanTell(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 2))
	summer := func(day int) bool { return day > 150 && day < 240 }
	shaken := year(random, 0, always, 1.5, 2.3)
	for i := range shaken {
		shaken[i].C = 10 + random.NormFloat64()
	}
	upside := year(random, 0.1, always, 1.5, 2.3)
	for i := range upside {
		upside[i].Depth = 3.8 - upside[i].Depth
	}
	for name, c := range map[string]struct {
		readings []Reading
		want     error
	}{
		"nothing":             {nil, errTooFew},
		"three months":        {year(random, 0.6, summer, 1.5, 2.3), errTooFew},
		"one depth":           {year(random, 0.6, always, 2.3), errNoDepth},
		"no wave":             {shaken, errNoWave},
		"depths confused":     {upside, errNoWave},
		"all on the same day": {[]Reading{{1.5, 3, 8}, {1.5, 3, 8}}, errTooFew},
	} {
		if _, err := FitSoil(c.readings, Surface{}); !errors.Is(err, c.want) {
			t.Errorf("%s: got %v, want %v", name, err, c.want)
		}
	}
}

func TestFitSaysWhenItIsNotOneSoil(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	r := year(random, 0.4, always, 1.5, 2.3)
	for i := range r {
		if r[i].Depth == 2.3 { // the deep outlet is behind by five weeks more than its swing tells
			r[i].C = truth.At(2.3, r[i].Day-35) + 0.4*random.NormFloat64()
		}
	}
	f, err := FitSoil(r, Surface{})
	if err != nil || f.Disagree < 20 {
		t.Errorf("disagreement is %v (%v), want it large", f.Disagree, err)
	}
}
