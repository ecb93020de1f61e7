package alarms

import (
	"cmp"
	"slices"
	"time"

	"telltale/alarms/control"
)

// What the clock alone changes of what is wanted of a house's drives: the hours of
// their timers, and the set points of day and night. It goes by the wall clock, in
// the zone of the house.

// turnSlack is how far from the house's turn of day and night a thermostat may
// make its own.
const turnSlack = 30 * time.Minute

// about reports whether it is day, and whether it is night, at a moment or so
// shortly before or after it that a thermostat may hold it for that.
func (h *house) about(now instant) (day, night bool) {
	t := h.wall.at(now)
	for _, by := range [...]time.Duration{-turnSlack, 0, turnSlack} {
		part := h.calendar.partAt(t.Add(by))
		day, night = day || part == Day, night || part == Night
	}
	return day, night
}

// hasNights reports whether a thermostat of h has a set point of its own by night.
func (h *house) hasNights() bool {
	return slices.ContainsFunc(h.plan.Controls, func(c Control) bool {
		return slices.ContainsFunc(c.Stages, func(s Stage) bool { return s.SetPointNight.Set })
	})
}

// near returns the two times of hours that began last at t by the clocks of zone
// and the next two, in order, zero for none.
func near(hours []Hours, t time.Time, zone *time.Location) (all [4][2]time.Time) {
	var times [][2]time.Time
	for date := dateIn(t, zone).AddDate(0, 0, -3); len(times) < 7*len(hours); date = date.AddDate(0, 0, 1) {
		for _, h := range hours {
			end := date
			if h.To <= h.From {
				end = date.AddDate(0, 0, 1)
			}
			times = append(times, [2]time.Time{reached(date, h.From, zone), reached(end, h.To, zone)})
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
func (m *mechanism) byHours(d *Drive, hours []Hours, now instant) control.Want {
	wall, zone := m.house.wall, m.house.plan.Day.Zone
	w := control.Hours{Slack: max(d.TimerTolerance, 0), Ahead: wall.Ahead}
	t := wall.at(now)
	for i, n := range near(hours, t, zone) {
		w.Near[i] = control.Window{On: control.Moment(wall.core(n[0])), Off: control.Moment(wall.core(n[1]))}
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

// turnOf returns the next moment after t at which a timer of h is to switch, or
// at which the set points of day and night begin or end to hold.
func (h *house) turnOf(t time.Time) (next time.Time) {
	if h.hasNights() {
		for _, by := range [...]time.Duration{-turnSlack, turnSlack} {
			if change, ok := h.calendar.nextChange(t.Add(by)); ok && (next.IsZero() || change.Add(-by).Before(next)) {
				next = change.Add(-by)
			}
		}
	}
	for i := range h.plan.Drives {
		for _, r := range h.plan.Drives[i].Runs {
			if len(r.Hours) == 0 {
				continue
			}
			for _, n := range near(r.Hours, t, h.plan.Day.Zone) {
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

// turnDrives tells the judges of h that something else is wanted by the clock.
func (e *Engine) turnDrives(h *house, due instant) {
	if from := e.leap(due, h, e.asleep); from != due {
		e.awaitTurn(h, from)
		return
	}
	e.arrange(h, due)
}

// awaitTurn sets the deadline of the next such moment after now.
func (e *Engine) awaitTurn(h *house, now instant) {
	e.timers.set(h.turn, e.core(h.turnOf(e.wall(now))))
}
