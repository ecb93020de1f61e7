//go:build !race

package scenario_test

// restoreEvery is between how many steps a run is snapshot and restored.
const restoreEvery = 1
