package alarms

import "time"

// instant is a moment of the core's own time (see wallClock) as nanoseconds since
// the Unix epoch; 0 means none. It compares and saves exactly and holds no time zone and no monotonic clock.
type instant int64

func at(t time.Time) instant {
	if t.IsZero() {
		return 0
	}
	return instant(t.UnixNano())
}

// utc returns i by the core's own time, for what only measures time with it. What
// is shown, or lies in a calendar, asks the wall clock.
func (i instant) utc() time.Time {
	if i == 0 {
		return time.Time{}
	}
	return time.Unix(0, int64(i)).UTC()
}

func (i instant) add(d time.Duration) instant      { return i + instant(d) }
func (i instant) since(from instant) time.Duration { return time.Duration(i - from) }
