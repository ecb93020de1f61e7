package crop

import (
	"encoding/csv"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"
)

// tableRows reads the whole of the reference table.
func tableRows(t *testing.T) [][]string {
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
	return all[1:]
}

// about lists the rows of the table that may stand behind an exposure of c.
func about(rows [][]string, c Crop, source string, m Mark) [][]string {
	var out [][]string
	for _, r := range rows {
		ours := r[0] == "general" || strings.HasPrefix(r[0], "disease_")
		for _, name := range rowsOf[c.Name] {
			ours = ours || r[0] == name
		}
		if ours && r[7] == source && r[8] == markNames[m] {
			out = append(out, r)
		}
	}
	return out
}

// Every figure of every exposure stands in the reference table under its
// source and mark, or says that it is remembered, worked out or practice.
func TestExposuresHaveSources(t *testing.T) {
	rows := tableRows(t)
	for _, c := range all() {
		for _, x := range c.Exposures() {
			what := c.Name + " " + x.Name
			for _, f := range []Figure{x.Limit, x.WhileLow, x.WhileHigh} {
				if f.Known() && !figureStands(rows, c, f) {
					t.Errorf("%s: %v %s is not in the table under %q as %s", what, f.Value, f.Unit, f.Source, markNames[f.Mark])
				}
			}
			for _, l := range []Length{x.Lasting, x.Window, x.Gap} {
				if l.Value > 0 && !lengthStands(rows, c, l) {
					t.Errorf("%s: %s is not in the table under %q as %s", what, l.Value, l.Source, markNames[l.Mark])
				}
			}
			for _, n := range []Count{x.Days, x.Nights} {
				if n.Value > 0 && (n.Source == "" || n.Meaning == "" || n.Mark == Practice != (n.Source == practice)) {
					t.Errorf("%s: %+v", what, n)
				}
			}
		}
	}
}

func figureStands(rows [][]string, c Crop, f Figure) bool {
	if f.Source == remembered {
		return f.Mark == Memory
	}
	for _, r := range about(rows, c, f.Source, f.Mark) {
		if spells(r[5], f.Value, "C") {
			return true
		}
		for _, v := range r[2:4] {
			var got float64
			if _, err := fmt.Sscan(v, &got); err == nil && got == f.Value && r[4] == units[f.Unit] {
				return true
			}
		}
	}
	return false
}

func lengthStands(rows [][]string, c Crop, l Length) bool {
	switch l.Mark {
	case Practice:
		return l.Source == practice && l.Meaning != ""
	case Derived:
		return l.Meaning != ""
	}
	hours := fmt.Sprintf("%g", l.Value.Hours())
	for _, r := range about(rows, c, l.Source, l.Mark) {
		if r[4] == "h" && (r[2] == hours || r[3] == hours) || spells(r[5], l.Value.Hours(), "h") {
			return true
		}
	}
	return false
}

// An exposure is whole: named once, one reset, limits on the harmful side of
// the crop's own limits or at them.
func TestExposuresAreWhole(t *testing.T) {
	for _, c := range all() {
		seen := map[string]bool{}
		for _, x := range c.Exposures() {
			what := c.Name + " " + x.Name
			if seen[x.Name] || x.Name == "" || x.Says == "" {
				t.Errorf("%s: a name of its own and words are needed", what)
			}
			seen[x.Name] = true
			resets := 0
			for _, set := range []bool{x.Window.Value > 0, x.Gap.Value > 0, x.Days.Value > 0, x.Nights.Value > 0} {
				if set {
					resets++
				}
			}
			if resets != 1 || x.Lasting.Value <= 0 || (x.Window.Value > 0 && x.Lasting.Value > x.Window.Value) {
				t.Errorf("%s: %d resets, lasting %s within %s", what, resets, x.Lasting.Value, x.Window.Value)
			}
			if x.Nights.Value > 0 && !x.Night {
				t.Errorf("%s: nights of what counts by day", what)
			}
		}
		if !seen["grey-mould"] {
			t.Errorf("%s: grey mould attacks it too", c.Name)
		}
	}
}

// The rules that a tomato grower would check first, as in the tables of heat
// injury and of disease.
func TestWellKnownExposures(t *testing.T) {
	c, _ := Lookup("tomato")
	got := map[string]Exposure{}
	for _, x := range c.Exposures() {
		got[x.Name] = x
	}
	if x := got["fruit-set-lost"]; x.Limit.Value != 39.4 || x.Lasting.Value != 3*time.Hour || x.Days.Value != 2 || x.Bound != Above {
		t.Errorf("got %+v", x)
	}
	if x := got["grey-mould"]; x.Limit.Value != 93 || x.Lasting.Value != 8*time.Hour || x.WhileLow.Value != 12 || x.WhileHigh.Value != 24 || x.Bound != AtLeast {
		t.Errorf("got %+v", x)
	}
	if x := got["hot-nights"]; x.Limit.Value != 23.9 || !x.Night || x.Nights.Value < 2 {
		t.Errorf("got %+v", x)
	}
	// Damp is nobody's reason to get up: low, by day, and one cause one alarm.
	for _, c := range all() {
		for _, x := range c.Exposures() {
			if x.Quantity == AirHumidity && (x.Urgency != Mild || !x.Morning) || x.Quantity == AirDeficit {
				t.Errorf("%s %s calls somebody for damp air: %+v", c.Name, x.Name, x)
			}
		}
	}
}

// spells reports whether text has v with its unit: "8 h", or an end of "8-12 h".
func spells(text string, v float64, unit string) bool {
	words := strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' })
	for i, w := range words {
		if i+1 == len(words) || words[i+1] != unit {
			continue
		}
		for _, end := range append(strings.Split(w, "-"), w) {
			if end == fmt.Sprintf("%g", v) {
				return true
			}
		}
	}
	return false
}
