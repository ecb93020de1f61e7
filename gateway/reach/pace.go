package reach

import (
	"time"

	"telltale/alarms"
)

// Retry pauses are real time. They double from firstPause up to a longest
// pause, and each is shortened by up to half at random, so that many rows do
// not knock on a server in step.
const (
	firstPause   = 5 * time.Second
	urgentPause  = 5 * time.Minute  // longest for high priority
	patientPause = 15 * time.Minute // longest for the others
	orderedPause = time.Minute      // longest on an ordered channel
)

// longestPause returns the longest pause between two tries.
func longestPause(p alarms.Priority) time.Duration {
	if p >= alarms.High {
		return urgentPause
	}
	return patientPause
}

// What is denied is not tried at short pauses at all, and where nothing was ever
// delivered to an address, mostDenied times at most: it is most likely wrong.
const (
	settled    = 100 // tries after which every pause is the longest
	mostDenied = 6
)

// giveUpAfter returns for how long a row is tried, counted from its first try:
// high priority 24 h, medium 12 h, low 6 h. After that the news is so old that
// it would mislead; the page and the log still have it.
func giveUpAfter(p alarms.Priority) time.Duration {
	switch {
	case p >= alarms.High:
		return 24 * time.Hour
	case p == alarms.Medium:
		return 12 * time.Hour
	}
	return 6 * time.Hour
}

// triedFor is how long e is tried.
func (e Event) triedFor() time.Duration {
	if e.Letter {
		return letterTried
	}
	return giveUpAfter(e.Priority)
}

// pause returns how long to wait after the given count of failed tries, with
// random in [0, 1).
func pause(tries int, longest time.Duration, random float64) time.Duration {
	p := firstPause
	for i := 1; i < tries && p < longest; i++ {
		p *= 2
	}
	p = min(p, longest)
	return p - time.Duration(random*float64(p)/2)
}
