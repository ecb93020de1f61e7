package link

import (
	"encoding/csv"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
)

// TestPublishedExamples checks filters against the examples of MQTT 3.1.1
// (OASIS Standard, 29 October 2014), section 4.7.
func TestPublishedExamples(t *testing.T) {
	f, err := os.Open("testdata/mqtt-topics.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	// The comment character is also a wildcard, but never begins a row.
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[string]int{}
	for _, row := range rows[1:] {
		kind, filter, topic, want := row[0], row[1], row[2], row[3] == "1"
		kinds[kind]++
		switch kind {
		case "match":
			if got := covers(filter, topic); got != want {
				t.Errorf("filter %q, topic %q: matches %v, want %v (section %s)", filter, topic, got, want, row[4])
			}
		case "valid_filter":
			if err := checkFilter(filter); (err == nil) != want {
				t.Errorf("filter %q: %v, want valid %v (section %s)", filter, err, want, row[4])
			}
		default:
			t.Errorf("unknown kind %q", kind)
		}
	}
	if kinds["match"] < 20 || kinds["valid_filter"] < 10 {
		t.Errorf("read %v rows; the table is not whole", kinds)
	}
}

func TestCovers(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"#", "a/+/#", true}, {"#", "$SYS/#", false}, {"+/#", "a/b", true}, {"+/#", "#", false},
		{"a/#", "a", true}, {"a/#", "a/+", true}, {"a/+", "a/#", false}, {"a/+", "a", false},
		{"a/+/c", "a/b/+", false}, {"a/+/+", "a/b/+", true}, {"a/b", "a/+", false}, {"a", "a/b", false},
		{"$SYS/#", "$SYS/a", true}, {"+", "$a", false}, {"a/+/#", "a/b", true}, {"a/+/#", "a", false},
	} {
		if got := covers(c.a, c.b); got != c.want {
			t.Errorf("covers(%q, %q) = %v, want %v", c.a, c.b, got, c.want)
		}
	}
}

// TestReduceKeepsEveryTopic compares the reduced list with the full one on
// every short topic of a small alphabet.
func TestReduceKeepsEveryTopic(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	level := []string{"a", "b", "+", "#"}
	var topics []string
	for _, x := range []string{"a", "b", ""} {
		topics = append(topics, x)
		for _, y := range []string{"a", "b", ""} {
			topics = append(topics, x+"/"+y)
			for _, z := range []string{"a", "b"} {
				topics = append(topics, x+"/"+y+"/"+z)
			}
		}
	}
	for range 2000 {
		var full []string
		for range 1 + rnd.IntN(5) {
			var parts []string
			for range 1 + rnd.IntN(3) {
				parts = append(parts, level[rnd.IntN(len(level))])
				if parts[len(parts)-1] == "#" {
					break
				}
			}
			full = append(full, strings.Join(parts, "/"))
		}
		few := reduce(full)
		for _, topic := range topics {
			if topic != "" && anyCovers(full, topic) != anyCovers(few, topic) {
				t.Fatalf("%q reduced to %q: topic %q is treated differently", full, few, topic)
			}
		}
		for i, f := range few {
			for j, g := range few {
				if i != j && covers(f, g) {
					t.Fatalf("%q reduced to %q, but %q covers %q", full, few, f, g)
				}
			}
		}
	}
	if got := reduce([]string{"a/b", "c", "a/#", "c"}); !slices.Equal(got, []string{"c", "a/#"}) {
		t.Errorf("got %q", got)
	}
}
