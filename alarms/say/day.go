package say

import (
	"time"

	"telltale/alarms"
)

// day says that a limit is likely to be reached today, or tonight, or how that ended.
func (n *telling) day(ended bool) string {
	r, where := n.r, n.where(n.o)
	if r.Day == nil || r.Limit == nil {
		if ended {
			where += n.say(": no longer")
		} else {
			where += ":"
		}
		return where + " " + n.ToCome(n.o.Quantity, n.o.Side) + "."
	}
	limit, when := n.Value(n.o.Quantity, *r.Limit), n.say("today")
	if r.Day.Night {
		when = n.say("tonight")
	}
	switch {
	case ended && r.Day.Ended == alarms.AheadUnknown:
		return n.say("Whether %s has reached %s is not known: it was last heard at %s.", where, limit, n.Clock(r.Since, n.Due))
	case ended && r.Day.Ended == alarms.AheadPast && r.Peak != nil:
		over := n.say("The day is over")
		if r.Day.Night {
			over = n.say("The night is over")
		}
		return n.say("%s: %s was likely to reach %s, and the %s was %s.", over, where, limit, n.extreme(n.o.Side), n.Value(n.o.Quantity, *r.Peak))
	case ended:
		return n.say("%s will likely not reach %s %s after all.", where, limit, when)
	case n.Move == alarms.Suppress:
		return n.say("%s would likely reach %s %s.", where, limit, when)
	}
	return n.say("%s will likely reach %s %s: %s.", where, limit, when, expectations{n.Locale}.extent(r.Day.Night, r.Day.Value, r.Day.From, r.Day.To, r.Day.At))
}

// ToCome says in a few words that a value will likely pass a limit in the day, or the
// night, that has begun.
func (m Locale) ToCome(q alarms.Quantity, s alarms.Side) string {
	if s == alarms.LowSide {
		return m.say("likely %s tonight", m.Amiss(q, s, alarms.Outer))
	}
	return m.say("likely %s today", m.Amiss(q, s, alarms.Outer))
}

// extent says how warm, or how cold, a day or a night will get, in figures that claim no
// more than is known.
func (m expectations) extent(night bool, v, from, to float64, at time.Time) string {
	at = at.Round(10 * time.Minute)
	word := m.say("up to ")
	if night {
		word = m.say("down to ")
	}
	whole, unit := func(v float64) string { return m.number(m.Shown(alarms.Temperature, v), 0) }, " "+m.unit(alarms.Temperature)
	return m.say("%s%s%s at about %s (%s to %s%s)", word, whole(v), unit, m.Clock(at, at), whole(from), whole(to), unit)
}

// dayAhead says how warm the rest of a day, or how cold that of a night, will likely get.
func (m expectations) dayAhead(d *alarms.DayAhead) string {
	when, night := m.say("Today"), d.Side == alarms.LowSide
	if night {
		when = m.say("Tonight, until sunrise,")
	}
	return m.say("%s likely %s.", when, m.extent(night, d.Value, d.From, d.To, d.At))
}
