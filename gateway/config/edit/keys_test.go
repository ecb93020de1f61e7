package edit

import (
	"reflect"
	"strings"
	"testing"
)

const keyed = `# Mine.
[house.a]
name = "A"   # said aloud
[house.a.drive]
fan = { kind = "exhaust-fan", barred = ["winter"], runs = { open = "on" } }

[[tell]]
people = ["ada"]

# Of the second rule.
[[tell]]
people = ["ben"]
after = "5m"
`

func keyDraft(t *testing.T) *Draft {
	t.Helper()
	d, problems := newDraft("x.toml", []byte(keyed), noEnvironment)
	if problems.Err() != nil {
		t.Fatal(problems)
	}
	return d
}

func noEnvironment(string) (string, bool) { return "", false }

// A key is set where it stands, made where it does not, and taken out without a trace;
// all else stays byte for byte.
func TestKeysAreSetAndTakenOut(t *testing.T) {
	for _, c := range []struct {
		path  []string
		key   string
		value any
		old   string // of keyed
		now   string // in its place
	}{
		{[]string{"house", "a"}, "name", "A", "", ""},
		{[]string{"house", "a"}, "name", "B", `name = "A"   #`, `name = "B"   #`},
		{[]string{"house", "a"}, "name", nil, "name = \"A\"   # said aloud\n", ""},
		{[]string{"house", "a"}, "latitude", 50.5, "aloud\n", "aloud\nlatitude = 50.5\n"},
		{[]string{"house", "a"}, "latitude", nil, "", ""},
		{[]string{"house", "a", "drive", "fan"}, "kind", nil, `kind = "exhaust-fan", `, ""},
		{[]string{"house", "a", "drive", "fan"}, "barred", nil, `barred = ["winter"], `, ""},
		{[]string{"house", "a", "drive", "fan"}, "barred", []string{}, `["winter"]`, `[]`},
		{[]string{"house", "a", "drive", "fan"}, "barred", []string{"winter"}, "", ""},
		{[]string{"house", "a", "drive", "fan", "runs"}, "open", nil, ` open = "on" `, "  "},
		{[]string{"house", "a", "drive", "fan", "runs"}, "winter", "off", `"on" }`, `"on", winter = "off" }`},
		{[]string{"house", "a", "drive", "fan"}, "warn", true, `"on" } }`, `"on" }, warn = true }`},
	} {
		d := keyDraft(t)
		d.Set(c.path, c.key, c.value)
		if want := strings.Replace(keyed, c.old, c.now, 1); d.Text() != want {
			t.Errorf("%v %s = %v:\n%s\nwant\n%s", c.path, c.key, c.value, d.Text(), want)
		}
	}
}

// The last key of an inline table is taken out with the comma before it.
func TestTheLastKeyGoesWithItsComma(t *testing.T) {
	d, _ := newDraft("x.toml", []byte("a = { b = 1, c = 2 }\n"), noEnvironment)
	if d.Set([]string{"a"}, "c", nil); d.Text() != "a = { b = 1 }\n" {
		t.Errorf("%q", d.Text())
	}
	if d.Set([]string{"a"}, "b", nil); strings.Join(strings.Fields(d.Text()), "") != "a={}" {
		t.Errorf("%q", d.Text())
	}
}

func TestListsOfTables(t *testing.T) {
	type one = map[string]any
	for name, c := range map[string]struct {
		all  []one
		want []any
	}{
		"as it is": {[]one{{"people": []string{"ada"}}, {"people": []string{"ben"}, "after": "5m"}},
			[]any{one{"people": []any{"ada"}}, one{"people": []any{"ben"}, "after": "5m"}}},
		"one more": {[]one{{"people": []string{"ada"}}, {"people": []string{"ben"}, "after": "5m"}, {"people": []string{"cleo"}}},
			[]any{one{"people": []any{"ada"}}, one{"people": []any{"ben"}, "after": "5m"}, one{"people": []any{"cleo"}}}},
		"the first goes": {[]one{{"people": nil}, {"people": []string{"ben"}, "after": nil}},
			[]any{one{"people": []any{"ben"}}}},
		"the first goes and one comes": {[]one{{"people": nil}, {"people": []string{"ben"}, "after": "6m"}, {"people": []string{"cleo"}}},
			[]any{one{"people": []any{"ben"}, "after": "6m"}, one{"people": []any{"cleo"}}}},
	} {
		d := keyDraft(t)
		if d.SetList([]string{"tell"}, c.all); !reflect.DeepEqual(d.Value("tell"), any(c.want)) {
			t.Errorf("%s: %v, want %v\n%s", name, d.Value("tell"), c.want, d.Text())
		}
		if name == "as it is" && d.Text() != keyed {
			t.Errorf("it was written anew:\n%s", d.Text())
		}
	}
}

func TestAThingGoesWithAllBelowIt(t *testing.T) {
	for _, path := range [][]string{{"house", "a"}, {"house", "a", "drive", "fan"}, {"tell"}} {
		d := keyDraft(t)
		if d.Remove(path...); d.Value(path...) != nil || d.Value("house") == nil && path[0] == "tell" || d.Value("tell") == nil && path[0] == "house" {
			t.Errorf("%v: %s", path, d.Text())
		}
	}
}
