package infer

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"telltale/alarms/control"
)

// row is one line of a recorded house: NaN where a cell is empty.
type row struct {
	at                   time.Time
	inside, outside, fan float64
}

// recorded reads a recorded house, kept beside the checkout; the test skips
// where it is missing.
func recorded(t testing.TB, file, layout, inside string) []row {
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
	columns := map[string]int{}
	for i, name := range lines[0] {
		columns[name] = i
	}
	cell := func(l []string, name string) float64 {
		if i, ok := columns[name]; ok {
			if v, err := strconv.ParseFloat(l[i], 64); err == nil {
				return v
			}
		}
		return math.NaN()
	}
	var rows []row
	for _, l := range lines[1:] {
		at, err := time.Parse(layout, l[0])
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, row{at, cell(l, inside), cell(l, "outside_c"), cell(l, "exhaust_fan_pct")})
	}
	return rows
}

func fanHouse(t testing.TB) []row {
	return recorded(t, "fan-house-summer.csv", time.DateTime, "inside_c")
}

// follow runs an inference over rows.
func follow(s Sense, rows []row) (likely []float64, changes []Change) {
	for _, r := range rows {
		b, c := s.Step(r.at, r.inside, r.outside)
		likely = append(likely, b.Running)
		if c.Kind != NoChange {
			changes = append(changes, c)
		}
	}
	return likely, changes
}

// score is how an inference compares with the recorded fan, on above 5 %.
type score struct{ ran, stood, hits, misses, balanced float64 }

func compare(rows []row, likely []float64) score {
	var s score
	for i, r := range rows {
		said := likely[i] >= 0.5
		switch {
		case math.IsNaN(r.fan):
		case r.fan > 5:
			s.ran++
			if said {
				s.hits++
			}
		default:
			s.stood++
			if !said {
				s.misses++
			}
		}
	}
	s.balanced = (s.hits/s.ran + s.misses/s.stood) / 2
	return s
}

// startsOf lists the recorded starts of runs of half an hour and longer.
func startsOf(rows []row) (starts []time.Time) {
	from := -1
	for i, r := range rows {
		if r.fan > 5 && from < 0 {
			from = i
		}
		if !(r.fan > 5) && from >= 0 {
			if r.at.Sub(rows[from].at) >= 30*time.Minute {
				starts = append(starts, rows[from].at)
			}
			from = -1
		}
	}
	return starts
}

// found counts which of want have one of got within 10 minutes.
func found(want, got []time.Time) (n int) {
	for _, w := range want {
		for _, g := range got {
			if g.Sub(w).Abs() <= 10*time.Minute {
				n++
				break
			}
		}
	}
	return n
}

func startsIn(changes []Change, sharp bool) (at []time.Time) {
	for i, c := range changes {
		if c.Kind != Start || sharp && !c.Sharp {
			continue
		}
		if i+1 < len(changes) && changes[i+1].Kind == Stop && changes[i+1].At.Sub(c.At) < 30*time.Minute {
			continue
		}
		at = append(at, c.At)
	}
	return at
}

// The recorded fan is seen by the test alone.
func TestRecordedHouse(t *testing.T) {
	rows := fanHouse(t)
	variants := []struct {
		name  string
		floor float64
		rows  []row
	}{
		{"as recorded", 0.845, rows},
		{"first half", 0.78, rows[:len(rows)/2]},
		{"second half", 0.83, rows[len(rows)/2:]},
		{"4 °C warmer inside and outside", 0.84, changed(rows, func(r *row) { r.inside += 4; r.outside += 4 })},
		{"8 °C colder inside and outside", 0.84, changed(rows, func(r *row) { r.inside -= 8; r.outside -= 8 })},
		{"inside 1 °C warmer", 0.82, changed(rows, func(r *row) { r.inside++ })},
		{"inside 1 °C colder", 0.82, changed(rows, func(r *row) { r.inside-- })},
		{"every 10 minutes", 0.84, every(rows, 2)},
		{"clock 6 hours off", 0.83, changed(rows, func(r *row) { r.at = r.at.Add(6 * time.Hour) })},
		{"rounded to half a degree", 0.83, changed(rows, func(r *row) { r.inside = math.Round(2*r.inside) / 2 })},
		{"smoothed over 15 minutes", 0.83, smoothed(rows)},
	}
	for _, v := range variants {
		likely, changes := follow(New(Options{}), v.rows)
		s := compare(v.rows, likely)
		want := startsOf(v.rows)
		all, sharp := startsIn(changes, false), startsIn(changes, true)
		days := v.rows[len(v.rows)-1].at.Sub(v.rows[0].at).Hours() / 24
		t.Logf("%-32s balanced %.3f (ran %.3f, stood %.3f); of %d starts %d found, %d of %d false; sharp: %d found, %d of %d false (%.2f a day)",
			v.name, s.balanced, s.hits/s.ran, s.misses/s.stood, len(want), found(want, all), len(all)-found(all, want), len(all),
			found(want, sharp), len(sharp)-found(sharp, want), len(sharp), float64(len(sharp)-found(sharp, want))/days)
		if s.balanced < v.floor {
			t.Errorf("%s: balanced accuracy %.3f, want %v", v.name, s.balanced, v.floor)
		}
	}
}

// Without a probe outside nothing is said: on a house whose fan seldom runs, or
// that has none, a verdict from the temperature inside alone is wrong.
func TestNoVerdictWithoutAProbeOutside(t *testing.T) {
	houses := map[string][]row{"no fan": greenhouse{area: 100, loss: 900, fan: 4, set: 24, night: 12, mean: 16, step: 5, everOpen: true}.simulate(3, 20),
		"seldom": greenhouse{area: 21, loss: 900, fan: 0.8, set: 33, width: 2, night: 10, mean: 14, step: 5}.simulate(4, 20)}
	if _, err := os.Stat(filepath.Join("..", "..", "..", "shared", "data")); err == nil {
		houses["recorded"] = fanHouse(t)
	}
	for name, rows := range houses {
		s := New(Options{})
		heard := 0
		for i, r := range rows {
			outside := math.NaN()
			if i < len(rows)/4 { // then the probe outside is lost
				outside = r.outside
			}
			b, c := s.Step(r.at, r.inside, outside)
			if known := !s.Heard.IsZero() && r.at.Sub(s.Heard) <= stale; known {
				heard++
			} else if b.Shown() != control.Unknown || b.Running != 0.5 || c.Kind != NoChange && c.Kind != Lost || s.Running {
				t.Fatalf("%s at %v: %+v %+v, want nothing said", name, r.at, b, c)
			}
		}
		if heard == 0 || heard == len(rows) {
			t.Errorf("%s: outside known in %d of %d readings", name, heard, len(rows))
		}
	}
}

func changed(rows []row, f func(*row)) []row {
	out := append([]row(nil), rows...)
	for i := range out {
		f(&out[i])
	}
	return out
}

func every(rows []row, n int) (out []row) {
	for i := 0; i < len(rows); i += n {
		out = append(out, rows[i])
	}
	return out
}

func smoothed(rows []row) []row {
	out := append([]row(nil), rows...)
	for i := 2; i < len(rows); i++ {
		out[i].inside = (rows[i].inside + rows[i-1].inside + rows[i-2].inside) / 3
	}
	return out
}
