package thermostat

import (
	"cmp"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/localtime"
	"telltale/alarms/timing"
)

// What the clock alone changes of what is wanted of a house's drives: the hours of
// their timers, and the set points of day and night. It goes by the wall clock, in
// the zone of the house.

// turnSlack is how far from the house's turn of day and night a thermostat may
// make its own.
const turnSlack = 30 * time.Minute

// near returns the two times of hours that began last at t by the clocks of zone
// and the next two, in order, zero for none.
func near(hours []alarms.Hours, t time.Time, zone *time.Location) (all [4][2]time.Time) {
	var times [][2]time.Time
	for date := localtime.DateIn(t, zone).AddDate(0, 0, -3); len(times) < 7*len(hours); date = date.AddDate(0, 0, 1) {
		for _, h := range hours {
			end := date
			if h.To <= h.From {
				end = date.AddDate(0, 0, 1)
			}
			times = append(times, [2]time.Time{localtime.Reached(date, h.From, zone), localtime.Reached(end, h.To, zone)})
		}
	}
	times = slices.DeleteFunc(times, func(w [2]time.Time) bool { return !w[0].Before(w[1]) }) // left out by the clocks
	slices.SortFunc(times, func(a, b [2]time.Time) int { return cmp.Or(a[0].Compare(b[0]), a[1].Compare(b[1])) })
	next := slices.IndexFunc(times, func(w [2]time.Time) bool { return w[0].After(t) })
	for i := range all {
		if k := next - 2 + i; next >= 0 && k >= 0 && k < len(times) {
			all[i] = times[k]
		}
	}
	return all
}

// byHours is what d's timer wants at a moment, by the hours of a season.
func (m *Thermostat) byHours(d *alarms.Drive, hours []alarms.Hours, now timing.Instant) control.Want {
	wall, zone := &m.panel.Clock, m.house.Plan().Day.Zone
	w := control.Hours{Slack: max(d.TimerTolerance, 0), Ahead: wall.Ahead}
	t := wall.At(now)
	for i, n := range near(hours, t, zone) {
		w.Near[i] = control.Window{On: wall.Core(n[0]), Off: wall.Core(n[1])}
		switch {
		case n[0].IsZero(), n[0].After(t):
		case n[1].After(t):
			w.On, w.Since = true, w.Near[i].On
		default:
			w.On, w.Since = false, w.Near[i].Off
		}
	}
	return control.Want{Wish: control.ByHours, Hours: w}
}

// hasNights reports whether a thermostat of h has a set point of its own by night.
func hasNights(h *alarms.House) bool {
	return slices.ContainsFunc(h.Controls, func(c alarms.Control) bool {
		return slices.ContainsFunc(c.Stages, func(s alarms.Stage) bool { return s.SetPointNight.Set })
	})
}

// NextTurn returns the next moment after t at which a timer of h is to switch, or
// at which the set points of day and night begin or end to hold.
func NextTurn(h *alarms.House, days *alarms.Days, t time.Time) (next time.Time) {
	if hasNights(h) {
		for _, by := range [...]time.Duration{-turnSlack, turnSlack} {
			if change, ok := days.NextChange(t.Add(by)); ok && (next.IsZero() || change.Add(-by).Before(next)) {
				next = change.Add(-by)
			}
		}
	}
	for i := range h.Drives {
		for _, r := range h.Drives[i].Runs {
			if len(r.Hours) == 0 {
				continue
			}
			for _, n := range near(r.Hours, t, h.Day.Zone) {
				for _, edge := range n {
					if edge.After(t) && (next.IsZero() || edge.Before(next)) {
						next = edge
					}
				}
			}
		}
	}
	return next
}
