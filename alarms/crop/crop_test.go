package crop

import (
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// row is one published or remembered figure of the reference table crops.csv.
type row struct {
	crop, unit, source, mark string
	values                   []float64
}

func reference(t *testing.T) []row {
	t.Helper()
	f, err := os.Open("../../testdata/reference/crops.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []row
	for _, r := range all[1:] {
		if r[5] == "month" { // monthly means are no alarm limits
			continue
		}
		x := row{crop: r[0], unit: r[4], source: r[7], mark: r[8]}
		for _, s := range r[2:4] {
			if s == "" {
				continue
			}
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			x.values = append(x.values, v)
		}
		rows = append(rows, x)
	}
	return rows
}

// rowsOf names the rows of the table that speak of a crop, besides the general
// ones and those of diseases.
var rowsOf = map[string][]string{
	"tomato": {"tomato"}, "sweet-pepper": {"pepper_sweet"}, "cucumber": {"cucumber"}, "aubergine": {"aubergine"},
	"melon": {"melon", "melon_honeydew"}, "snap-bean": {"bean_snap", "general_warm"}, "lettuce": {"lettuce", "general_cool"},
	"spinach": {"spinach", "general_cool"}, "basil": {"basil"}, "strawberry": {"strawberry", "general_cool"},
	"seedlings": {"seedlings", "general_warm", "general_intermediate"}, "lemon": {"citrus_lemon", "citrus_all"},
	"lime": {"citrus_lime", "citrus_all"}, "orange": {"citrus_orange", "citrus_all"}, "mandarin": {"citrus_mandarin", "citrus_all"},
	"fig": {"fig"}, "orchid-phalaenopsis": {"orchid_phalaenopsis"}, "orchid-intermediate": {"orchid_intermediate"},
	"orchid-cool": {"orchid_cool"}, "succulents": {"succulents"}, "tender-perennials": {"tender_perennials"},
}

// Every figure says where it comes from, and one that claims to have been read
// stands in the table with the same source, unit and mark.
func TestEveryFigureHasItsSource(t *testing.T) {
	rows := reference(t)
	for _, c := range all() {
		for _, p := range c.Figures() {
			f, what := p.Figure, c.Name+" "+p.Quantity+" "+p.Limit
			if f.Source == "" || f.Meaning == "" || f.Unit == "" {
				t.Errorf("%s: source, meaning or unit missing", what)
			}
			switch {
			case f.Mark == Practice:
				if f.Source != practice {
					t.Errorf("%s: common practice cites %q", what, f.Source)
				}
			case f.Source == remembered:
				if f.Mark != Memory {
					t.Errorf("%s: from memory but marked %s", what, markNames[f.Mark])
				}
			case f.Mark == Derived:
				if !derivable(rows, c.Name, f) {
					t.Errorf("%s: %v cannot be worked out from the rows of %q", what, f.Value, f.Source)
				}
			default:
				if !stands(rows, c.Name, f) {
					t.Errorf("%s: %v %s is not in the table under %q as %s", what, f.Value, f.Unit, f.Source, markNames[f.Mark])
				}
			}
		}
	}
}

// belongs lists the values of the table that may stand behind f.
func belongs(rows []row, crop string, f Figure, mark, unit string) []float64 {
	var list []float64
	for _, r := range rows {
		ours := slices.Contains(rowsOf[crop], r.crop) || r.crop == "general" || r.crop == "disease_botrytis"
		if ours && r.source == f.Source && r.mark == mark && r.unit == unit {
			list = append(list, r.values...)
		}
	}
	return list
}

// markNames are the marks as the reference tables have them.
var markNames = map[Mark]string{Seen: "seen", Derived: "derived", Memory: "memory", Practice: "practice"}

var units = map[Unit]string{Celsius: "C", Percent: "%RH", Kilopascal: "kPa"}

func stands(rows []row, crop string, f Figure) bool {
	return slices.Contains(belongs(rows, crop, f, markNames[f.Mark], units[f.Unit]), f.Value)
}

// derivable reports whether f is a value of the table plus a difference in it.
func derivable(rows []row, crop string, f Figure) bool {
	for _, v := range belongs(rows, crop, f, "seen", "C") {
		for _, d := range belongs(rows, crop, f, "seen", "K") {
			if math.Abs(v+d-f.Value) < 1e-9 {
				return true
			}
		}
	}
	return false
}

func TestOrderAndUnits(t *testing.T) {
	unitOf := map[string]Unit{byDay: Celsius, byNight: Celsius, ofAir: Percent, ofVPD: Kilopascal}
	for _, c := range all() {
		for what, l := range map[string]Limits{"day": c.Day, "night": c.Night} {
			if !l.LowLow.Known() || !l.High.Known() || !l.HighHigh.Known() {
				t.Errorf("%s by %s: what kills, and a warning of heat that does, are missing", c.Name, what)
			}
			last := math.Inf(-1)
			for _, p := range l.entries(what) {
				if !p.Figure.Known() {
					continue
				}
				if p.Figure.Value <= last {
					t.Errorf("%s %s %s: %v is not above the limit before it", c.Name, what, p.Limit, p.Figure.Value)
				}
				last = p.Figure.Value
			}
		}
		for _, e := range c.Figures() {
			if e.Figure.Unit != unitOf[e.Quantity] {
				t.Errorf("%s %s %s: unit %q", c.Name, e.Quantity, e.Limit, e.Figure.Unit)
			}
		}
	}
}

// What a limit says happens within a day at the latest; what takes days or
// nights, or only checks growth, is counted or advised.
func TestNoLimitForWhatHarmsInDays(t *testing.T) {
	for _, c := range all() {
		for part, l := range map[string]Limits{byDay: c.Day, byNight: c.Night} {
			for _, e := range l.entries(part) {
				for _, slow := range []string{"days of this", "growth stops", "is checked", "germinates", "grow thin", "grow badly", "nights stop", "hot nights"} {
					if strings.Contains(e.Figure.Meaning, slow) && !strings.Contains(e.Figure.Meaning, "hurt") {
						t.Errorf("%s %s %s: %q is not harm of a minute", c.Name, e.Quantity, e.Limit, e.Figure.Meaning)
					}
				}
			}
		}
		// A house that is aired has nights of 85 to 92 % and noons of 2 kPa, a spring
		// morning of 9 °C and a summer evening of 30 °C. Common practice, no source.
		for _, healthy := range []float64{16, 22, 30, 33} {
			for part, l := range map[string]Limits{byDay: c.Day, byNight: c.Night} {
				if healthy < l.Low.Value && l.Low.Known() || healthy > l.High.Value {
					t.Errorf("%s %s: %v °C is told at once", c.Name, part, healthy)
				}
			}
		}
	}
}

func TestLookup(t *testing.T) {
	names := Names()
	if len(names) < 12 || !slices.IsSorted(names) || len(slices.Compact(slices.Clone(names))) != len(names) {
		t.Errorf("got names %q, want at least 12, sorted, each once", names)
	}
	for _, n := range names {
		if c, ok := Lookup(n); !ok || c.Name != n || c.Plain == "" {
			t.Errorf("%s: got %q %v", n, c.Name, ok)
		}
		if rowsOf[n] == nil {
			t.Errorf("%s: the test does not know its rows", n)
		}
	}
	for in, want := range map[string]string{"Tomato": "tomato", " sweet pepper ": "sweet-pepper", "EGGPLANT": "aubergine",
		"cactus": "succulents", "orchid_cool": "orchid-cool", "bean": "snap-bean", "cantaloupe": "melon", "pepper": "sweet-pepper",
		"satsuma": "mandarin", "fuchsia": "tender-perennials", "seedling": "seedlings"} {
		if c, ok := Lookup(in); !ok || c.Name != want {
			t.Errorf("%q: got %q, want %q", in, c.Name, want)
		}
	}
	if _, ok := Lookup("no-such-crop"); ok {
		t.Error("found a crop that does not exist")
	}
}

// Kill and injury temperatures that any grower would check first.
func TestWellKnownFigures(t *testing.T) {
	tomato, _ := Lookup("tomato")
	if tomato.Day.HighHigh.Value != 37.8 {
		t.Error("tomato: Purdue's 100 °F")
	}
	lemon, _ := Lookup("lemon")
	if lemon.Night.LowLow.Value <= -1.7 {
		t.Error("a lemon grown in a house is not hardened")
	}
	for _, c := range all() {
		damp := slices.ContainsFunc(c.Advice, func(a Advice) bool { return a.Of == ofAir && a.AtMost && a.Figure.Value == 85 })
		if !damp {
			t.Errorf("%s: the lower reading of the rule of grey mould is not advised", c.Name)
		}
	}
}
