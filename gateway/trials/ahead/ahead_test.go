// Package ahead_test holds what package outlook says against 300 days of simulated
// houses in random weather whose fans fail, with a reading every half minute.
package ahead_test

import (
	"flag"
	"runtime"
	"testing"

	"golang.org/x/sync/errgroup"
)

const (
	days = 40 // of a house, learned of them before it is judged
	// Seeds from which the houses are drawn. What is chosen by these tests is chosen on
	// the first; the others are run when it stands.
	chosenOn, keptAside = 1, 101
)

// drawn is how many houses are drawn: ten are 300 days, and take minutes.
var drawn = flag.Int("houses", 2, "how many `houses` are drawn")

// lives lets houses live, and has each looked at in a goroutine of its own.
func lives(t *testing.T, from uint64, look func(house int, l *life)) {
	t.Helper()
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i := range *drawn {
		g.Go(func() error {
			look(i, live(from+uint64(i), days))
			return nil
		})
	}
	if err := g.Wait(); err != nil {
		t.Fatal(err)
	}
}

// Of what was said to come with some likelihood, that share came, and the quantiles lie
// where they say.
func TestLikelihoodsComeTrue(t *testing.T) {
	t.Parallel()
	for name, from := range map[string]uint64{"chosen on": chosenOn, "kept aside": keptAside} {
		t.Run(name, func(t *testing.T) {
			each := make([]judged, *drawn)
			failures := make([]int, *drawn)
			lives(t, from, func(i int, l *life) {
				each[i].judge(i, l)
				failures[i] = l.failures
			})
			var all judged
			sum := 0
			for i := range each {
				all.add(&each[i])
				sum += failures[i]
			}
			t.Logf("%d houses, %d days each of which %d are learned from, fans failed on %d of them", len(each), days, learned, sum)
			if sum == 0 {
				t.Error("no fan has failed")
			}
			all.show(t)
		})
	}
}

// What the outlook warns of beside simple ways to warn.
func TestToldInTime(t *testing.T) {
	t.Parallel()
	for name, from := range map[string]uint64{"chosen on": chosenOn, "kept aside": keptAside} {
		t.Run(name, func(t *testing.T) {
			each := make([]shares, *drawn)
			lives(t, from, func(i int, l *life) {
				each[i] = shares{}
				each[i].take(l)
			})
			all := shares{}
			for _, one := range each {
				all.merge(one)
			}
			all.show(t)
		})
	}
}
