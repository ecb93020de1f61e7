package topic

import (
	"encoding/csv"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
)

// The table holds the examples of MQTT 3.1.1 (OASIS Standard, 29 October 2014),
// section 4.7; each row names its subsection. MQTT 5.0 has the same ones there.
func TestPublishedExamples(t *testing.T) {
	f, err := os.Open("../../testdata/reference/mqtt-topics.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[string]int{}
	for _, row := range rows[1:] {
		kind, filter, name, want := row[0], row[1], row[2], row[3] == "1"
		kinds[kind]++
		switch kind {
		case "match":
			if got := Matches(filter, name); got != want {
				t.Errorf("section %s: filter %q, topic %q: got %v, want %v", row[4], filter, name, got, want)
			}
			if got := Overlap(filter, name); got != want {
				t.Errorf("section %s: filter %q, topic %q: they overlap: %v, want %v", row[4], filter, name, got, want)
			}
			if err := CheckName(name); err != nil {
				t.Errorf("section %s: topic %q: %v", row[4], name, err)
			}
		case "valid_filter":
			if err := CheckFilter(filter); (err == nil) != want {
				t.Errorf("section %s: filter %q: got %v, want valid %v", row[4], filter, err, want)
			}
		default:
			t.Errorf("unknown kind %q", kind)
		}
	}
	if kinds["match"] < 20 || kinds["valid_filter"] < 10 {
		t.Errorf("read %v rows; the table is not whole", kinds)
	}
}

// The normative statements of section 4.7 by their numbers, which are the same in
// MQTT 3.1.1 and 5.0, and of section 4.8.2 of MQTT 5.0; sections and numbers from
// memory.
func TestNormativeStatements(t *testing.T) {
	long := strings.Repeat("x", 65535)
	for _, c := range []struct {
		statement string
		check     func(string) error
		text      string
		says      string // empty: it is good
	}{
		{"4.7.1-1: wildcards only in filters", CheckName, "sport/#", "must be one topic, without + and #"},
		{"4.7.1-1", CheckName, "sport/+/player1", "must be one topic, without + and #"},
		{"4.7.1-1: anywhere in a name", CheckName, "sport+", "must be one topic, without + and #"},
		{"4.7.1-2: # on its own or behind a slash", CheckFilter, "sport/tennis#", `must have # alone in its level, not "tennis#" (got "sport/tennis#")`},
		{"4.7.1-2: # last", CheckFilter, "sport/#/ranking", `must have # as its last level only (got "sport/#/ranking")`},
		{"4.7.1-2: # last, also of one", CheckFilter, "#/", "must have # as its last level only"},
		{"4.7.1-2", CheckFilter, "##", `must have # alone in its level, not "##"`},
		{"4.7.1-3: + has its whole level", CheckFilter, "sport+/x", `must have + alone in its level, not "sport+"`},
		{"4.7.1-3", CheckFilter, "++", `must have + alone in its level, not "++"`},
		{"4.7.1-3: with #, and at any level", CheckFilter, "+/+/#", ""},
		{"4.7.3-1: at least one character", CheckName, "", "must not be empty"},
		{"4.7.3-1", CheckFilter, "", "must not be empty"},
		{"4.7.3-1: a slash is one", CheckName, "/", ""},
		{"4.7.3: spaces are good, and other scripts", CheckName, "Beet 3/Wärme", ""},
		{"4.7.3-2: no null character", CheckName, "a\x00b", "must be without a zero character"},
		{"4.7.3-2", CheckFilter, "a\x00b/#", "must be without a zero character"},
		{"4.7.3-3: at most 65535 bytes", CheckName, long + "x", "must be at most 65535 bytes long (got 65536"},
		{"4.7.3-3", CheckFilter, long, ""},
		{"1.5.3-1 (3.1.1), 1.5.4-1 (5.0): UTF-8", CheckFilter, "a\xff", `must be UTF-8 text (got "a\xff")`},
		{"1.5.3-1: no surrogates", CheckName, "a\xed\xa0\x80", "must be UTF-8 text"},
		{"1.5.3: control characters should not be there, but may", CheckFilter, "bench\r", ""},
		{"4.8.2 (5.0): $share/ is no topic of its own", CheckFilter, "$share/consumer1/sport/tennis/+", "must not be a shared subscription"},
		{"4.7.2: other $ topics may be read", CheckFilter, "$SYS/#", ""},
		{"our own: others do not write what the watch writes", CheckForOthers, "telltale/x", `must not lie below "telltale/"`},
		{"our own", CheckForOthers, "telltales/#", ""},
		{"our own", CheckForOthers, "a/#/b", "must have #"},
	} {
		switch err := c.check(c.text); {
		case c.says == "" && err != nil:
			t.Errorf("%s: %.40q: %v", c.statement, c.text, err)
		case c.says != "" && (err == nil || !strings.HasPrefix(err.Error(), c.says)):
			t.Errorf("%s: %.40q: got %v, want %q", c.statement, c.text, err, c.says)
		}
	}
}

// 4.7.3-4: a server changes nothing in a name, so names are the same only byte
// for byte; 4.7.2-1: no wildcard in front stands for $.
func TestMatchesAndCovers(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"ACCOUNTS", "Accounts", false}, {"/finance", "finance", false}, {"W\u00e4rme", "Wa\u0308rme", false},
		{"#", "a/+/#", true}, {"#", "$SYS/#", false}, {"+/#", "a/b", true}, {"a/#", "a", true}, {"a/#", "a/+", true},
		{"a/+", "a/#", false}, {"a/+", "a", false}, {"a/+/c", "a/b/+", false}, {"a/+/+", "a/b/+", true}, {"a/b", "a/+", false},
		{"a", "a/b", false}, {"$SYS/#", "$SYS/a", true}, {"+", "$a", false}, {"a/+/#", "a/b", true}, {"a/+/#", "a", false},
		{"+/+", "/", true}, {"#", "/", true}, {"+", "/", false}, {"a/$b", "a/$b", true}, {"a/+", "a/$b", true},
	} {
		if got := covers(c.a, c.b); got != c.want {
			t.Errorf("covers(%q, %q) = %v, want %v", c.a, c.b, got, c.want)
		}
	}
}

