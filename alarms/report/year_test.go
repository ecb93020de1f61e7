package report

import (
	"math"
	"testing"
	"time"

	"telltale/alarms"
)

// The wave in soil as Kusuda and Achenbach (1965, ASHRAE Transactions 71(1): 61-74) have it, from memory, with
// its lag written out: x/2 sqrt(365/(pi a)).
func kusuda(mean, swing, coldest, a, x, day float64) float64 {
	lag := x / 2 * math.Sqrt(365/(math.Pi*a))
	return mean - swing*math.Exp(-x*math.Sqrt(math.Pi/(365*a)))*math.Cos(2*math.Pi/365*(day-coldest-lag))
}

// A year of air that is the ground's own, with gaps: its coldest days are those of the
// published wave, measured as well as undisturbed, and its months the means of that.
func TestDepthOfAYear(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip("no time zones here")
	}
	const mean, swing, coldest, a = 10.4, 9.2, 36.0, 0.05
	soil := &alarms.Ground{Mean: mean, Swing: swing, Coldest: coldest, Diffusivity: a}
	year := CalendarYear(2026, zone)
	for _, depth := range []float64{0.5, 1.5, 2.3, 4} {
		one := Series{Hold: 10 * time.Minute}
		var air, taken [12]float64
		for at := year.From; at.Before(year.To); at = at.Add(10 * time.Minute) {
			if at.Month() == time.May || at.Day() > 20 && at.Hour() < 12 {
				continue
			}
			day := float64(at.Sub(year.From))/float64(24*time.Hour) + 1
			v := kusuda(mean, swing, coldest, a, depth, day)
			one.Samples = append(one.Samples, Sample{at, 10 * time.Minute, v - 1, v, v + 1})
			air[at.Month()-1] += v
			taken[at.Month()-1]++
		}
		m := MeasureOf("", alarms.Temperature, Asked{Span: year, Cells: Months(year, zone), Days: Days(year, zone)}, []Series{one})
		got := DepthOf(depth, soil, m, zone)
		want := math.Mod(coldest+depth/2*math.Sqrt(365/(math.Pi*a)), 365)
		if got.Wave == nil || math.Abs(got.Wave.Coldest-want) > 0.7 || math.Abs(*got.Ground-want) > 0.01 || math.Abs(*got.Lag-(want-coldest)) > 0.01 {
			t.Errorf("%v m: coldest on day %+v, %v, %v later; want %.2f, %.2f later", depth, got.Wave, *got.Ground, *got.Lag, want, want-coldest)
		}
		if len(got.Months) != 12 {
			t.Fatalf("%d months", len(got.Months))
		}
		for i, month := range got.Months {
			var sum, n float64
			for day := 1; day <= 365; day++ {
				if time.Date(2026, 1, day, 0, 0, 0, 0, time.UTC).Month() == time.Month(i+1) {
					sum, n = sum+kusuda(mean, swing, coldest, a, depth, float64(day)+0.5), n+1
				}
			}
			may := i == 4
			if math.Abs(*month.Ground-sum/n) > 0.02 || may != (month.Outlet.Known == 0) || !may && math.Abs(month.Outlet.Mean-air[i]/taken[i]) > 0.001 {
				t.Errorf("%v m, month %d: ground %v, air %+v, want %.2f and %.2f", depth, i+1, *month.Ground, month.Outlet, sum/n, air[i]/taken[i])
			}
		}
	}
}

// Too little of a year has no coldest day of its own, and without soil none is known.
func TestDepthOfAMonth(t *testing.T) {
	year := CalendarYear(2026, time.UTC)
	one := Series{Hold: time.Hour}
	for at := year.From; at.Month() == time.January; at = at.Add(time.Hour) {
		one.Samples = append(one.Samples, Reading(at, 9-float64(at.YearDay())/20))
	}
	m := MeasureOf("", alarms.Temperature, Asked{Span: year, Cells: Months(year, time.UTC), Days: Days(year, time.UTC)}, []Series{one})
	if got := DepthOf(1.5, nil, m, time.UTC); got.Wave != nil || got.Ground != nil || got.Lag != nil || got.Months[0].Ground != nil || got.Months[0].Outlet.Known == 0 {
		t.Errorf("got %+v", got)
	}
}

// Days without readings are listed by stretches; one into which a reading of the evening
// before held is one of them, and a leap year has its day.
func TestBlankDaysOfAYear(t *testing.T) {
	year := CalendarYear(2028, time.UTC)
	counted := year
	counted.To = time.Date(2028, 3, 10, 15, 0, 0, 0, time.UTC)
	one := Series{Hold: 30 * time.Minute}
	for at := counted.From.AddDate(0, 0, 2); at.Before(counted.To); at = at.Add(20 * time.Minute) {
		if day := at.YearDay(); day != 20 && (day < 58 || day > 61) {
			one.Samples = append(one.Samples, Reading(at, 12))
		}
	}
	m := MeasureOf("", alarms.Temperature, Asked{Span: counted, Cells: Months(year, time.UTC), Days: Days(counted, time.UTC)}, []Series{one})
	y := Year{Span: year, Counted: counted, Warmth: &m}
	spans, days := y.Blank(time.UTC)
	want := [][2]string{{"2028-01-01", "2028-01-03"}, {"2028-01-20", "2028-01-21"}, {"2028-02-27", "2028-03-02"}}
	if days != 7 || len(spans) != len(want) {
		t.Fatalf("got %d days, %v", days, spans)
	}
	for i, s := range spans {
		if s.From.Format(time.DateOnly) != want[i][0] || s.To.Format(time.DateOnly) != want[i][1] {
			t.Errorf("got %v, want %v", s, want[i])
		}
	}
	if n := len(Days(year, time.UTC)); n != 366 {
		t.Errorf("the year has %d days", n)
	}
}
