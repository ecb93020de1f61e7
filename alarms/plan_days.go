package alarms

import (
	"time"

	"telltale/alarms/localtime"
	"telltale/alarms/sun"
)

// Days is when it is day, and when night.
type Days struct {
	DayRule
	latitude, longitude float64
}

// DaysOf are the days and nights of h.
func (h *House) DaysOf() Days {
	d := Days{h.Day, h.Latitude, h.Longitude}
	if d.Fixed {
		d.latitude, d.longitude = 0, 0
	}
	return d
}

// LastTurn returns when the daypart changed last before t, and from what, if
// that is not longer ago than within.
func (d *Days) LastTurn(t time.Time, within time.Duration) (turned time.Time, before Daypart, ok bool) {
	from := t.Add(-within)
	for part := d.PartAt(from); ; {
		next, more := d.NextChange(from)
		if !more || next.After(t) {
			return turned, before, ok
		}
		if now := d.PartAt(next); now != part {
			turned, before, ok, part = next, part, true, now
		}
		from = next
	}
}

// PartAt returns day from sunrise to sunset, or between the fixed hours.
func (d *Days) PartAt(now time.Time) Daypart {
	if d.Fixed {
		part, _, _ := d.fixedAt(now)
		return part
	}
	if sun.IsDay(d.latitude, d.longitude, now) {
		return Day
	}
	return Night
}

// NextChange returns the next moment at which the daypart may change.
func (d *Days) NextChange(now time.Time) (time.Time, bool) {
	if d.Fixed {
		_, next, ok := d.fixedAt(now)
		return next, ok
	}
	return sun.NextChange(d.latitude, d.longitude, now)
}

// fixedAt returns whether it is day at t by fixed hours, and when that changes
// next; ok is false where it never does.
func (d *DayRule) fixedAt(t time.Time) (part Daypart, next time.Time, ok bool) {
	part = Night
	if d.Start == d.End {
		return part, time.Time{}, false
	}
	for date := localtime.DateIn(t, d.Zone).AddDate(0, 0, -2); ; date = date.AddDate(0, 0, 1) {
		end := date
		if d.End < d.Start {
			end = date.AddDate(0, 0, 1)
		}
		from, to := localtime.Reached(date, d.Start, d.Zone), localtime.Reached(end, d.End, d.Zone)
		switch {
		case !from.Before(to), !to.After(t): // left out by the clocks, or over
		case from.After(t):
			return Night, from, true
		default:
			return Day, to, true
		}
	}
}
