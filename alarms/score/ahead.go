package score

import (
	"slices"
	"time"
)

// Record is what was said beforehand of one limit by one who warns, and what came.
type Record struct {
	Who       string
	Crossings []Crossing
	Episodes  []Episode
	reached   time.Time // last
}

// Crossing is a limit reached after an hour within it.
type Crossing struct {
	At   time.Time
	Lead time.Duration // for which the warning had stood; 0: there was none
}

// Episode is a time in which it was warned.
type Episode struct {
	From, To time.Time
	Came     bool // the limit was reached, by two hours after its end
}

const (
	within  = time.Hour        // that it must be, for the next crossing to be one
	bridged = 30 * time.Minute // between two parts of one warning
	counted = 2 * time.Hour    // of a lead at most; and after a warning in which it may still come true
	inTime  = 15 * time.Minute
)

// step takes a moment: whether the limit is reached, and whether it is warned.
func (r *Record) step(at time.Time, reached, warns bool) {
	if r.reached.IsZero() {
		r.reached = at
	}
	n := len(r.Episodes)
	if warns {
		if n == 0 || at.Sub(r.Episodes[n-1].To) > bridged {
			r.Episodes = append(r.Episodes, Episode{From: at})
			n++
		}
		r.Episodes[n-1].To = at
	}
	if !reached {
		return
	}
	if at.Sub(r.reached) >= within {
		c := Crossing{At: at}
		if n > 0 && at.Sub(r.Episodes[n-1].To) <= bridged {
			c.Lead = min(at.Sub(r.Episodes[n-1].From), counted)
		}
		r.Crossings = append(r.Crossings, c)
	}
	r.reached = at
	for i := n - 1; i >= 0 && at.Sub(r.Episodes[i].To) <= counted; i-- {
		r.Episodes[i].Came = true
	}
}

// Weeks are which weeks of a recording count, from its first reading on.
type Weeks uint8

// Weeks of a recording.
const (
	AllWeeks Weeks = iota
	OddWeeks       // the first, the third and so on
	EvenWeeks
)

const week = 7 * 24 * time.Hour

func (w Weeks) counts(at, from time.Time) bool {
	return w == AllWeeks || (at.Sub(from)/week%2 == 0) == (w == OddWeeks)
}

// length is how many weeks count, of a span.
func (w Weeks) length(from, to time.Time) (sum float64) {
	for at := from; at.Before(to); at = at.Add(week) {
		if w.counts(at, from) {
			sum += min(to.Sub(at), week).Hours() / week.Hours()
		}
	}
	return sum
}

// Tally is the sum of a Record over some weeks.
type Tally struct {
	Weeks     float64
	Crossings int
	InTime    int           // of them: warned of at least a quarter of an hour before
	Median    time.Duration // of the leads
	Tenth     time.Duration // that nine in ten of them were at least
	Warnings  int
	False     int // of them
}

// FalseAWeek is how many warnings a week did not come true.
func (t Tally) FalseAWeek() float64 { return float64(t.False) / max(t.Weeks, 1./7) }

// Tally sums up.
func (r *Record) Tally(w Weeks, from, to time.Time) Tally {
	t := Tally{Weeks: w.length(from, to)}
	var leads []time.Duration
	for _, c := range r.Crossings {
		if w.counts(c.At, from) {
			leads = append(leads, c.Lead)
			if c.Lead >= inTime {
				t.InTime++
			}
		}
	}
	for _, e := range r.Episodes {
		if w.counts(e.From, from) {
			t.Warnings++
			if !e.Came {
				t.False++
			}
		}
	}
	if t.Crossings = len(leads); t.Crossings > 0 {
		slices.Sort(leads)
		t.Median, t.Tenth = (leads[len(leads)/2]+leads[(len(leads)-1)/2])/2, leads[len(leads)/10]
	}
	return t
}
