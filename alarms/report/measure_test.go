package report_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
)

var start = time.Date(2026, 6, 21, 0, 0, 0, 0, time.UTC)

func at(hours float64) time.Time { return start.Add(time.Duration(hours * float64(time.Hour))) }

func span(from, to float64) report.Span { return report.Span{From: at(from), To: at(to)} }

func limits(lowLow, low, high, highHigh float64) alarms.Limits {
	return alarms.Limits{LowLow: alarms.At(lowLow), Low: alarms.At(low), High: alarms.At(high), HighHigh: alarms.At(highHigh)}
}

func always(l alarms.Limits) []alarms.BandStep {
	return []alarms.BandStep{{From: at(-1000), To: at(1000), Limits: l}}
}

// By hand: 20° from 0:00, 30° from 1:00, 5° from 2:00 for an hour, then nothing.
func TestMeasureByHand(t *testing.T) {
	one := report.Series{Hold: time.Hour, Least: -40, Most: 85, Samples: []report.Sample{
		report.Reading(at(0), 20), report.Reading(at(1), 30), report.Reading(at(1.5), 30), report.Reading(at(1.75), -127), report.Reading(at(2), 5)}}
	m := report.MeasureOf("bench", alarms.Temperature, report.Asked{Span: span(0, 4), Bands: always(limits(6, 10, 25, 28)), Base: 10,
		Cells: []report.Span{span(0, 2), span(2, 4)}}, []report.Series{one})
	if m.Known != 3*time.Hour || m.Blind != time.Hour || m.LongestBlind != span(3, 4) {
		t.Errorf("known %v, blind %v, longest %v; want 3 h, 1 h, from 3:00", m.Known, m.Blind, m.LongestBlind)
	}
	if want := (report.Beyond{LowLow: time.Hour, Low: time.Hour, High: time.Hour, HighHigh: time.Hour, Any: 2 * time.Hour}); m.Beyond != want {
		t.Errorf("beyond %+v, want %+v", m.Beyond, want)
	}
	if want := (20.0 + 30 + 5) / 3; math.Abs(m.Mean-want) > 1e-9 {
		t.Errorf("mean %v, want %v", m.Mean, want)
	}
	if m.Lowest.Value != 5 || !m.Lowest.At.Equal(at(2)) || m.Highest.Value != 30 || !m.Highest.At.Equal(at(1)) {
		t.Errorf("extremes %+v and %+v; -127 is what no sensor gives", m.Lowest, m.Highest)
	}
	if want := 10 + 20.0; math.Abs(m.Heat.DegreeHours-want) > 1e-9 {
		t.Errorf("degree-hours %v, want %v", m.Heat.DegreeHours, want)
	}
	if c := m.Cells[0]; c.Known != 2*time.Hour || c.Min != 20 || c.Max != 30 || math.Abs(c.Mean-25) > 1e-9 {
		t.Errorf("first cell %+v", c)
	}
	if c := m.Cells[1]; c.Known != time.Hour || c.Min != 5 || c.Max != 5 {
		t.Errorf("second cell %+v", c)
	}
}

func TestMeasureEdges(t *testing.T) {
	reading := func(h, v float64) report.Sample { return report.Reading(at(h), v) }
	band := always(limits(2, 10, 25, 30))
	for what, c := range map[string]struct {
		bands  []alarms.BandStep
		series []report.Series
		want   report.Beyond
		known  time.Duration
	}{
		"a value on the limit is within": {band, []report.Series{{Hold: 2 * time.Hour, Samples: []report.Sample{reading(0, 25), reading(1, 10)}}}, report.Beyond{}, 2 * time.Hour},
		"a value from before the span stands at its beginning": {band, []report.Series{{Hold: time.Hour, Samples: []report.Sample{reading(-0.5, 26)}}},
			report.Beyond{High: 30 * time.Minute, Any: 30 * time.Minute}, 30 * time.Minute},
		"any probe beyond is beyond": {band, []report.Series{
			{Hold: 2 * time.Hour, Samples: []report.Sample{reading(0, 20)}}, {Hold: time.Hour, Samples: []report.Sample{reading(1, 26)}}},
			report.Beyond{High: time.Hour, Any: time.Hour}, 2 * time.Hour},
		"the band of the moment": {[]alarms.BandStep{{From: at(0), To: at(1), Limits: limits(2, 10, 25, 30)}, {From: at(1), To: at(2), Limits: limits(2, 10, 20, 30)}},
			[]report.Series{{Hold: 2 * time.Hour, Samples: []report.Sample{reading(0, 22)}}}, report.Beyond{High: time.Hour, Any: time.Hour}, 2 * time.Hour},
		"a probe that is not believed": {band, []report.Series{{Hold: time.Hour, Samples: []report.Sample{reading(0, 26), reading(0.75, 99)}, Out: []report.Span{span(0.5, 3)}}},
			report.Beyond{High: 30 * time.Minute, Any: 30 * time.Minute}, 30 * time.Minute},
		// From 20 to 30, spread evenly: half lies above 25, nothing above 30.
		"a sum of 10 minutes": {band, []report.Series{{Samples: []report.Sample{{At: at(0), Width: 10 * time.Minute, Min: 20, Mean: 24, Max: 30}}}},
			report.Beyond{High: 5 * time.Minute, Any: 5 * time.Minute}, 10 * time.Minute},
		"nothing at all": {band, []report.Series{{}}, report.Beyond{}, 0},
		"no limit":       {nil, []report.Series{{Hold: time.Hour, Samples: []report.Sample{reading(0, 99)}}}, report.Beyond{}, time.Hour},
	} {
		m := report.MeasureOf("bench", alarms.Temperature, report.Asked{Span: span(0, 2), Bands: c.bands}, c.series)
		if m.Beyond != c.want || m.Known != c.known {
			t.Errorf("%s: beyond %+v, known %v; want %+v, %v", what, m.Beyond, m.Known, c.want, c.known)
		}
	}
}

