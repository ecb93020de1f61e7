package say

import (
	"time"

	"telltale/alarms"
)

// ahead says that a limit is likely to be reached, or how that ended.
func (n *telling) ahead(ended bool) string {
	r, where := n.r, n.where(n.o)
	if r.Ahead == nil || r.Limit == nil {
		return where + ": " + n.nolimit(ended)
	}
	limit := n.Value(n.o.Quantity, *r.Limit)
	switch {
	case ended:
		return n.aheadEnd(where, limit)
	case n.Move == alarms.Suppress && r.Value != nil && n.o.Side.Sign()*(*r.Value-*r.Limit) >= 0:
		return n.say("%s was heading for %s and has reached it.", where, limit)
	case n.Move == alarms.Suppress:
		return n.say("%s was heading for %s.", where, limit)
	}
	s := n.say("%s is heading for %s", where, limit)
	if !r.Ahead.Holds.IsZero() {
		s += n.say(", the %s limit from %s on", n.side(n.o.Side), n.Clock(r.Ahead.Holds, n.Due))
	} else if r.Ahead.Middle > 0 {
		s += n.say(" at about %s (%s)", n.Clock(n.Due.Add(r.Ahead.Middle).Round(5*time.Minute), n.Due), expectations{n.Locale}.between(r.Ahead.Soon, r.Ahead.Late))
	}
	if r.Value != nil {
		s += n.say(": it was %s at %s", n.Value(n.o.Quantity, *r.Value), n.Clock(n.Due, n.Due))
		if r.Rate != nil {
			s += ", " + n.Course(n.o.Quantity, *r.Rate)
		}
	}
	s += "."
	if r.Ahead.Drive != "" {
		d := n.drive(n.h, r.Ahead.Drive)
		s += n.say(" The %s %s for %s and does not hold it.", d.Name, n.say(verbs(d.Kind).hasRun), n.Span(r.Ahead.Runs))
	}
	if n.Move == alarms.Ease {
		return s + n.say(" That is less bad than before.")
	}
	return s
}

// aheadEnd says how a warning ended that did not become the alarm of its limit.
func (n *telling) aheadEnd(where, limit string) string {
	r := n.r
	peak := ""
	if r.Peak != nil {
		peak = n.Value(n.o.Quantity, *r.Peak)
	}
	switch r.Ahead.Ended {
	case alarms.AheadUnknown:
		s := n.say("Whether %s will reach %s is not known any more: it ", where, limit)
		if n.Due.Sub(r.Since) < readLately || r.Value == nil {
			return s + n.say("was not heard often enough for a while.")
		}
		return s + n.say("was last heard at %s, at %s.", n.Clock(r.Since, n.Due), n.Value(n.o.Quantity, *r.Value))
	case alarms.AheadNoLimit:
		return n.say("%s is no longer heading for a limit: the one that holds since is %s.", where, limit)
	}
	return n.say("%s is no longer heading for %s%s: it turned at %s.", where, limit, n.after(), peak)
}

func (n *telling) nolimit(ended bool) string {
	if ended {
		return n.say("no longer %s.", n.Soon(n.o.Quantity, n.o.Side, n.o.Level))
	}
	return n.Soon(n.o.Quantity, n.o.Side, n.o.Level) + "."
}

// Soon says in a few words what is likely where a value will pass a limit on a side.
func (m Locale) Soon(q alarms.Quantity, s alarms.Side, l alarms.Level) string {
	return m.say("soon %s", m.Amiss(q, s, l))
}

// between says in what time something comes, in figures that claim no more than is known.
func (m expectations) between(from, to time.Duration) string {
	from, to = rough(from), rough(to)
	switch {
	case from < time.Minute:
		return m.say("within %s", m.Span(to))
	case from == to:
		return m.say("in about %s", m.Span(to))
	case to < time.Hour:
		return m.say("in %.0f to %s", from.Minutes(), m.Span(to))
	}
	return m.say("in %s to %s", m.Span(from), m.Span(to))
}

func rough(d time.Duration) time.Duration {
	if d < 10*time.Minute {
		return max(d.Round(time.Minute), 0)
	}
	if d < time.Hour {
		return d.Round(5 * time.Minute)
	}
	return d.Round(10 * time.Minute)
}
