package score

import (
	"math"
	"time"

	"telltale/alarms/dayahead"
	"telltale/alarms/localtime"
)

// asks are the hours of the clock at which what a day or a night will bring is
// held against what came.
var asks = [...]struct {
	hour  time.Duration
	night bool
}{{9 * time.Hour, false}, {11 * time.Hour, false}, {21 * time.Hour, true}, {0, true}}

// Days is how well it was said at some hour of the clock how warm a day would still
// get, or how cold a night.
type Days struct {
	Hour  time.Duration // of the clock
	Night bool          // the lowest until sunrise; else the highest until sunset
	Cases []Day
}

// Day is what was said once, and what came.
type Day struct {
	At       time.Time
	Off      [len(DayRules)]float64 // K, error of each of DayRules
	Inside   bool                   // it came within the interval of 80 %
	OffHours float64                // h, of the moment that was said
}

// DayRules are who said it: the outlook, and single rules beside it.
var DayRules = [...]string{"outlook", "as yesterday", "as much on as yesterday", "mean of these two",
	"mean of three days", "as much on as in three days", "yesterday, part kept", "three days, part kept"}

// offs are the errors of DayRules.
func offs(a *dayahead.Ahead, came float64) (off [len(DayRules)]float64) {
	r := &a.Rules
	for i, said := range [...]float64{a.Value, r[dayahead.Yesterday], r[dayahead.Rise], (r[dayahead.Yesterday] + r[dayahead.Rise]) / 2,
		r[dayahead.Mean], r[dayahead.MeanRise], r[dayahead.Kept], r[dayahead.KeptMean]} {
		off[i] = math.Abs(said - came)
	}
	return off
}

// DaySum is the mean over some weeks.
type DaySum struct {
	Cases, Inside int
	Off           [len(DayRules)]float64 // K
	OffHours      float64
}

// Sum is the mean of the cases of some weeks of a recording that began at from.
func (d *Days) Sum(w Weeks, from time.Time) (s DaySum) {
	for _, c := range d.Cases {
		if !w.counts(c.At, from) {
			continue
		}
		s.Cases++
		for i, off := range c.Off {
			s.Off[i] += off
		}
		s.OffHours += c.OffHours
		if c.Inside {
			s.Inside++
		}
	}
	for i := range s.Off {
		s.Off[i] /= float64(max(1, s.Cases))
	}
	s.OffHours /= float64(max(1, s.Cases))
	return s
}

// daysAhead follows a place through days and nights.
type daysAhead struct {
	course *dayahead.Course
	zone   *time.Location
	at     time.Time // of the last reading
	sums   [len(asks)]Days
	open   [len(asks)]openDay
}

// openDay is a day, or a night, of which something was said.
type openDay struct {
	on   bool
	from time.Time
	said dayahead.Ahead
	came float64
	when time.Time
}

const (
	silent = 2 * time.Hour // after which nobody knows what came
	late   = time.Hour     // after the hour of the clock, that a reading may be
)

func newDaysAhead(latitude, longitude float64, zone *time.Location) *daysAhead {
	d := &daysAhead{course: dayahead.New(latitude, longitude, zone), zone: zone}
	for i, a := range asks {
		d.sums[i] = Days{Hour: a.hour, Night: a.night}
	}
	return d
}

func (d *daysAhead) reading(at time.Time, v float64) {
	d.course.Reading(at, 0, v)
	last := d.at
	d.at = at
	for i := range d.open {
		d.follow(i, at, last, v)
		if hour := localtime.Reached(localtime.DateIn(at, d.zone), asks[i].hour, d.zone); !last.IsZero() && last.Before(hour) && !at.Before(hour) && at.Sub(hour) < late {
			if said := d.course.Look(at); said.Lacks == dayahead.Nothing && said.Night == asks[i].night {
				d.open[i] = openDay{true, at, said, v, at}
			}
		}
	}
}

// follow takes a reading into what came, and ends what is over.
func (d *daysAhead) follow(i int, at, last time.Time, v float64) {
	o := &d.open[i]
	over := !at.Before(o.said.Until)
	switch {
	case !o.on:
	case at.Sub(last) > silent:
		o.on = false
	case over:
		d.sums[i].Cases = append(d.sums[i].Cases, Day{At: o.from, Off: offs(&o.said, o.came),
			Inside: o.came >= o.said.From && o.came <= o.said.To, OffHours: o.said.At.Sub(o.when).Abs().Hours()})
		o.on = false
	case asks[i].night && v < o.came, !asks[i].night && v > o.came:
		o.came, o.when = v, at
	}
}
