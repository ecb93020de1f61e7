package alarms

import "time"

// Clocks are put forward and back, by an hour or less, at any time of night and
// of day, and zones change to another date. So a clock time of a date may not
// exist, or exist twice. Here it has come as soon as the clocks of the zone
// show it or a later one, and it has passed for good: what begins at half past
// two begins at three on the morning on which that hour is left out, and at the
// first of the two half past two where it comes twice.

// farthestOffset is more than any zone was ever off from UTC.
const farthestOffset = 16 * time.Hour

// reached returns the first moment at which the clocks of zone show the time
// clock after the midnight that begins the date of day, or a later one. Only
// the date of day, in UTC, counts.
func reached(day time.Time, clock time.Duration, zone *time.Location) time.Time {
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

// dateIn returns the date that the clocks of zone show at t, as reached takes it.
func dateIn(t time.Time, zone *time.Location) time.Time {
	y, m, d := t.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// midnightIn returns the first moment after t at which a date of zone begins.
func midnightIn(t time.Time, zone *time.Location) time.Time {
	for day := dateIn(t, zone).AddDate(0, 0, -1); ; day = day.AddDate(0, 0, 1) {
		if next := reached(day, 0, zone); next.After(t) {
			return next
		}
	}
}

// fixedAt returns whether it is day at t by fixed hours, and when that changes
// next; ok is false where it never does.
func (d *DayRule) fixedAt(t time.Time) (part Daypart, next time.Time, ok bool) {
	part = Night
	if d.Start == d.End {
		return part, time.Time{}, false
	}
	for date := dateIn(t, d.Zone).AddDate(0, 0, -2); ; date = date.AddDate(0, 0, 1) {
		end := date
		if d.End < d.Start {
			end = date.AddDate(0, 0, 1)
		}
		from, to := reached(date, d.Start, d.Zone), reached(end, d.End, d.Zone)
		switch {
		case !from.Before(to), !to.After(t): // left out by the clocks, or over
		case from.After(t):
			return Night, from, true
		default:
			return Day, to, true
		}
	}
}
