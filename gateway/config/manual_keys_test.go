package config

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"telltale/alarms"
	"telltale/alarms/engine"
)

// The topic has every key that the reader knows, and no other.
func TestManualHasEveryKey(t *testing.T) {
	sections, a := manualSections(t), askedKeys(t)
	for table, keys := range a.keys {
		s := sections[table]
		if s == nil && strings.HasPrefix(table, "channel.CHANNEL ") {
			s = &keySection{} // of its own it has none
		}
		for key := range keys {
			if opens(sections, table, key) || s != nil && has(s, key) {
				continue
			}
			common := sections["channel.CHANNEL"]
			if strings.HasPrefix(table, "channel.CHANNEL ") && has(common, key) {
				continue
			}
			t.Errorf("[%s] has the key %q, of which %s says nothing", table, key, manualFile)
		}
	}
	for table, s := range sections {
		for key := range s.rows {
			if !a.knows(table, key) {
				t.Errorf("%s has the key %q of [%s], which no good file lets the reader ask for", manualFile, key, table)
			}
			if s.like != "" && !has(sections[s.like], key) {
				t.Errorf("[%s] should take %q from [%s], which has no such row", table, key, s.like)
			}
		}
	}
	if len(sections) < 40 {
		t.Errorf("found %d sections only", len(sections))
	}
}

func has(s *keySection, key string) bool { _, ok := s.rows[key]; return ok }

// opens reports whether a key is a table that has a section, or leads to one.
func opens(sections map[string]*keySection, table, key string) bool {
	path := key
	if table != "" {
		path = table + "." + key
	}
	path = patternOf(strings.Split(path, "."))
	for name := range sections {
		if name == path || strings.HasPrefix(name, path+".") {
			return true
		}
	}
	return false
}

// knows reports whether the reader asks a table for a key. What stands in the
// common section of channels is asked of nearly every kind.
func (a asked) knows(table, key string) bool {
	if table != "channel.CHANNEL" {
		return a.keys[table][key]
	}
	n := 0
	for kind, keys := range a.keys {
		if strings.HasPrefix(kind, table+" ") && keys[key] {
			n++
		}
	}
	return n >= 6 // of seven: mqtt follows every alarm, so it takes no bounds
}

// Each example stands in a good file, in such a table and word for word.
func TestManualExamplesStandInGoodFiles(t *testing.T) {
	a := askedKeys(t)
	var text strings.Builder
	for _, f := range everyGoodFile(t) {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		text.Write(data)
	}
	n := 0
	for table, s := range manualSections(t) {
		for key, row := range s.rows {
			if s.like == "" && len(row.examples) == 0 {
				t.Errorf("[%s] %s has no example", table, key)
			}
			for _, example := range row.examples {
				n++
				if !strings.Contains(text.String(), example) || !a.stands(strings.Fields(table)[0], key, row.keys, example) {
					t.Errorf("[%s] %s: the example %s stands in no such table of a good file", table, key, example)
				}
			}
		}
	}
	if n < 200 {
		t.Errorf("found %d examples only", n)
	}
}

// stands reports whether an example of a key, or of one that says the same, is in
// such a table of a good file, or that table as a whole where it is written in one
// line.
func (a asked) stands(table, key string, alike []string, example string) bool {
	var v map[string]any
	if toml.Unmarshal([]byte(example), &v) != nil || len(v) != 1 {
		return false
	}
	same := func(in []any, want any) bool {
		return slices.ContainsFunc(in, func(one any) bool { return reflect.DeepEqual(one, want) })
	}
	for name, value := range v {
		i := strings.LastIndex(table, ".")
		switch inner, isTable := value.(map[string]any); {
		case slices.Contains(alike, name):
			return same(a.values[table][name], value) || same(a.values[table+".WHEN"][name], value)
		case i > 0 && name == table[i+1:] && isTable && inner[key] != nil:
			return same(a.values[table[:i]][name], value)
		}
	}
	return false
}

// Good files that need files beside them, or cost a warning, have no error.
func TestGoodFilesAside(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "secrets"), 0o700); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"page", "watch", "broker", "authority"} {
		writePair(t, dir, name)
	}
	address, _ := fixedEnv("GOOD_URL")
	signs, _ := fixedEnv("GOOD_KEY")
	for name, text := range map[string]string{"broker": "", "mail": "", "page": "", "history": "", "bench-1": "", "token": "", "companion": "",
		"phone-address": address, "heartbeat": address, "phone": signs, "sim-pin": "1234"} {
		if text == "" {
			text = "correct-horse-of-thimble-garth"
		}
		if err := os.WriteFile(filepath.Join(dir, "secrets", name), []byte(text+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for file, warnings := range map[string]int{"broker-and-password.toml": 0, "own-broker-and-accounts.toml": 0, "companion.toml": 0, "warned.toml": 2} {
		data, err := os.ReadFile(goodFolder + "aside/" + file)
		if err != nil {
			t.Fatal(err)
		}
		c, problems := Parse(filepath.Join(dir, file), data, fixedEnv)
		if c == nil || len(problems) != warnings {
			t.Errorf("%s: got %d problems, want %d warnings:\n%v", file, len(problems), warnings, problems)
			continue
		}
		if _, err := engine.New(c.Plan); err != nil {
			t.Errorf("%s: the core refuses the plan: %v", file, err)
		}
	}
}

// bandOf is a band of q that gives nothing.
func bandOf(q alarms.Quantity) alarms.Band {
	p := alarms.Plan{Houses: []alarms.House{{Places: []alarms.Place{{Bands: []alarms.Band{{Quantity: q}}}}}}}
	return p.Filled().Houses[0].Places[0].Bands[0]
}

// The table of quantities says what the reader and the core go by.
func TestManualQuantities(t *testing.T) {
	data, err := os.ReadFile(manualFile)
	if err != nil {
		t.Fatal(err)
	}
	yes := map[bool]string{true: "yes", false: "no"}
	for _, q := range alarms.Quantities {
		believed := ""
		if lo, hi := (alarms.Stream{Quantity: q}).Reach(alarms.KindPlain); !q.Derived() {
			believed = figure(lo) + " to " + figure(hi)
		}
		f := q.Facts()
		deadband, delay := "", ""
		if f.Limited {
			band := bandOf(q)
			deadband, delay = figure(band.Deadband), strings.TrimSuffix(band.Delay.String(), "0s")
		}
		want := fmt.Sprintf(" | %s | %s | %s | %s | %s | %s |", f.Unit, yes[f.Limited], yes[!q.Derived()], believed, deadband, delay)
		want = strings.ReplaceAll(strings.ReplaceAll(want, "|  |", "| |"), "|  |", "| |")
		found := false
		for line := range strings.Lines(string(data)) {
			found = found || strings.HasPrefix(line, "| `"+string(q)+"` |") && strings.HasSuffix(strings.TrimSpace(line), want)
		}
		if !found {
			t.Errorf("%s has no row of %s that ends in %q", manualFile, q, want)
		}
	}
}
