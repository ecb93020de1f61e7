package lookback

import (
	"time"

	"telltale/alarms/report"
	"telltale/alarms/tongue"
	"telltale/gateway/page/words"
)

// zoom is how long a strip is.
type zoom struct {
	Key    string
	Words  tongue.Text
	days   int           // on the calendar; 0: all there is, or less than a day
	part   time.Duration // of a day
	points int           // asked of History; 0: cells of whole days
}

// zooms are the lengths to choose from, shortest first.
var zooms = []zoom{
	{"hour", "an hour", 0, time.Hour, 360}, {"6-hours", "6 hours", 0, 6 * time.Hour, 360},
	aDay, {"3-days", "3 days", 3, 0, 440}, {"week", "a week", 7, 0, 345},
	{"month", "a month", 31, 0, 0}, {"year", "a year", 366, 0, 0}, {"all", "all of it", 0, 0, 0},
}

var aDay = zoom{"day", "a day", 1, 0, 290}

// bounded reports whether z is a part of what there is, and can be moved.
func (z zoom) bounded() bool { return z.days > 0 || z.part > 0 }

// add is t so many lengths of z later, on the calendar of t's zone.
func (z zoom) add(t time.Time, lengths int) time.Time {
	return t.AddDate(0, 0, lengths*z.days).Add(time.Duration(lengths) * z.part)
}

// halfAfter is t half a length of z later.
func (z zoom) halfAfter(t time.Time) time.Time {
	return t.AddDate(0, 0, z.days/2).Add(time.Duration(z.days%2)*12*time.Hour + z.part/2)
}

// inCells reports whether z shows days or longer by lowest, mean and highest.
func (z zoom) inCells() bool { return z.points == 0 }

func zoomOf(key string) zoom {
	for _, z := range zooms {
		if z.Key == key {
			return z
		}
	}
	return aDay
}

// stretchOf is what z shows where it ends at until, and for days the cuts
// between them. Days are those of the calendar.
func stretchOf(w words.Words, z zoom, until, began time.Time) (report.Span, []time.Time) {
	until = until.In(w.Zone)
	from := z.add(until, -1)
	if !z.inCells() {
		return report.Span{From: from, To: until}, nil
	}
	if !z.bounded() {
		from = began
		if from.IsZero() || until.Sub(from) < 7*24*time.Hour {
			from = until.AddDate(0, 0, -7)
		}
	}
	cuts := calendarCuts(w, from, until)
	return report.Span{From: cuts[0], To: cuts[len(cuts)-1]}, cuts
}

const (
	mostDays  = 400     // shown one by one; beyond that whole weeks
	mostWeeks = 7 * 400 // days shown in weeks; beyond that in months
)

// calendarCuts divides from..to, rounded outwards, into days; what is long into weeks
// from Monday, what is very long into months.
func calendarCuts(w words.Words, from, to time.Time) []time.Time {
	day := func(t time.Time) (int, time.Month, int) { return t.In(w.Zone).Date() }
	y, m, d := day(from)
	step, month := 1, false
	switch days := int(to.Sub(from).Hours() / 24); {
	case days > mostWeeks:
		d, month = 1, true
	case days > mostDays:
		step = 7
		d -= int(from.In(w.Zone).Weekday()+6) % 7
	}
	var cuts []time.Time
	for i := 0; ; i++ {
		at := time.Date(y, m, d+i*step, 0, 0, 0, 0, w.Zone)
		if month {
			at = time.Date(y, m+time.Month(i), 1, 0, 0, 0, 0, w.Zone)
		}
		if n := len(cuts); n > 0 && !at.After(cuts[n-1]) { // a midnight that its day does not have
			continue
		}
		cuts = append(cuts, at)
		if len(cuts) > 1 && !at.Before(to) {
			return cuts
		}
	}
}

// stretchWords writes a stretch of time; days says that it is of whole days.
func stretchWords(w words.Words, s report.Span, days bool) string {
	if !days {
		return w.Say("%s to %s", w.Stamp(s.From, "Mon 2 Jan 15:04"), w.Stamp(s.To, "Mon 2 Jan 2006 15:04"))
	}
	last := s.To.Add(-time.Minute)
	if s.From.In(w.Zone).Year() == last.In(w.Zone).Year() {
		return w.Say("%s to %s", w.Stamp(s.From, "2 Jan"), w.Stamp(last, "2 Jan 2006"))
	}
	return w.Say("%s to %s", w.Stamp(s.From, "2 Jan 2006"), w.Stamp(last, "2 Jan 2006"))
}