// Degree-days by the mean method, method 1 of McMaster and Wilhelm (1997), from
// memory: 12 to 24 °C gives 18 - 10 = 8; 4 to 12 °C lies below the base on
// average and gives nothing; the third day is half unknown.
func TestDegreeDays(t *testing.T) {
	s := report.Series{Hold: 6 * time.Hour}
	for day, v := range [][2]float64{{12, 24}, {4, 12}, {20, 20}} {
		for q := range 4 {
			if day < 2 || q < 2 {
				s.Samples = append(s.Samples, report.Reading(at(float64(24*day+6*q)), v[q%2]))
			}
		}
	}
	m := report.MeasureOf("bench", alarms.Temperature, report.Asked{Span: span(0, 72), Days: report.Days(span(0, 72), time.UTC), Base: 10}, []report.Series{s})
	if h := m.Heat; h.DegreeDays != 8 || h.Days != 2 || h.LeftOut != 1 {
		t.Errorf("degree-days %+v, want 8 over 2 days, 1 left out", h)
	}
	if want := 12*2.0 + 12*14 + 12*2 + 12*10; math.Abs(m.Heat.DegreeHours-want) > 1e-6 {
		t.Errorf("degree-hours %v, want %v", m.Heat.DegreeHours, want)
	}
}

type cell struct {
	at time.Time
	v  float64
}

// recorded reads one column of a recorded house in the plainest way.
func recorded(t *testing.T, file, layout, column string) (all []cell) {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "data", file))
	if err != nil {
		t.Skipf("the recorded house %s is not beside this checkout: %v", file, err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lines[1:] {
		when, err := time.Parse(layout, l[0])
		if err != nil {
			t.Fatal(err)
		}
		for i, text := range l {
			if v, err := strconv.ParseFloat(text, 64); err == nil && lines[0][i] == column {
				all = append(all, cell{when, v})
			}
		}
	}
	return all
}

// Against a plain scan of recorded houses: minutes above and below limits,
// lowest and highest. The same from 10-minute sums, here of two readings each,
// comes within a twentieth.
func TestMeasureOfRecordedHouses(t *testing.T) {
	for _, c := range []struct {
		file, layout, column string
		low, high            float64
	}{
		{"fan-house-summer.csv", "2006-01-02 15:04:05", "inside_c", 20, 30},
		{"winter-house.csv", "2006-01-02 15:04", "probe_a_c", 15, 24},
	} {
		all := recorded(t, c.file, c.layout, c.column)
		const hold = 15 * time.Minute
		whole := report.Span{From: all[0].at, To: all[len(all)-1].at}
		var below, above, known time.Duration
		lowest, highest := all[0].v, all[0].v
		fine, sums := report.Series{Hold: hold}, map[time.Time]*report.Sample{}
		var order []time.Time
		for i, x := range all {
			fine.Samples = append(fine.Samples, report.Reading(x.at, x.v))
			slot := x.at.Truncate(10 * time.Minute)
			if sums[slot] == nil {
				sums[slot] = &report.Sample{At: slot, Width: 10 * time.Minute, Min: x.v, Max: x.v, Mean: x.v}
				order = append(order, slot)
			}
			sums[slot].Min, sums[slot].Max = min(sums[slot].Min, x.v), max(sums[slot].Max, x.v)
			if i+1 == len(all) {
				break
			}
			d := min(all[i+1].at.Sub(x.at), hold)
			known += d
			if x.v > c.high {
				above += d
			}
			if x.v < c.low {
				below += d
			}
			lowest, highest = min(lowest, x.v), max(highest, x.v)
		}
		coarse := report.Series{Hold: hold}
		for _, s := range order {
			coarse.Samples = append(coarse.Samples, *sums[s])
		}
		bands := []alarms.BandStep{{From: whole.From, To: whole.To, Limits: alarms.Limits{Low: alarms.At(c.low), High: alarms.At(c.high)}}}
		m := report.MeasureOf("bench", alarms.Temperature, report.Asked{Span: whole, Bands: bands}, []report.Series{fine})
		if m.Beyond.Low != below || m.Beyond.High != above || m.Known != known || m.Lowest.Value != lowest || m.Highest.Value != highest {
			t.Errorf("%s: below %v, above %v, known %v, %v to %v; the scan says %v, %v, %v, %v to %v", c.file,
				m.Beyond.Low, m.Beyond.High, m.Known, m.Lowest.Value, m.Highest.Value, below, above, known, lowest, highest)
		}
		if above < time.Hour || below < time.Hour {
			t.Errorf("%s: %v above and %v below are too little to judge by", c.file, above, below)
		}
		n := report.MeasureOf("bench", alarms.Temperature, report.Asked{Span: whole, Bands: bands}, []report.Series{coarse})
		if d := (n.Beyond.High - above).Abs(); float64(d) > 0.05*float64(above) {
			t.Errorf("%s: of 10-minute sums %v above, of the readings %v", c.file, n.Beyond.High, above)
		}
		if n.Coarse != n.Known {
			t.Errorf("%s: %v of %v is said to be coarse, want all", c.file, n.Coarse, n.Known)
		}
	}
}
