//go:build race

package scenario_test

// restoreEvery is between how many steps a run is snapshot and restored. With
// the race detector, which is slow and has nothing to find in a core without
// goroutines, not between all of them.
const restoreEvery = 9
