// Package localtime finds the moments at which the clocks of a zone show a time.
//
// Clocks are put forward and back, by an hour or less, at any time of night and
// of day, and zones change to another date. So a clock time of a date may not
// exist, or exist twice. Here it has come as soon as the clocks of the zone
// show it or a later one, and it has passed for good: what begins at half past
// two begins at three on the morning on which that hour is left out, and at the
// first of the two half past two where it comes twice.
package localtime

import "time"

// farthestOffset is more than any zone was ever off from UTC.
const farthestOffset = 16 * time.Hour

// Reached returns the first moment at which the clocks of zone show the time
// clock after the midnight that begins the date of day, or a later one. Only
// the date of day, in UTC, counts.
func Reached(day time.Time, clock time.Duration, zone *time.Location) time.Time {
	y, m, d := day.Date()
	wanted := time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Add(clock) // as if the clocks showed UTC
	for t := wanted.Add(-farthestOffset); ; {
		local := t.In(zone)
		_, offset := local.Zone()
		_, end := local.ZoneBounds()
		first := wanted.Add(time.Duration(-offset) * time.Second)
		if first.Before(t) {
			first = t
		}
		if end.IsZero() || first.Before(end) {
			return first.UTC()
		}
		t = end
	}
}

// DateIn returns the date that the clocks of zone show at t, as Reached takes it.
func DateIn(t time.Time, zone *time.Location) time.Time {
	y, m, d := t.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// MidnightIn returns the first moment after t at which a date of zone begins.
func MidnightIn(t time.Time, zone *time.Location) time.Time {
	for day := DateIn(t, zone).AddDate(0, 0, -1); ; day = day.AddDate(0, 0, 1) {
		if next := Reached(day, 0, zone); next.After(t) {
			return next
		}
	}
}