// brings is section 4.7 for one topic, written the slow way.
func brings(filter, name []string) bool {
	if strings.HasPrefix(name[0], "$") && (filter[0] == "+" || filter[0] == "#") {
		return false
	}
	return below(filter, name)
}

// below is brings behind the first level, where $ is a letter like others.
func below(filter, name []string) bool {
	switch {
	case len(filter) == 1 && filter[0] == "#":
		return true
	case len(filter) == 0 || len(name) == 0:
		return len(filter) == len(name)
	}
	return (filter[0] == "+" || filter[0] == name[0]) && below(filter[1:], name[1:])
}

// allOf lists every path of up to n levels out of words.
func allOf(words []string, n int) [][]string {
	var out [][]string
	for _, w := range words {
		out = append(out, []string{w})
		if n > 1 {
			for _, rest := range allOf(words, n-1) {
				out = append(out, append([]string{w}, rest...))
			}
		}
	}
	return out
}

// TestAgainstEveryTopic tries pairs of filters on every topic of one level more
// than they have, with a word that no filter has: that is enough to tell whether
// they overlap, and a filter that covers another must bring all that it does.
func TestAgainstEveryTopic(t *testing.T) {
	names := allOf([]string{"a", "c", "", "$s"}, 4)
	type sieve struct {
		text string
		on   []bool
	}
	var filters []sieve
	for _, f := range allOf([]string{"a", "", "$s", "+", "#"}, 3) {
		s := sieve{text: strings.Join(f, "/"), on: make([]bool, len(names))}
		if CheckFilter(s.text) != nil {
			continue
		}
		for i, n := range names {
			if s.on[i] = brings(f, n); s.on[i] != Matches(s.text, strings.Join(n, "/")) {
				t.Fatalf("Matches(%q, %q) = %v", s.text, n, !s.on[i])
			}
		}
		filters = append(filters, s)
	}
	if len(filters) < 80 {
		t.Fatalf("only %d filters", len(filters))
	}
	covered := 0
	for _, a := range filters {
		for _, b := range filters {
			both, all := false, true
			for i := range names {
				both = both || a.on[i] && b.on[i]
				all = all && (a.on[i] || !b.on[i])
			}
			if Overlap(a.text, b.text) != both {
				t.Errorf("Overlap(%q, %q) = %v", a.text, b.text, !both)
			}
			if covers(a.text, b.text) {
				covered++
				if !all {
					t.Errorf("%q covers %q, but does not bring all of it", a.text, b.text)
				}
			}
		}
	}
	if covered < 300 {
		t.Errorf("only %d pairs cover one another: the test says little", covered)
	}
}

// TestFewestKeepsEveryTopic compares the fewest filters with the full list.
func TestFewestKeepsEveryTopic(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	all := slices.DeleteFunc(allOf([]string{"a", "b", "+", "#"}, 3), func(f []string) bool { return CheckFilter(strings.Join(f, "/")) != nil })
	names := allOf([]string{"a", "b", ""}, 3)
	for range 2000 {
		var full []string
		for range 1 + rnd.IntN(5) {
			full = append(full, strings.Join(all[rnd.IntN(len(all))], "/"))
		}
		few := Fewest(full)
		for _, n := range names {
			if name := strings.Join(n, "/"); AnyCovers(full, name) != AnyCovers(few, name) {
				t.Fatalf("%q became %q: topic %q is treated differently", full, few, name)
			}
		}
		for i, f := range few {
			for j, g := range few {
				if i != j && covers(f, g) {
					t.Fatalf("%q became %q, but %q covers %q", full, few, f, g)
				}
			}
		}
	}
	got := Fewest([]string{"long-house/bench/t", "low-house/+/t", "low-house/heap/t", "long-house/#", "long-house", "low-house/+/t", "$SYS/broker/load"})
	if want := []string{"low-house/+/t", "long-house/#", "$SYS/broker/load"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestBeginnings(t *testing.T) {
	for s, good := range map[string]bool{
		"telltale": true, "thimble-garth/watch": true, "Wärme": true, "": false, "/a": false, "a/": false, "a//b": false, "$a": false,
		"a/+": false, "#": false, "a\x01": false, "a\x7f": false, "a\xff": false, strings.Repeat("x", 500): true, strings.Repeat("x", 501): false,
	} {
		err := CheckBeginning(s)
		if (err == nil) != good {
			t.Errorf("%.20q: got %v, want good: %v", s, err, good)
		}
		if err == nil && CheckName(s+"/state") != nil {
			t.Errorf("%.20q begins no topic", s)
		}
	}
}
