package say

import (
	"time"

	"telltale/alarms"
)

func (n *telling) opened(ended bool) string {
	r, x := n.r, n.r.Opening
	if x == nil {
		return n.title(n.o) + "."
	}
	o := n.opening(n.h, n.o.Opening)
	name, at := capital(n.say("%s of %s", n.withThe(o.Name), n.h.Name)), n.withThe(n.place(n.h, o.Place).Name)
	since := n.Clock(r.Since, n.Due)
	switch {
	case !x.Open:
		return n.say("%s was shut at %s; it had been open since %s.", name, since, n.Clock(x.Was, n.Due))
	case ended:
		return n.say("%s is still open, which is no matter now%s.", name, n.noMatter(at))
	case r.Verdict == "cooling":
		s := n.say("%s has been open since %s", name, since)
		if r.Rate != nil && *r.Rate < 0 {
			s += n.say(", and %s cools by %s an hour", at, n.Distance(alarms.Temperature, -*r.Rate))
		}
		if r.Value != nil {
			s += ": " + n.bounded(alarms.Temperature, *r.Value, r.Limit)
		}
		return s + n.outside() + "."
	}
	s := n.say("%s is still open%s, open since %s", name, n.evening(o), since)
	if r.Value != nil {
		s += n.say(": %s at %s", n.Value(alarms.Temperature, *r.Value), at)
	}
	return s + n.outside() + "."
}

// outside says how cold it is there, to follow a sentence.
func (n *telling) outside() string {
	if n.r.Opening.Outside == nil {
		return ""
	}
	return n.say(", %s outside", n.Value(alarms.Temperature, *n.r.Opening.Outside))
}

// evening says by when it should have been shut: " at sunset (20:41)", or after it.
func (n *telling) evening(o *alarms.HandOpening) string {
	by := n.r.Opening.By
	if by.IsZero() {
		return ""
	}
	at := n.Clock(by, n.Due)
	late := n.Due.Sub(by) >= time.Minute
	switch {
	case o.ShutBy > 0 && late:
		return n.say(" after %s|o'clock", at)
	case o.ShutBy > 0:
		return n.say(" at %s|o'clock", at)
	case n.h.Day.Fixed && late:
		return n.say(" after the end of the day (%s)", at)
	case n.h.Day.Fixed:
		return n.say(" at the end of the day (%s)", at)
	case late:
		return n.say(" after sunset (%s)", at)
	}
	return n.say(" at sunset (%s)", at)
}

// noMatter says why it does no harm any more, after a colon.
func (n *telling) noMatter(at string) string {
	switch out := n.r.Opening.Outside; {
	case n.f.Calm == alarms.CalmOut:
		return n.say(": its contact was taken out of service")
	case n.f.Calm == alarms.CalmDay:
		return n.say(": it is day")
	case n.f.Calm == alarms.CalmMild && out != nil:
		return n.say(": it is %s outside", n.Value(alarms.Temperature, *out))
	case n.r.Value != nil:
		return n.say(": it is %s at %s", n.Value(alarms.Temperature, *n.r.Value), at)
	}
	return ""
}
