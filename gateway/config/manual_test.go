package config

import (
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"telltale/alarms"
)

// manualFile is the topic of the manual that has every key.
const manualFile = "../manual/config.md"

// keyRow is one row of that topic: what it says of a key.
type keyRow struct {
	keys     []string // the secret's file and variable stand in one row
	leftOut  string
	examples []string
}

// keySection is what the topic says of one kind of table. Its rows are by key.
type keySection struct {
	rows map[string]keyRow
	like string // the section that it takes its keys from; "": it has rows of its own
}

var (
	inCode = regexp.MustCompile("`([^`]+)`")
	ofKind = regexp.MustCompile("^## `\\[+([^\\]]+)\\]+`(?: with `kind = \"([a-z]+)\"`)?$")
)

const keysAre = "Keys as in "

// codes are the pieces of text that are set as code.
func codes(text string) []string {
	var out []string
	for _, m := range inCode.FindAllStringSubmatch(text, -1) {
		out = append(out, m[1])
	}
	return out
}

func bare(table string) string { return strings.Trim(table, "[]") }

// manualSections reads the topic. Sections are by the name of the table, with
// the kind of a channel behind it.
func manualSections(t *testing.T) map[string]*keySection {
	t.Helper()
	data, err := os.ReadFile(manualFile)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]*keySection{}
	var now *keySection
	for _, part := range strings.Split(string(data), "\n\n") {
		switch m := ofKind.FindStringSubmatch(part); {
		case m != nil:
			now = &keySection{rows: map[string]keyRow{}}
			name := strings.TrimSpace(m[1] + " " + m[2])
			if out[name] != nil {
				t.Errorf("section %s is there twice", name)
			}
			out[name] = now
		case strings.HasPrefix(part, "## "):
			now = nil
		case now != nil && strings.HasPrefix(part, keysAre):
			all := codes(part)
			now.like = bare(all[0])
			for _, key := range all[1:] {
				now.rows[key] = keyRow{}
			}
		case now != nil && strings.HasPrefix(part, "| key |"):
			for _, line := range strings.Split(strings.TrimSpace(part), "\n")[2:] {
				now.row(t, line)
			}
		}
	}
	return out
}

func (s *keySection) row(t *testing.T, line string) {
	cells := strings.Split(strings.Trim(line, "| "), " | ")
	if len(cells) != 4 {
		t.Errorf("got %d cells, want 4: %s", len(cells), line)
		return
	}
	for _, key := range codes(cells[0]) {
		if _, twice := s.rows[key]; twice {
			t.Errorf("the key is there twice: %s", line)
		}
		s.rows[key] = keyRow{codes(cells[0]), cells[2], codes(cells[3])}
	}
}

// namesBelow are the tables below which each table has a name of the grower's own.
var namesBelow = map[string]string{"house": "NAME", "circuit": "CIRCUIT", "place": "PLACE", "exposure": "EXPOSURE", "control": "CONTROL",
	"stage": "STAGE", "drive": "DRIVE", "selector": "SELECTOR", "position": "POSITION", "opening": "OPENING", "pipe": "OUTLET",
	"probe": "PROBE", "channel": "CHANNEL", "person": "PERSON", "account": "ACCOUNT"}

const placeTable, probeTable = "house.NAME.place.PLACE", "probe.PROBE"

// patternOf is the kind of a table, from its path: names of the grower's own are
// words in capitals, elements of a list are no more than the list.
func patternOf(path []string) string {
	var out []string
	for i, p := range path {
		p, _, _ = strings.Cut(p, "[")
		switch before := strings.Join(out, "."); {
		case i > 0 && namesBelow[out[len(out)-1]] != "":
			p = namesBelow[out[len(out)-1]]
		case (before == placeTable || before == probeTable) && alarms.Quantity(p).Known():
			p = "QUANTITY"
		case strings.HasSuffix(before, ".WHEN"):
			continue
		case before == placeTable+".QUANTITY":
			p = "WHEN"
		case strings.HasSuffix(before, ".runs"):
			p = "SEASON"
		}
		out = append(out, p)
	}
	return strings.Join(out, ".")
}

// asked is which keys the reader asks tables for, by the kind of table, and what
// stands in the good files under them.
type asked struct {
	keys   map[string]map[string]bool
	values map[string]map[string][]any
}

func keep[V any](all map[string]map[string]V, table, key string, v V) {
	if all[table] == nil {
		all[table] = map[string]V{}
	}
	all[table][key] = v
}

// planted is a key that is nowhere known and like no other.
const planted = "qqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqq"

// walk notes the values of a table and of all below it, and plants an unknown key
// into each: the problem that this makes lists the known ones.
func (a asked) walk(v any, path []string, kind string) {
	switch v := v.(type) {
	case []any:
		for _, one := range v {
			a.walk(one, path, kind)
		}
	case map[string]any:
		if k, ok := v["kind"].(string); ok && len(path) == 2 && path[0] == "channel" {
			kind = k
		}
		for key, one := range v {
			table := patternOf(path)
			keep(a.values, table, key, append(a.values[table][key], clone(one)))
			a.walk(one, append(slices.Clone(path), key), kind)
		}
		v[planted] = int64(1)
	}
}

// clone copies what TOML decodes into, for the original is planted into.
func clone(v any) any {
	switch v := v.(type) {
	case map[string]any:
		out := maps.Clone(v)
		for k, one := range out {
			out[k] = clone(one)
		}
		return out
	case []any:
		out := slices.Clone(v)
		for i, one := range out {
			out[i] = clone(one)
		}
		return out
	}
	return v
}

// askedKeys reads every good file with a key too many in every table.
func askedKeys(t *testing.T) asked {
	t.Helper()
	a := asked{map[string]map[string]bool{}, map[string]map[string][]any{}}
	for _, f := range everyGoodFile(t) {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		root, lines, found := parse(data)
		if len(found) > 0 {
			t.Fatalf("%s: %v", f, found)
		}
		kinds, _ := clone(root["channel"]).(map[string]any)
		a.walk(root, nil, "")
		r := &reader{file: f, dir: filepath.Dir(f), env: fixedEnv, lines: lines}
		r.config(&table{r: r, keys: root, seen: true})
		for _, p := range r.found {
			known, ok := strings.CutPrefix(p.Says.Error(), "is not a known key; known here: ")
			if !ok {
				continue
			}
			path := strings.Split(strings.TrimSuffix(strings.TrimSuffix(p.Path, planted), "."), ".")
			table := patternOf(path)
			if table == "channel.CHANNEL" {
				table += " " + kinds[path[1]].(map[string]any)["kind"].(string)
			}
			for key := range strings.SplitSeq(known, ", ") {
				keep(a.keys, table, key, true)
			}
		}
	}
	return a
}

// everyGoodFile lists the good files, also those that are good only with files
// beside them or with a warning.
func everyGoodFile(t *testing.T) []string {
	t.Helper()
	var all []string
	for _, folder := range []string{goodFolder, goodFolder + "aside/"} {
		files, err := filepath.Glob(folder + "*.toml")
		if err != nil || len(files) < 3 {
			t.Fatalf("found %d files in %s (%v), want three at least", len(files), folder, err)
		}
		all = append(all, files...)
	}
	return all
}
