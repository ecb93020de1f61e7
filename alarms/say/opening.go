package say

import (
	"fmt"
	"time"

	"telltale/alarms"
)

func (n *telling) opened(ended bool) string {
	r, x := n.r, n.r.Opening
	if x == nil {
		return n.title(n.o) + "."
	}
	o := n.opening(n.h, n.o.Opening)
	name, at := capital(withThe(o.Name)+" of "+n.h.Name), withThe(n.place(n.h, o.Place).Name)
	since := n.Clock(r.Since, n.Due)
	switch {
	case !x.Open:
		return fmt.Sprintf("%s was shut at %s; it had been open since %s.", name, since, n.Clock(x.Was, n.Due))
	case ended:
		return fmt.Sprintf("%s is still open, which is no matter now%s.", name, n.noMatter(at))
	case r.Verdict == "cooling":
		s := fmt.Sprintf("%s has been open since %s", name, since)
		if r.Rate != nil && *r.Rate < 0 {
			s += fmt.Sprintf(", and %s cools by %s an hour", at, n.Distance(alarms.Temperature, -*r.Rate))
		}
		if r.Value != nil {
			s += ": " + n.bounded(alarms.Temperature, *r.Value, r.Limit)
		}
		return s + n.outside() + "."
	}
	s := fmt.Sprintf("%s is still open%s, open since %s", name, n.evening(o), since)
	if r.Value != nil {
		s += fmt.Sprintf(": %s at %s", n.Value(alarms.Temperature, *r.Value), at)
	}
	return s + n.outside() + "."
}

// outside says how cold it is there, to follow a sentence.
func (n *telling) outside() string {
	if n.r.Opening.Outside == nil {
		return ""
	}
	return fmt.Sprintf(", %s outside", n.Value(alarms.Temperature, *n.r.Opening.Outside))
}

// evening says by when it should have been shut: " at sunset (20:41)", or after it.
func (n *telling) evening(o *alarms.HandOpening) string {
	by := n.r.Opening.By
	if by.IsZero() {
		return ""
	}
	at, word := n.Clock(by, n.Due), "after"
	if n.Due.Sub(by) < time.Minute {
		word = "at"
	}
	switch {
	case o.ShutBy > 0:
		return " " + word + " " + at
	case n.h.Day.Fixed:
		return fmt.Sprintf(" %s the end of the day (%s)", word, at)
	}
	return fmt.Sprintf(" %s sunset (%s)", word, at)
}

// noMatter says why it does no harm any more, after a colon.
func (n *telling) noMatter(at string) string {
	switch out := n.r.Opening.Outside; {
	case n.f.Calm == alarms.CalmOut:
		return ": its contact was taken out of service"
	case n.f.Calm == alarms.CalmDay:
		return ": it is day"
	case n.f.Calm == alarms.CalmMild && out != nil:
		return ": it is " + n.Value(alarms.Temperature, *out) + " outside"
	case n.r.Value != nil:
		return fmt.Sprintf(": it is %s at %s", n.Value(alarms.Temperature, *n.r.Value), at)
	}
	return ""
}
