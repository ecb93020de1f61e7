package decode

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// The table is made of the examples in MQTT 3.1.1 (OASIS, 29 October 2014),
// section 4.7; each row names its subsection.
func TestTopicFiltersAsPublished(t *testing.T) {
	for _, row := range reference(t, "mqtt-topics.csv") {
		kind, filter, topic, want := row[0], row[1], row[2], row[3] == "1"
		switch kind {
		case "match":
			if got := matches(filter, topic); got != want {
				t.Errorf("section %s: filter %q, topic %q: got %v, want %v", row[4], filter, topic, got, want)
			}
		case "valid_filter":
			if err := checkFilter(filter); (err == nil) != want {
				t.Errorf("section %s: filter %q: got %v, want valid %v", row[4], filter, err, want)
			}
		default:
			t.Fatalf("unknown kind %q", kind)
		}
	}
}

func TestSharedSubscriptionIsRefused(t *testing.T) {
	err := checkFilter("$share/watch/long-house/#")
	if err == nil || !strings.Contains(err.Error(), "shared subscription") {
		t.Fatalf("got %v", err)
	}
}

// A filter covers another exactly if it matches all that the other matches:
// tried on every topic of up to four levels over a small alphabet.
func TestCoversAgreesWithMatches(t *testing.T) {
	topics := allOf([]string{"a", "b", "", "$s"}, 4)
	rng := rand.New(rand.NewPCG(1, 2))
	words := []string{"a", "b", "+", "+", "$s", ""}
	random := func() string {
		for {
			var l []string
			for range 1 + rng.IntN(3) {
				l = append(l, words[rng.IntN(len(words))])
			}
			if rng.IntN(3) == 0 {
				l = append(l, "#")
			}
			if f := strings.Join(l, "/"); checkFilter(f) == nil {
				return f
			}
		}
	}
	yes := 0
	for range 4000 {
		a, b := random(), random()
		all := true
		for _, topic := range topics {
			if matches(b, topic) && !matches(a, topic) {
				all = false
				break
			}
		}
		// covers may miss a case (then one filter more is subscribed to), but
		// must never claim one that is not.
		if covers(a, b) {
			yes++
			if !all {
				t.Fatalf("covers(%q, %q) but does not match all of it", a, b)
			}
		}
	}
	if yes < 100 {
		t.Fatalf("only %d of the pairs covered: the test says little", yes)
	}
}

func allOf(words []string, levels int) []string {
	var all []string
	last := append([]string{}, words...)
	for range levels {
		all = append(all, last...)
		var next []string
		for _, p := range last {
			for _, w := range words {
				next = append(next, p+"/"+w)
			}
		}
		last = next
	}
	return slices.DeleteFunc(all, func(s string) bool { return s == "" })
}

func TestFewestFilters(t *testing.T) {
	got := fewest([]string{"long-house/bench/t", "low-house/+/t", "low-house/heap/t", "long-house/#",
		"long-house", "low-house/+/t", "$SYS/broker/load"})
	want := []string{"low-house/+/t", "long-house/#", "$SYS/broker/load"}
	if !slices.Equal(got, want) {
		t.Fatalf("got %q, want %q", got, want)
	}
}
