package drift_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"telltale/alarms/drift"
	"telltale/alarms/tape"
)

const worse = 0.3

// weeks are days of a figure that goes up and down by so much around what of gives.
func weeks(seed uint64, days int, noise float64, of func(day int) float64) (all []float64) {
	r := rand.New(rand.NewPCG(seed, 7))
	for day := range days {
		all = append(all, of(day)+noise*r.NormFloat64())
	}
	return all
}

// states are what is found after each day.
func states(all []float64) (c drift.Course, found []drift.State) {
	for _, v := range all {
		c.Day(v, worse)
		found = append(found, c.State)
	}
	return c, found
}

// first is the first day on which a state was found, -1 for never.
func first(found []drift.State, s drift.State) int {
	for day, one := range found {
		if one == s {
			return day
		}
	}
	return -1
}

func step(at int, by float64) func(int) float64 {
	return func(day int) float64 {
		if day < at {
			return 0
		}
		return by
	}
}

// What goes up and down on its own, moves along with the year, gets better, or has a few
// odd days is as usual; what has become another one is apart within a week and lasting
// within two, and is over when it goes back. The first days tell nothing.
func TestStates(t *testing.T) {
	whims := 0
	for seed := range uint64(50) {
		for name, of := range map[string]func(int) float64{
			"steady": step(999, 0), "along with the year": func(day int) float64 { return float64(day) / 200 },
			"better": step(60, -0.6), "a little worse": step(60, 0.15), "settling": func(day int) float64 {
				if day < 7 {
					return -1
				}
				return 0
			},
			"odd days": func(day int) float64 {
				if day%9 < 2 {
					return 0.8
				}
				return 0
			},
		} {
			if _, found := states(weeks(seed, 200, 0.08, of)); first(found, drift.Apart) >= 0 || first(found, drift.Lasting) >= 0 {
				t.Errorf("%s, seed %d: apart on day %d", name, seed, first(found, drift.Apart))
			}
		}
		c, found := states(weeks(seed, 120, 0.08, func(day int) float64 { return step(60, 0.5)(day) - step(80, 0.5)(day) }))
		apart, lasting := first(found, drift.Apart), first(found, drift.Lasting)
		if apart < 62 || apart > 67 || lasting <= apart || lasting > 74 {
			t.Errorf("seed %d: apart on day %d, lasting on day %d", seed, apart, lasting)
		}
		for day, s := range found {
			if day > 86 && s != drift.Usual {
				t.Fatalf("seed %d: on day %d it has not ended", seed, day)
			}
		}
		if math.Abs(c.Now()) > 0.15 || math.Abs(c.Was()) > 0.15 {
			t.Errorf("seed %d: now %.2f, was %.2f, both about 0", seed, c.Now(), c.Was())
		}
		if _, found := states(weeks(seed, 60, 0.3, step(40, 0.35))); first(found, drift.Lasting) >= 0 {
			whims++
		}
	}
	if whims > 2 { // a figure that is as uncertain as the change is not told from it
		t.Errorf("%d of 50 whims were lasting", whims)
	}
}

// What somebody takes as usual is the reference from then on.
func TestAccept(t *testing.T) {
	c, found := states(weeks(1, 60, 0.05, step(40, 0.5)))
	if c.State != drift.Lasting || math.Abs(c.Now()-0.5) > 0.1 || math.Abs(c.Was()) > 0.1 {
		t.Fatalf("%v, now %.2f, was %.2f", found[len(found)-1], c.Now(), c.Was())
	}
	c.Accept()
	all := weeks(2, 80, 0.05, step(40, 0.5))
	for day, v := range all {
		if c.Day(v+0.5, worse); day < 40 && c.State != drift.Usual {
			t.Fatalf("day %d: what was taken is told again", day)
		}
	}
	if c.State != drift.Lasting {
		t.Error("a second change is not told")
	}
}

// What is written is read, and goes on the same; what cannot have been written is not taken.
func TestPass(t *testing.T) {
	all := weeks(3, 70, 0.05, step(40, 0.5))
	var c drift.Course
	for day, v := range all {
		var w tape.Tape
		c.Pass(&w)
		r, back := tape.Read(w.Data), drift.Course{}
		if back.Pass(&r); back != c || r.Bad || len(r.Data) > 0 {
			t.Fatalf("day %d: %+v came back as %+v", day, c, back)
		}
		for i := range 4 { // the last bytes count days
			bad := append([]byte(nil), w.Data...)
			bad[len(bad)-1-i] = 99
			r, back := tape.Read(bad), drift.Course{}
			if back.Pass(&r); !r.Bad {
				t.Fatalf("%x was taken", bad)
			}
		}
		c.Day(v, worse)
	}
	before := c
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e9} {
		if c.Day(v, worse); c != before {
			t.Errorf("%v was taken", v)
		}
	}
	if n := testing.AllocsPerRun(100, func() { c.Day(0.5, worse) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
