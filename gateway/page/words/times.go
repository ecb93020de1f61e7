package words

import (
	"time"

	"telltale/alarms/tongue"
)

// Clock writes t as a time of day, with its day where that is not now's.
func (w Words) Clock(t, now time.Time) string { return w.at(t, now, "15:04") }

// ClockSeconds is Clock to the second.
func (w Words) ClockSeconds(t, now time.Time) string { return w.at(t, now, "15:04:05") }

func (w Words) at(t, now time.Time, layout string) string {
	return w.Text(w.plainAt(t, now, layout))
}

func (w Words) plainAt(t, now time.Time, layout string) string {
	if t.IsZero() {
		return w.Say("never")
	}
	t, now = t.In(w.Zone), now.In(w.Zone)
	switch {
	case SameDay(t, now):
		return t.Format(layout)
	case now.Sub(t).Abs() < 6*24*time.Hour:
		return w.Date(t, "Mon") + " " + t.Format(layout)
	case t.Year() == now.Year():
		return w.Date(t, "2 Jan") + " " + t.Format(layout)
	default:
		return w.Date(t, "2 Jan 2006") + " " + t.Format(layout)
	}
}

// Date writes t by a layout of package time, with the names of days and months as the
// visitor's language has them.
func (w Words) Date(t time.Time, layout tongue.Text) string { return w.Tongue.Date(layout, t) }

// SameDay reports whether two times, each by its own zone, are of one date.
func SameDay(a, b time.Time) bool {
	ay, am, ad := a.Date()
	by, bm, bd := b.Date()
	return ay == by && am == bm && ad == bd
}

// Age writes how long ago t was, rounded down to what matters at that age, so
// that a page that follows does not flicker.
func (w Words) Age(t, now time.Time) string {
	if t.IsZero() {
		return w.Say("never")
	}
	d := now.Sub(t)
	switch {
	case d < 5*time.Second:
		return w.Say("just now")
	case d < 90*time.Second:
		d = d.Truncate(5 * time.Second)
	case d < 2*time.Minute:
		return w.Say("%s ago", "1 min")
	case d < 10*time.Hour:
		d = d.Truncate(time.Minute)
	case d < 48*time.Hour:
		d = d.Truncate(time.Hour)
	default:
		return w.Say("%d days ago", int(d.Hours()/24))
	}
	return w.Say("%s ago", w.Core.Span(d))
}

// Stamp writes t in the garden's zone and the visitor's locale.
func (w Words) Stamp(t time.Time, layout tongue.Text) string {
	return w.Text(w.Date(t.In(w.Zone), layout))
}

// Ago is a moment, written both ways: its age while the page is live, its
// clock time while it is not.
type Ago struct{ Age, Clock string }

// Ago is t as seen from now.
func (w Words) Ago(t, now time.Time) Ago {
	return Ago{Age: w.Age(t, now), Clock: w.ClockSeconds(t, now)}
}
