package say

import (
	"fmt"
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
		return where + " was heading for " + limit + " and has reached it."
	case n.Move == alarms.Suppress:
		return where + " was heading for " + limit + "."
	}
	s := where + " is heading for " + limit
	if !r.Ahead.Holds.IsZero() {
		s += ", the " + n.o.Side.String() + " limit from " + n.Clock(r.Ahead.Holds, n.Due) + " on"
	} else if r.Ahead.Middle > 0 {
		s += " at about " + n.Clock(n.Due.Add(r.Ahead.Middle).Round(5*time.Minute), n.Due) + " (" + expectations{n.Locale}.between(r.Ahead.Soon, r.Ahead.Late) + ")"
	}
	if r.Value != nil {
		s += ": it was " + n.Value(n.o.Quantity, *r.Value) + " at " + n.Clock(n.Due, n.Due)
		if r.Rate != nil {
			s += ", " + n.Course(n.o.Quantity, *r.Rate)
		}
	}
	s += "."
	if r.Ahead.Drive != "" {
		d := n.drive(n.h, r.Ahead.Drive)
		s += fmt.Sprintf(" The %s %s for %s and does not hold it.", d.Name, verbs(d.Kind).hasRun, n.Span(r.Ahead.Runs))
	}
	if n.Move == alarms.Ease {
		return s + " That is less bad than before."
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
		s := "Whether " + where + " will reach " + limit + " is not known any more: it "
		if n.Due.Sub(r.Since) < readLately || r.Value == nil {
			return s + "was not heard often enough for a while."
		}
		return s + "was last heard at " + n.Clock(r.Since, n.Due) + ", at " + n.Value(n.o.Quantity, *r.Value) + "."
	case alarms.AheadNoLimit:
		return fmt.Sprintf("%s is no longer heading for a limit: the one that holds since is %s.", where, limit)
	}
	return fmt.Sprintf("%s is no longer heading for %s%s: it turned at %s.", where, limit, n.after(), peak)
}

func (n *telling) nolimit(ended bool) string {
	if ended {
		return "no longer " + n.Soon(n.o.Quantity, n.o.Side, n.o.Level) + "."
	}
	return n.Soon(n.o.Quantity, n.o.Side, n.o.Level) + "."
}

// Soon says in a few words what is likely where a value will pass a limit on a side.
func (m Locale) Soon(q alarms.Quantity, s alarms.Side, l alarms.Level) string {
	return "soon " + m.Amiss(q, s, l)
}

// between says in what time something comes, in figures that claim no more than is known.
func (m expectations) between(from, to time.Duration) string {
	from, to = rough(from), rough(to)
	switch {
	case from < time.Minute:
		return "within " + m.Span(to)
	case from == to:
		return "in about " + m.Span(to)
	case to < time.Hour:
		return fmt.Sprintf("in %.0f to %s", from.Minutes(), m.Span(to))
	}
	return "in " + m.Span(from) + " to " + m.Span(to)
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
