package report

import (
	"slices"
	"time"
)

// Span is a stretch of time, From <= t < To.
type Span struct{ From, To time.Time }

// Len is how long s is.
func (s Span) Len() time.Duration { return max(s.To.Sub(s.From), 0) }

// Within returns the part of s that lies in whole.
func (s Span) Within(whole Span) Span {
	if s.From.Before(whole.From) {
		s.From = whole.From
	}
	if s.To.After(whole.To) {
		s.To = whole.To
	}
	return s
}

// has reports whether t lies in s.
func (s Span) has(t time.Time) bool { return !t.Before(s.From) && t.Before(s.To) }

// Joined are the parts of all that lie in whole, oldest first; those that touch are one.
func Joined(all []Span, whole Span) (out []Span) {
	all = slices.SortedFunc(slices.Values(all), func(a, b Span) int { return a.From.Compare(b.From) })
	for _, s := range all {
		s = s.Within(whole)
		n := len(out)
		switch {
		case !s.From.Before(s.To):
		case n == 0 || s.From.After(out[n-1].To):
			out = append(out, s)
		case s.To.After(out[n-1].To):
			out[n-1].To = s.To
		}
	}
	return out
}

// Without are the parts of s that lie in none of out, oldest first.
func (s Span) Without(out []Span) (left []Span) {
	from := s.From
	for _, o := range Joined(out, s) {
		if o.From.After(from) {
			left = append(left, Span{from, o.From})
		}
		from = o.To
	}
	if from.Before(s.To) {
		left = append(left, Span{from, s.To})
	}
	return left
}

// Day is the day on the calendar of zone that t lies in. It has 23, 24 or 25
// hours.
func Day(t time.Time, zone *time.Location) Span {
	y, m, d := t.In(zone).Date()
	return Span{midnight(y, m, d, zone), midnight(y, m, d+1, zone)}
}

// Week is the week of ISO 8601 that t lies in: it begins on a Monday.
func Week(t time.Time, zone *time.Location) Span {
	t = t.In(zone)
	y, m, d := t.Date()
	d -= (int(t.Weekday()) + 6) % 7
	return Span{midnight(y, m, d, zone), midnight(y, m, d+7, zone)}
}

// midnight is when a day begins: later than 0:00 where the clocks skip that.
func midnight(y int, m time.Month, d int, zone *time.Location) time.Time {
	t := time.Date(y, m, d, 0, 0, 0, 0, zone)
	if want := time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Day(); t.Day() != want {
		t = time.Date(y, m, d, 1, 0, 0, 0, zone)
	}
	return t
}

// Days are the days on the calendar of zone that touch s. The first and the
// last one may lie partly outside of it.
func Days(s Span, zone *time.Location) (out []Span) {
	for d := Day(s.From, zone); d.From.Before(s.To); d = Day(d.To, zone) {
		out = append(out, d)
	}
	return out
}

// Hours divides s into hours from its beginning.
func Hours(s Span) (out []Span) {
	for at := s.From; at.Before(s.To); at = at.Add(time.Hour) {
		out = append(out, Span{at, at.Add(time.Hour)}.Within(s))
	}
	return out
}
