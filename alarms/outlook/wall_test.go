package outlook_test

import (
	"math"
	"testing"
	"time"

	"telltale/alarms/outlook"
)

// The times given may lie anywhere: with the wall clock that much ahead of them,
// the same is said.
func TestOnlyTheSunGoesByTheWallClock(t *testing.T) {
	const apart = 9*365*24*time.Hour + 7*time.Hour
	plain, other := outlook.New(52, -2), outlook.New(52, -2)
	other.Wall(apart)
	deaf := outlook.New(52, -2) // to the wall clock
	said, unlike := 0, 0
	for _, r := range summer(6, 5*time.Minute, 6) {
		plain.Reading(r.at, r.v)
		other.Reading(r.at.Add(-apart), r.v)
		deaf.Reading(r.at.Add(-apart), r.v)
		a, b := plain.Look(r.at), other.Look(r.at.Add(-apart))
		if a != b {
			t.Fatalf("%v: %+v, with the wall clock apart %+v", r.at, a, b)
		}
		if a.Lacks == outlook.Nothing {
			said++
			unlike += min(1, int(1000*math.Abs(a.Sides[0][3].Quantiles[6]-deaf.Look(r.at.Add(-apart)).Sides[0][3].Quantiles[6])))
		}
	}
	if said < 1000 || unlike < said/2 {
		t.Errorf("of %d looks the sun mattered in %d", said, unlike)
	}
}

// However the wall clock is set, nothing is lacking, nothing is no number, and once
// it is right again what is said is as near to what comes as if it had been right
// always.
func TestTheWallClockIsSet(t *testing.T) {
	const years = 250 * 365 * 24 * time.Hour
	type set struct {
		after, ahead time.Duration
	}
	for name, sets := range map[string][]set{
		"back an hour":       {{100 * time.Hour, -time.Hour}, {148 * time.Hour, 0}},
		"forward an hour":    {{100 * time.Hour, time.Hour}, {110 * time.Hour, 0}},
		"twice a year, soon": {{90 * time.Hour, time.Hour}, {130 * time.Hour, 0}, {140 * time.Hour, -time.Hour}, {150 * time.Hour, 0}},
		"forward years":      {{100 * time.Hour, years}, {101 * time.Hour, 0}},
		"years and a night":  {{100 * time.Hour, years/3 + 12*time.Hour}, {124 * time.Hour, 0}},
		"to the first day":   {{100 * time.Hour, -56 * 365 * 24 * time.Hour}, {112 * time.Hour, 0}},
	} {
		t.Run(name, func(t *testing.T) {
			wallClockIsSet(t, func(gone time.Duration) (ahead time.Duration) {
				for _, s := range sets {
					if gone >= s.after {
						ahead = s.ahead
					}
				}
				return ahead
			})
		})
	}
}

func wallClockIsSet(t *testing.T, ahead func(gone time.Duration) time.Duration) {
	all := summer(20, 5*time.Minute, 7)
	right, set := outlook.New(52, -2), outlook.New(52, -2)
	var offRight, offSet float64
	for i, r := range all[:len(all)-12] {
		gone := r.at.Sub(begin)
		set.Wall(ahead(gone))
		right.Reading(r.at, r.v)
		set.Reading(r.at, r.v)
		a, b := right.Look(r.at), set.Look(r.at)
		if a.Lacks != b.Lacks {
			t.Fatalf("%v: it lacks %v, else %v", r.at, b.Lacks, a.Lacks)
		}
		for _, side := range b.Sides {
			for _, q := range side[3].Quantiles {
				if math.IsNaN(q) || math.Abs(q-r.v) > 40 {
					t.Fatalf("%v: at %.1f °C it says %+v", r.at, r.v, b)
				}
			}
		}
		if gone < 10*24*time.Hour {
			continue
		}
		top := r.v
		for _, next := range all[i+1 : i+13] {
			top = max(top, next.v)
		}
		offRight += math.Abs(top - a.Sides[0][2].Quantiles[3])
		offSet += math.Abs(top - b.Sides[0][2].Quantiles[3])
	}
	t.Logf("mean error of the hour ahead after it: %.3f times that with the clock right", offSet/offRight)
	if !(offSet < 1.1*offRight) {
		t.Errorf("mean error of the hour ahead %.3f times that with the clock right", offSet/offRight)
	}
	if saved := set.Save(); len(saved) > 2050 {
		t.Errorf("saved in %d bytes", len(saved))
	}
}
