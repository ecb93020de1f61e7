package scenario_test

import (
	"math/rand/v2"
	"os"
	"sync"
	"testing"

	"telltale/alarms"
)

// thorough asks for the whole of it, which takes minutes: a restart between all
// steps.
var thorough = os.Getenv("TELLTALE_THOROUGH") != ""

// some is n where the tests are thorough, else a third of it.
func some(n int) int {
	if thorough {
		return n
	}
	return (n + 2) / 3
}

// eachSchedule calls f with the seeds of some of n schedules, several at the same
// time. What f counts in seen is summed up for the caller.
func eachSchedule[K comparable](t *testing.T, n int, f func(t *testing.T, seed uint64, seen map[K]int)) map[K]int {
	const lanes = 4
	sum, guard := map[K]int{}, sync.Mutex{}
	t.Run("schedules", func(t *testing.T) {
		for lane := range uint64(lanes) {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				seen := map[K]int{}
				for seed := *first + lane; seed < *first+uint64(some(n)); seed += lanes {
					f(t, seed, seen)
				}
				guard.Lock()
				defer guard.Unlock()
				for k, v := range seen {
					sum[k] += v
				}
			})
		}
	})
	return sum
}

// rebirths says before which inputs the engine is to be replaced by its own
// snapshot: before and after whatever no probe sent and is no tick, and before one in
// sixteen of the others, of many inputs about forty, which depend on seed alone. If the
// tests are thorough it is before all of them, of days of readings a few hundred.
func rebirths(inputs []alarms.Input, seed uint64) []bool {
	rnd := rand.New(rand.NewPCG(seed, 7))
	at := make([]bool, len(inputs))
	one := max(16, len(inputs)/40) // in so many
	if thorough {
		one = max(1, len(inputs)/250)
	}
	for i, in := range inputs {
		plain := in.Kind == alarms.ReadingIn || in.Kind == alarms.GarbledIn || in.Kind == alarms.Tick
		if !plain || rnd.IntN(one) == 0 {
			at[i] = true
		}
		if !plain && i+1 < len(inputs) {
			at[i+1] = true
		}
	}
	return at
}
