package timing

import "time"

// Instant is a moment of the core's own time (see Clock) as nanoseconds since
// the Unix epoch; 0 means none. It compares and saves exactly and holds no time zone and no monotonic clock.
type Instant int64

// At returns t as an Instant.
func At(t time.Time) Instant {
	if t.IsZero() {
		return 0
	}
	return Instant(t.UnixNano())
}

// UTC returns i by the core's own time, for what only measures time with it. What
// is shown, or lies in a calendar, asks the wall clock.
func (i Instant) UTC() time.Time {
	if i == 0 {
		return time.Time{}
	}
	return time.Unix(0, int64(i)).UTC()
}

// Add returns i and d later.
func (i Instant) Add(d time.Duration) Instant { return i + Instant(d) }

// Since returns the time from a moment to i.
func (i Instant) Since(from Instant) time.Duration { return time.Duration(i - from) }
