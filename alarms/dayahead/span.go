package dayahead

import (
	"time"

	"telltale/alarms/localtime"
	"telltale/alarms/sun"
)

// span is a day, from sunrise to sunset, or a night, by the core's time in Unix s.
type span struct {
	Night        bool
	Since, Until int64
}

const (
	shortest = 4 * time.Hour // between two of sunrise and sunset, for the sun to make the day
	longest  = 20 * time.Hour
	morning  = 7 * time.Hour // of the clock, where the sun does not
	evening  = 19 * time.Hour
)

// spanAt is the span at a time of the wall clock, which is off s ahead of the core.
func (c *Course) spanAt(wall time.Time, off int64) span {
	from, to, night := c.bySun(wall)
	if from.IsZero() {
		from, to, night = c.byClock(wall)
	}
	return span{Night: night, Since: from.Unix() - off, Until: to.Unix() - off}
}

// bySun is the day or the night around a moment; from is zero where the sun does
// not rise and set, hardly sets or hardly rises, or where nobody said where it is.
func (c *Course) bySun(wall time.Time) (from, to time.Time, night bool) {
	if c.latitude == 0 && c.longitude == 0 {
		return from, to, false
	}
	at := wall.Add(-longest)
	for {
		next, ok := sun.NextChange(c.latitude, c.longitude, at)
		if !ok || next.Sub(wall) > longest {
			return time.Time{}, to, false
		}
		if next.After(wall) {
			if length := next.Sub(from); from.IsZero() || length < shortest || length > longest {
				return time.Time{}, to, false
			}
			return from, next, !sun.IsDay(c.latitude, c.longitude, wall)
		}
		at, from = next, next
	}
}

// byClock is the day from seven to seven, or the night.
func (c *Course) byClock(wall time.Time) (from, to time.Time, night bool) {
	date := localtime.DateIn(wall, c.zone).AddDate(0, 0, -1)
	for {
		up, down := localtime.Reached(date, morning, c.zone), localtime.Reached(date, evening, c.zone)
		switch {
		case up.After(wall):
			return from, up, true
		case down.After(wall):
			return up, down, false
		}
		from, date = down, date.AddDate(0, 0, 1)
	}
}
