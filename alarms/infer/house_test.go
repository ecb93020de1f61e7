package infer

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// greenhouse is a plain simulation for these tests, sharing nothing with the
// inference: air and one thermal mass, glass, leakage, a fan under a mechanical
// thermostat, clouds that come and go, and weather that changes from day to day.
type greenhouse struct {
	area     float64 // m²
	loss     float64 // W/K of glass and leakage
	fan      float64 // m³/s
	set      float64 // °C at which the fan starts
	width    float64 // K below it at which the fan stops
	night    float64 // °C, heated to
	mean     float64 // °C outside
	step     int     // minutes between readings
	broken   func(day int) bool
	pads     float64 // K by which wet pads cool what the fan draws in
	everOpen bool    // the fan never runs, vents do the work
}

func (g greenhouse) simulate(seed uint64, days int) (rows []row) {
	random := rand.New(rand.NewPCG(seed, 9))
	begin := time.Date(2026, 6, 20, 0, 0, 0, 0, time.UTC)
	in, mass, cloud, dull, front, probe := 18.0, 18.0, 0.3, 0.3, 0.0, 18.0
	runs := false
	for minute := range days * 1440 {
		at := begin.Add(time.Duration(minute) * time.Minute)
		hour := float64(minute%1440) / 60
		if minute%1440 == 0 {
			dull = random.Float64()
		}
		if minute%180 == 0 {
			front = 0.9*front + 1.2*random.NormFloat64()
		}
		cloud += (dull-cloud)/40 + 0.06*math.Sqrt(dull*(1-dull)+0.01)*random.NormFloat64()
		cloud = math.Max(0, math.Min(1, cloud))
		out := g.mean + front + 6*(1-0.5*dull)*math.Cos((hour-15.5)/12*math.Pi)
		elevation := math.Max(0, 0.28+0.65*math.Cos((hour-12)/12*math.Pi))
		sun := g.area * 0.5 * 900 * elevation * (1 - 0.75*cloud)
		runs = !g.everOpen && (in >= g.set || runs && in > g.set-g.width)
		blows := runs && (g.broken == nil || !g.broken(minute/1440))
		for range 6 {
			draught, inlet := g.loss, out
			if blows {
				draught += g.fan * 1200
				inlet -= g.pads * elevation * g.fan * 1200 / draught
			}
			if g.everOpen && in > g.set-3 {
				draught += g.fan * 500 * math.Min(1, (in-g.set+3)/3)
			}
			heat := math.Max(0, math.Min(300*g.area, (g.night-in)*g.area*100))
			in += 10 * (0.5*sun + heat - draught*(in-inlet) + 25*g.area*(mass-in)) / (12000 * g.area)
			mass += 10 * (0.5*sun - 25*g.area*(mass-in)) / (60000 * g.area)
		}
		probe += (in - probe) / 3
		if minute%g.step == 0 {
			r := row{at: at, inside: math.Round(10*(probe+0.05*random.NormFloat64())) / 10, outside: math.Round(10*(out+0.1*random.NormFloat64())) / 10}
			if blows {
				r.fan = 100
			}
			rows = append(rows, r)
		}
	}
	return rows
}

var home = greenhouse{area: 21, loss: 300, fan: 0.8, set: 29, width: 2.8, night: 10, mean: 18, step: 2}

// Two thirds of these houses are of another size, set point, climate, interval
// or kind of glass than the recorded one.
func TestSimulatedHouses(t *testing.T) {
	tight, pads := home, greenhouse{area: 400, loss: 3000, fan: 14, set: 26, width: 1, night: 18, mean: 22, step: 5, pads: 5}
	tight.set, tight.width, tight.step, tight.mean = 25, 1.5, 5, 14
	slow := home
	slow.step = 10
	for _, c := range []struct {
		name  string
		house greenhouse
		floor float64
	}{{"home, 2 min", home, 0.75}, {"home, 10 min", slow, 0.75}, {"cool, 5 min", tight, 0.75}, {"large with pads, 5 min", pads, 0.75}} {
		sum, least := 0.0, 1.0
		for seed := range uint64(4) {
			rows := c.house.simulate(seed, 30)
			likely, _ := follow(New(Options{}), rows)
			s := compare(rows, likely)
			sum, least = sum+s.balanced/4, math.Min(least, s.balanced)
			if s.ran == 0 {
				t.Fatal("the fan never ran")
			}
		}
		t.Logf("%s: balanced accuracy %.3f, at least %.3f", c.name, sum, least)
		if sum < c.floor {
			t.Errorf("%s: balanced accuracy %.3f, want %v", c.name, sum, c.floor)
		}
	}
}

// A fan that fails leaves the house hot. The level alone must not pass for a
// running fan.
func TestFanThatFailsIsNotBelieved(t *testing.T) {
	house := home
	house.broken = func(day int) bool { return day >= 15 }
	var said, would [2]float64
	for seed := range uint64(4) {
		rows := house.simulate(seed, 25)
		likely, _ := follow(New(Options{}), rows)
		for i, r := range rows {
			if k := btoi(r.at.Sub(rows[0].at) >= 15*24*time.Hour); r.inside >= house.set+2*float64(k) {
				would[k]++
				if likely[i] >= 0.5 {
					said[k]++
				}
			}
		}
	}
	working, failed := said[0]/would[0], said[1]/would[1]
	t.Logf("called and hot: said to run in %.0f %% of readings while the fan worked, in %.0f %% after it failed", 100*working, 100*failed)
	if failed > 0.25 || working < 0.6 {
		t.Errorf("said to run %.2f with the fan, %.2f without", working, failed)
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// In a house without a fan every sharp change is false; they must stay near
// the stated rate, clouds and vents notwithstanding.
func TestStatedRateOfFalseBreaks(t *testing.T) {
	for _, rate := range []float64{0.5, 1} {
		for name, house := range map[string]greenhouse{"closed": {area: 21, loss: 500, set: 99, night: 10, mean: 12, step: 5}, "vents": {area: 100, loss: 900, fan: 4, set: 24, night: 12, mean: 16, step: 5, everOpen: true}} {
			n, days := 0.0, 0.0
			for seed := range uint64(4) {
				rows := house.simulate(seed, 60)
				_, changes := follow(New(Options{FalsePerDay: rate}), rows)
				days += 45
				for _, c := range changes {
					if c.Sharp && c.At.Sub(rows[0].at) > 15*24*time.Hour {
						n++
					}
				}
			}
			t.Logf("%s: stated %v a day, sharp changes %.2f a day", name, rate, n/days)
			if n/days > 2*rate+0.1 { // the last by chance: 180 days
				t.Errorf("%s: stated %v false starts and stops a day, got %.2f", name, rate, n/days)
			}
		}
	}
}
