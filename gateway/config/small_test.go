package config

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/pelletier/go-toml/v2"

	"telltale/alarms/engine"
)

func TestSpans(t *testing.T) {
	for text, want := range map[string]time.Duration{"30s": 30 * time.Second, "5m": 5 * time.Minute, "2h": 2 * time.Hour,
		"90d": 90 * day, "1h30m": 90 * time.Minute, "1d12h": 36 * time.Hour, "250ms": 250 * time.Millisecond, "0s": 0} {
		if got, ok := readSpan(text); !ok || got != want {
			t.Errorf("%q: got %s, %v; want %s", text, got, ok, want)
		}
		if got := span(want); got != text && text != "250ms" {
			t.Errorf("%s is written %q, want %q", want, got, text)
		}
	}
	for _, text := range []string{"", "5", "m", "5 m", "-5m", "5m5m", "5m1h", "1.5h", "1w", "99999999999d", "999999999d"} {
		if got, ok := readSpan(text); ok {
			t.Errorf("%q was read as %s, want a refusal", text, got)
		}
	}
}

func TestMeant(t *testing.T) {
	words := []string{"low", "low-low", "high", "high-high", "delay", "deadband"}
	for word, want := range map[string]string{"hihg": "high", "low_low": "low-low", "LOW": "low", "dealy": "delay",
		"dead-band": "deadband", "colour": "", "x": ""} {
		got := Meant(word, words).Error()
		if (want == "") != (got == "") || !strings.Contains(got, want) {
			t.Errorf("%q: got %q, want %q", word, got, want)
		}
	}
}

// The distances are those of the usual examples of Levenshtein's measure, and
// a swap counts one.
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"saturday", "sunday", 3}, {"", "abc", 3}, {"abc", "acb", 1}, {"same", "same", 0}} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: got %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

// Each key of a file that uses every form of TOML is found in its line.
func TestLines(t *testing.T) {
	data := `a = 1
b.c = [1,
  2, # two
  [3, "x"],
]
[d]
e = { f = 1, g.h = 2 }
[[i]]
j = 1
[[i]]
j = 2
[i.k]
l = """
long
"""
m = true
`
	l := readLines([]byte(data))
	for path, want := range map[string]int{"a": 1, "b": 2, "b.c": 2, "b.c[1]": 2, "b.c[2]": 3, "b.c[3]": 4, "b.c[3][2]": 4, "d": 6, "d.e": 7,
		"d.e.f": 7, "d.e.g.h": 7, "i[1]": 8, "i[1].j": 9, "i[2]": 10, "i[2].j": 11, "i[2].k": 12, "i[2].k.l": 13, "i[2].k.m": 16} {
		found := false
		for inner, s := range l.spots {
			if shown(inner) == path {
				found = true
				if s.line != want {
					t.Errorf("%s is in line %d, want %d", path, s.line, want)
				}
			}
		}
		if !found {
			t.Errorf("%s was not found", path)
		}
	}
}

// wellParsed demands, whatever the file holds: no panic, a configuration or
// errors and never both, each problem in a line that exists, the library's own
// judgement of what is TOML, and a plan that the core takes.
func wellParsed(t *testing.T, text string) {
	c, problems := Parse("x.toml", []byte(text), fixedEnv)
	if (c == nil) != (problems.Err() != nil) {
		t.Fatalf("configuration: %v, errors: %v", c != nil, problems.Err())
	}
	if c != nil {
		if _, err := engine.New(c.Plan); err != nil {
			t.Fatalf("the core refuses what was found good: %v\n%s", err, text)
		}
	}
	lines := strings.Count(text, "\n") + 1
	notTOML := false
	for _, p := range problems {
		if p.Line < 0 || p.Line > lines || p.File != "x.toml" || p.Says.Empty() {
			t.Fatalf("problem %+v in a file of %d lines", p, lines)
		}
		notTOML = notTOML || strings.HasPrefix(p.Says.Error(), "nothing else was checked")
	}
	var any map[string]any
	if err := toml.Unmarshal([]byte(text), &any); (err != nil) != notTOML {
		t.Fatalf("the library says %v, we say %v", err, problems)
	}
}

var smallTexts = []string{"", "a = 1", "[house.a]\nlatitude = 1", "[[tell]]\npeople = [\"x\"]", "probe = 5", "house = {a = {place = {b = 3}}}",
	"[probe.a]\ntemperature = {tags = {a = 1}}", "\xff", "a = 'x", "[a]\n[a]", "channel.x.kind = 'mail'",
	"[house.a.control.b]\nstage = {c = {mode = 'cooling', drives = ['d', 1]}}", "[house.a.drive.b]\nruns = {open = {}}\nevidence = [1, {probe = 2}]",
	"[house.a.selector.b.position.c]\nfollow = ['b']\nseasons = []", "house.a.drive = {b = {evidence = {}}, c = 5}"}

// FuzzParse begins with whole gardens as well, and so tries some dozens a second.
func FuzzParse(f *testing.F) {
	for _, s := range smallTexts {
		f.Add(s)
	}
	for _, name := range []string{"every-key.toml", "thermostat.toml"} {
		data, err := os.ReadFile(goodFolder + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(data))
	}
	f.Fuzz(wellParsed)
}

// FuzzSmall keeps to a few lines, and tries thousands a second.
func FuzzSmall(f *testing.F) {
	for _, s := range smallTexts {
		f.Add(s)
	}
	for _, s := range []string{"[house.a]\nlatitude = 52\nlongitude = -2\n[house.a.place.b.temperature]\nhigh = 30\n[probe.p]\nplace = 'a/b'\ntopic = 't'\ntemperature = {}\n",
		"[broker]\nservers = ['mqtt://h:1883']\n[page]\naddress = '127.0.0.1:80'\n", "[words]\nzone = 'UTC'\ntemperature = '°F'\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) < 400 {
			wellParsed(t, text)
		}
	})
}
