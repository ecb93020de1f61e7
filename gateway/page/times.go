package page

import (
	"time"

	"telltale/alarms"
)

// clock writes t as a time of day, with its day where that is not now's.
func (w words) clock(t, now time.Time) string { return w.at(t, now, "15:04") }

// clockSeconds is clock to the second.
func (w words) clockSeconds(t, now time.Time) string { return w.at(t, now, "15:04:05") }

func (w words) at(t, now time.Time, layout string) string {
	return w.manner.text(w.plainAt(t, now, layout))
}

func (w words) plainAt(t, now time.Time, layout string) string {
	if t.IsZero() {
		return "never"
	}
	t, now = t.In(w.zone), now.In(w.zone)
	switch {
	case sameDay(t, now):
		return t.Format(layout)
	case now.Sub(t).Abs() < 6*24*time.Hour:
		return t.Format("Mon " + layout)
	case t.Year() == now.Year():
		return t.Format("2 Jan " + layout)
	default:
		return t.Format("2 Jan 2006 " + layout)
	}
}

func sameDay(a, b time.Time) bool {
	ay, am, ad := a.Date()
	by, bm, bd := b.Date()
	return ay == by && am == bm && ad == bd
}

// age writes how long ago t was, rounded down to what matters at that age, so
// that a page that follows does not flicker.
func age(t, now time.Time) string {
	if t.IsZero() {
		return "never"
	}
	d := now.Sub(t)
	switch {
	case d < 5*time.Second:
		return "just now"
	case d < 90*time.Second:
		d = d.Truncate(5 * time.Second)
	case d < 2*time.Minute:
		return "1 min ago"
	case d < 10*time.Hour:
		d = d.Truncate(time.Minute)
	case d < 48*time.Hour:
		d = d.Truncate(time.Hour)
	default:
		d = d.Truncate(24 * time.Hour)
	}
	return alarms.Span(d) + " ago"
}
