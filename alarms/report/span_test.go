package report_test

import (
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
)

// Central European Time goes on by an hour on the last Sunday of March and back
// on the last Sunday of October: those days have 23 and 25 hours, their weeks
// 167 and 169.
func TestDaysOfCentralEurope(t *testing.T) {
	cet, err := time.LoadLocation("CET")
	if err != nil {
		t.Skipf("no time zones here: %v", err)
	}
	for _, c := range []struct {
		day        time.Time
		long, week time.Duration
	}{
		{time.Date(2026, 3, 28, 12, 0, 0, 0, cet), 24 * time.Hour, 167 * time.Hour},
		{time.Date(2026, 3, 29, 12, 0, 0, 0, cet), 23 * time.Hour, 167 * time.Hour},
		{time.Date(2026, 10, 25, 0, 30, 0, 0, cet), 25 * time.Hour, 169 * time.Hour},
		{time.Date(2026, 10, 26, 0, 0, 0, 0, cet), 24 * time.Hour, 168 * time.Hour},
	} {
		d, w := report.Day(c.day, cet), report.Week(c.day, cet)
		if d.Len() != c.long || w.Len() != c.week {
			t.Errorf("%v: day %v, week %v; want %v, %v", c.day, d.Len(), w.Len(), c.long, c.week)
		}
		if got := len(report.Days(w, cet)); got != 7 {
			t.Errorf("%v: its week has %d days", c.day, got)
		}
		if got := len(report.Hours(d)); time.Duration(got)*time.Hour != c.long {
			t.Errorf("%v: %d hours", c.day, got)
		}
	}
}

// ISO 8601: a week begins on a Monday and belongs to the year of its Thursday.
// The standard library's ISOWeek is the judge; 1 January 2027, a Friday, is in
// week 53 of 2026.
func TestWeeksAreThoseOfISO(t *testing.T) {
	for d := time.Date(2015, 1, 1, 15, 0, 0, 0, time.UTC); d.Year() < 2036; d = d.AddDate(0, 0, 1) {
		w := report.Week(d, time.UTC)
		y, n := d.ISOWeek()
		y0, n0 := w.From.ISOWeek()
		y1, n1 := w.To.Add(-1).ISOWeek()
		yAfter, nAfter := w.To.ISOWeek()
		if w.From.Weekday() != time.Monday || y0 != y || n0 != n || y1 != y || n1 != n || yAfter == y && nAfter == n || w.Len() != 7*24*time.Hour {
			t.Fatalf("%v: week %v to %v", d, w.From, w.To)
		}
	}
	if y, n := report.Week(time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC), time.UTC).From.ISOWeek(); y != 2026 || n != 53 {
		t.Errorf("1 January 2027 is in week %d of %d", n, y)
	}
}

func TestSeasonAt(t *testing.T) {
	all := []alarms.SeasonFrom{{Season: alarms.SeasonOpen}, {From: at(100), Season: alarms.SeasonChanging}, {From: at(200), Season: alarms.SeasonWinter}}
	for _, c := range []struct {
		at, from, to float64
		want         alarms.Season
	}{{50, 0, 100, alarms.SeasonOpen}, {100, 100, 200, alarms.SeasonChanging}, {250, 200, 300, alarms.SeasonWinter}} {
		s, name := report.SeasonAt(all, at(0), at(300), at(c.at))
		if s != span(c.from, c.to) || name != c.want {
			t.Errorf("at hour %v: %v of %v; want %v of %v", c.at, name, s, c.want, span(c.from, c.to))
		}
	}
}
