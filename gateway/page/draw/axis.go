package draw

import (
	"cmp"
	"math"
	"strings"
	"telltale/alarms/tongue"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/words"
)

// axisUnit names the unit for a title.
func axisUnit(w words.Words, q alarms.Quantity) string {
	if u := strings.TrimPrefix(w.Unit(q), words.NoBreak); u != "" {
		return ", " + u
	}
	return ""
}

// valueAxis returns the range of a value axis and its labels, in the unit
// shown. It covers the values given, in the core's unit.
func valueAxis(w words.Words, q alarms.Quantity, values []float64, parts float64) (v0, v1 float64, marks []float64) {
	if q == alarms.Contact {
		return -0.25, 1.25, []float64{0, 1}
	}
	v0, v1 = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		v0, v1 = min(v0, w.Shown(q, v)), max(v1, w.Shown(q, v))
	}
	if v0 > v1 {
		v0, v1 = 0, 1
	}
	least := cmp.Or(w.ShownDifference(q, 2*q.Facts().Near), 1)
	if v1-v0 < least {
		middle := (v0 + v1) / 2
		v0, v1 = middle-least/2, middle+least/2
	}
	step := roundStep((v1 - v0) / parts)
	v0, v1 = math.Floor(v0/step)*step, math.Ceil(v1/step)*step
	for i := 0; i <= int(math.Round((v1-v0)/step)); i++ {
		marks = append(marks, v0+float64(i)*step)
	}
	return v0, v1, marks
}

// roundStep returns the next of 1, 2 or 5 times a power of ten.
func roundStep(v float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if v <= m*power*(1+1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// digitsFor returns how many digits the labels of an axis need.
func digitsFor(marks []float64) int {
	if len(marks) < 2 {
		return 0
	}
	return max(0, int(math.Ceil(-math.Log10(marks[1]-marks[0])-1e-9)))
}

// timeMark is a line across a strip, with a label or without one.
type timeMark struct {
	at    time.Time
	text  string
	minor bool // there is room for its label on a wide screen alone
}

// timeMarks returns the marks of a time axis. Hours and days are those of the
// clock and the calendar, so that a day of 23 or 25 hours is drawn as long as
// it is.
func timeMarks(w words.Words, from, to time.Time) []timeMark {
	switch days := to.Sub(from).Hours() / 24; {
	case days < 0.1:
		return minuteMarks(w, from, to)
	case days < 0.6:
		return hourMarks(w, from, to, 1, 2)
	case days < 1.5:
		return hourMarks(w, from, to, 3, 6)
	case days < 4:
		return hourMarks(w, from, to, 12, 24)
	case days < 10:
		return dayMarks(w, from, to, func(t time.Time) bool { return true }, func(t time.Time) bool { return t.Day()%2 == 0 }, "Mon 2")
	case days < 60:
		return dayMarks(w, from, to, func(t time.Time) bool { return t.Weekday() == time.Monday },
			func(t time.Time) bool { _, week := t.ISOWeek(); return week%2 == 0 }, "2 Jan")
	case days < 500:
		return dayMarks(w, from, to, func(t time.Time) bool { return t.Day() == 1 },
			func(t time.Time) bool { return t.Month()%3 != 1 }, "Jan")
	default:
		return dayMarks(w, from, to, func(t time.Time) bool { return t.YearDay() == 1 },
			func(t time.Time) bool { return days > 3000 && t.Year()%2 == 1 }, "2006")
	}
}

// hourMarks marks every so many hours; those that are a multiple of main have
// a label on any screen.
func hourMarks(w words.Words, from, to time.Time, every, main int) (out []timeMark) {
	y, m, d := from.In(w.Zone).Date()
	for day := 0; ; day++ {
		for hour := 0; hour < 24; hour += every {
			at := time.Date(y, m, d+day, hour, 0, 0, 0, w.Zone)
			if at.After(to) {
				return out
			}
			if at.Before(from) || at.Hour() != hour { // an hour that this day does not have
				continue
			}
			out = append(out, timeMark{at, hourWord(w, at), hour%main != 0})
		}
	}
}

// minuteMarks marks every ten minutes; half hours have a label on any screen.
func minuteMarks(w words.Words, from, to time.Time) (out []timeMark) {
	at := from.In(w.Zone).Truncate(time.Hour) // before from also where the zone is off by half an hour
	for ; !at.After(to); at = at.Add(10 * time.Minute) {
		if !at.Before(from) {
			out = append(out, timeMark{at, w.Stamp(at, "15:04"), at.Minute()%30 != 0})
		}
	}
	return out
}

func hourWord(w words.Words, t time.Time) string {
	if t.Hour() == 0 {
		return w.Date(t, "Mon 2")
	}
	return w.Stamp(t, "15:04")
}

// dayMarks marks the days that want says.
func dayMarks(w words.Words, from, to time.Time, want, minor func(time.Time) bool, layout tongue.Text) (out []timeMark) {
	y, m, d := from.In(w.Zone).Date()
	for day := 0; ; day++ {
		at := time.Date(y, m, d+day, 0, 0, 0, 0, w.Zone)
		if at.After(to) {
			return out
		}
		if at.Before(from) || !want(at) {
			continue
		}
		text := w.Date(at, layout)
		if layout == "Jan" && at.Month() == time.January {
			text = at.Format("2006")
		}
		out = append(out, timeMark{at, text, minor(at)})
	}
}
