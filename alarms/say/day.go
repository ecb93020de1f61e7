package say

import (
	"fmt"
	"time"

	"telltale/alarms"
)

// day says that a limit is likely to be reached today, or tonight, or how that ended.
func (n *telling) day(ended bool) string {
	r, where := n.r, n.where(n.o)
	if r.Day == nil || r.Limit == nil {
		if ended {
			where += ": no longer"
		} else {
			where += ":"
		}
		return where + " " + n.ToCome(n.o.Quantity, n.o.Side) + "."
	}
	limit, when := n.Value(n.o.Quantity, *r.Limit), "today"
	if r.Day.Night {
		when = "tonight"
	}
	switch {
	case ended && r.Day.Ended == alarms.AheadUnknown:
		return fmt.Sprintf("Whether %s has reached %s is not known: it was last heard at %s.", where, limit, n.Clock(r.Since, n.Due))
	case ended && r.Day.Ended == alarms.AheadPast && r.Peak != nil:
		over := "The day is over"
		if r.Day.Night {
			over = "The night is over"
		}
		return fmt.Sprintf("%s: %s was likely to reach %s, and the %s was %s.", over, where, limit, extreme(n.o.Side), n.Value(n.o.Quantity, *r.Peak))
	case ended:
		return fmt.Sprintf("%s will likely not reach %s %s after all.", where, limit, when)
	case n.Move == alarms.Suppress:
		return fmt.Sprintf("%s would likely reach %s %s.", where, limit, when)
	}
	return fmt.Sprintf("%s will likely reach %s %s: %s.", where, limit, when, expectations{n.Locale}.extent(r.Day.Night, r.Day.Value, r.Day.From, r.Day.To, r.Day.At))
}

// ToCome says in a few words that a value will likely pass a limit in the day, or the
// night, that has begun.
func (m Locale) ToCome(q alarms.Quantity, s alarms.Side) string {
	if s == alarms.LowSide {
		return "likely " + m.Amiss(q, s, alarms.Outer) + " tonight"
	}
	return "likely " + m.Amiss(q, s, alarms.Outer) + " today"
}

// extent says how warm, or how cold, a day or a night will get, in figures that claim no
// more than is known.
func (m expectations) extent(night bool, v, from, to float64, at time.Time) string {
	at = at.Round(10 * time.Minute)
	word := "up to "
	if night {
		word = "down to "
	}
	whole, unit := func(v float64) string { return m.number(m.Shown(alarms.Temperature, v), 0) }, " "+m.unit(alarms.Temperature)
	return word + whole(v) + unit + " at about " + m.Clock(at, at) + " (" + whole(from) + " to " + whole(to) + unit + ")"
}

// dayAhead says how warm the rest of a day, or how cold that of a night, will likely get.
func (m expectations) dayAhead(d *alarms.DayAhead) string {
	when, night := "Today", d.Side == alarms.LowSide
	if night {
		when = "Tonight, until sunrise,"
	}
	return fmt.Sprintf("%s likely %s.", when, m.extent(night, d.Value, d.From, d.To, d.At))
}
