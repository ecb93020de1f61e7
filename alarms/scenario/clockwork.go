package scenario

import (
	"fmt"
	"strings"
	"time"
)

// clockwork turns clock times into moments and back. Times on a line belong
// to the day last set unless they name another.
type clockwork struct {
	zone *time.Location
	day  string // 2026-06-21, empty before the first "on"
	last time.Time
}

const (
	dayForm   = "2006-01-02"
	clockForm = "15:04:05.999999999"

	firstYear, lastYear = 1700, 2200 // the core counts in nanoseconds since 1970
)

// moment takes a time: 12:00, 12:00:30.5, with an offset 12:00+02:00, with a
// day before it 2026-06-21 12:00.
func (c *cursor) moment(w clockwork, what string) time.Time {
	got := c.got()
	s := c.name("a time for " + what)
	day := w.day
	if _, err := time.Parse(dayForm, s); err == nil {
		day = s
		got = c.got()
		s = c.name("a time of day after the date")
	}
	if c.err == nil && day == "" {
		c.fail(`want a line "on 2026-06-21" before the first time`)
	}
	if c.err != nil {
		return time.Time{}
	}
	t, err := readMoment(day, s, w.zone)
	if err != nil {
		c.fail("want a time such as 14:30 or 14:30:15 for %s, got %s", what, got)
	}
	if y := t.Year(); c.err == nil && (y < firstYear || y > lastYear) {
		c.fail("want a year from %d to %d for %s, got %d", firstYear, lastYear, what, y)
	}
	return t
}

func readMoment(day, clock string, zone *time.Location) (time.Time, error) {
	if strings.Count(clock, ":") == 1 || strings.IndexAny(clock, "+-") == len("15:04") {
		if len(clock) < len("15:04") {
			return time.Time{}, fmt.Errorf("got %q", clock)
		}
		clock = clock[:len("15:04")] + ":00" + clock[len("15:04"):]
	}
	if strings.ContainsAny(clock, "+-") {
		t, err := time.Parse(dayForm+" 15:04:05-07:00", day+" "+clock)
		return t.In(zone), err
	}
	return time.ParseInLocation(dayForm+" 15:04:05", day+" "+clock, zone)
}

// write is moment backwards: as short as can be on the day of w.
func (w clockwork) write(t time.Time) string {
	t = t.In(w.zone)
	clock := t.Format(clockForm)
	if strings.HasSuffix(clock, ":00") && len(clock) == len("15:04:05") {
		clock = clock[:len("15:04")]
	}
	day := t.Format(dayForm)
	if back, err := readMoment(day, clock, w.zone); err != nil || !back.Equal(t) {
		clock += t.Format("-07:00")
	}
	if day == w.day {
		return clock
	}
	return day + " " + clock
}

// writable reports whether t can be written: the form holds four digits of a
// year and an offset in whole minutes.
func (w clockwork) writable(t time.Time) bool {
	_, offset := t.In(w.zone).Zone()
	year := t.In(w.zone).Year()
	return year >= 0 && year <= 9999 && offset%60 == 0
}
