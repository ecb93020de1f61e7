package page

import (
	"strconv"
	"time"
)

// clock writes t as a time of day, with its day where that is not now's.
func (w words) clock(t, now time.Time) string { return w.at(t, now, "15:04") }

// clockSeconds is clock to the second.
func (w words) clockSeconds(t, now time.Time) string { return w.at(t, now, "15:04:05") }

func (w words) at(t, now time.Time, layout string) string {
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

// age writes how long ago t was.
func age(t, now time.Time) string {
	if t.IsZero() {
		return "never"
	}
	d := now.Sub(t)
	if d < 5*time.Second {
		return "just now"
	}
	return span(d) + " ago"
}

// span writes a duration in the one or two units that matter.
func span(d time.Duration) string {
	switch {
	case d < time.Minute:
		return strconv.Itoa(int(d/(5*time.Second))*5) + " s"
	case d < time.Hour:
		return strconv.Itoa(int(d/time.Minute)) + " min"
	case d < 10*time.Hour:
		return twoUnits(int(d/time.Hour), " h", int(d%time.Hour/time.Minute), " min")
	case d < 48*time.Hour:
		return strconv.Itoa(int(d/time.Hour)) + " h"
	default:
		return strconv.Itoa(int(d/(24*time.Hour))) + " days"
	}
}

// interval writes a probe's interval, which may be shorter than span can say.
func interval(d time.Duration) string {
	switch {
	case d < time.Second:
		return "less than 1 s"
	case d < 2*time.Minute:
		return strconv.Itoa(int(d.Round(time.Second)/time.Second)) + " s"
	default:
		return span(d.Round(time.Minute))
	}
}

func twoUnits(a int, au string, b int, bu string) string {
	if b == 0 {
		return strconv.Itoa(a) + au
	}
	return strconv.Itoa(a) + au + " " + strconv.Itoa(b) + bu
}
