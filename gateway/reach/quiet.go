package reach

import "time"

// Set reports whether there are quiet hours at all.
func (q Quiet) Set() bool { return q.From != q.To }

// End returns when the quiet hours around at end, or at itself when it lies
// outside them. Hours are clock time in q.Zone (UTC when nil) and follow
// summer time: 06:30 is what the clock on the wall shows.
func (q Quiet) End(at time.Time) time.Time {
	if !q.Set() {
		return at
	}
	zone := q.Zone
	if zone == nil {
		zone = time.UTC
	}
	local := at.In(zone)
	for offset := -1; offset <= 1; offset++ { // the night that began yesterday, today, tomorrow
		from := clock(local, offset, q.From, zone)
		to := clock(local, offset, q.To, zone)
		if q.To < q.From {
			to = clock(local, offset+1, q.To, zone)
		}
		if !at.Before(from) && at.Before(to) {
			return to
		}
	}
	return at
}

// clock returns the time at which the wall clock shows after, days away from t.
func clock(t time.Time, days int, after time.Duration, zone *time.Location) time.Time {
	h, m, s := int(after/time.Hour), int(after/time.Minute)%60, int(after/time.Second)%60
	return time.Date(t.Year(), t.Month(), t.Day()+days, h, m, s, 0, zone)
}
