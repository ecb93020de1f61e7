package say

import (
	"fmt"

	"telltale/alarms"
)

func (n *telling) exposed(ended bool) string {
	x, r := n.exposure(n.place(n.h, n.o.Place), n.o.Exposure), n.r.Exposure
	if r == nil || x == nil {
		return n.title(n.o) + "."
	}
	where, over := n.where(n.o), doses{n.Locale}.within(x)
	by, raised := n.instead()
	switch {
	case ended && x.Window > 0:
		return fmt.Sprintf("%s: at %s it was %s %s; it took %s to do harm.%s", where, n.Clock(n.Due, n.Due), doses{n.Locale}.soFar(r), over+by, doses{n.Locale}.harmful(r), raised)
	case ended && x.Gap > 0:
		return fmt.Sprintf("%s: the spell %s is over%s. The next one counts from the start.%s", where, doses{n.Locale}.beyond(x), by, raised)
	case ended:
		return fmt.Sprintf("%s: a %s has passed without %s %s%s.%s", where, period(x), doses{n.Locale}.harmful(r), doses{n.Locale}.beyond(x), by, raised)
	case !n.f.Reached: // time went by, and nobody knows better
		return n.title(n.o) + "." + n.exposureWord()
	case x.Days+x.Nights > 0:
		return fmt.Sprintf("%s: %s %s: %s.", where, doses{n.Locale}.harmful(r), over, does(r)) + n.exposureWord()
	default:
		return fmt.Sprintf("%s: %s %s: %s.", where, doses{n.Locale}.soFar(r), over, does(r)) + n.exposureWord()
	}
}

// does says what it does, and what else the same night does.
func does(r *alarms.ExposureReason) string {
	if len(r.Also) == 0 {
		return r.Says
	}
	return r.Says + ", and " + alarms.List(r.Also)
}

// exposureWord says whose word an exposure rests on, where that matters.
func (n *telling) exposureWord() string {
	r := n.r
	switch {
	case len(r.Lost) == 0 || r.Fault != "":
		return n.doubt()
	case r.Probe == "" || r.Value == nil:
		return fmt.Sprintf(" It rests on the word of probe %s. It stays on until that is heard again, or another probe has been believed there for half an hour.", n.losses())
	}
	return fmt.Sprintf(" It rests on the word of probe %s. Probe %s says %s; if it goes on to say that all is well, that counts after %s.",
		n.losses(), n.probe(r.Probe), n.Value(r.Quantity, *r.Value), n.Span(n.f.Speaks))
}

// doses says how much of something is harmful, and how much of it there was.
type doses struct{ Locale }

// soFarOf says what an exposure has come to, for the page.
func (m doses) soFarOf(x *alarms.Exposure, r *alarms.ExposureReason) string {
	sofar, harm := m.soFar(r)+" "+m.beyond(x), m.harmful(r)
	switch {
	case x.Days > 0:
		sofar += " today"
	case x.Nights > 0:
		sofar += " since nightfall"
	case x.Window > 0:
		sofar += " in the last " + m.span(x.Window)
	default:
		sofar += fmt.Sprintf(" in this spell (a break of %s ends it)", m.Span(x.Gap))
	}
	if r.Running > 0 {
		sofar += fmt.Sprintf(", and too long on %d %s before", r.Running, plural(period(x), r.Running))
	}
	if n := max(x.Days, x.Nights); n > 1 {
		harm += fmt.Sprintf(" on each of %d %s running", n, plural(period(x), n))
	}
	return fmt.Sprintf("%s; %s do harm (%s)", sofar, harm, r.Says)
}

// period is what x counts by, "day" or "night".
func period(x *alarms.Exposure) string {
	if x.Nights > 0 {
		return "night"
	}
	return "day"
}

// soFar and harmful write the amount reached and the amount that does harm.
func (m doses) soFar(r *alarms.ExposureReason) string {
	if r.LimitDegreeHours > 0 {
		return m.dose(r.DegreeHours)
	}
	return m.lasting(r.Time, r.Limit)
}

func (m doses) harmful(r *alarms.ExposureReason) string {
	if r.LimitDegreeHours > 0 {
		return m.dose(r.LimitDegreeHours)
	}
	return m.lasting(r.Limit, r.Limit)
}

// beyond says beyond what, to follow an amount of time: "above 35.0 °C by
// day", "of humidity at 85 % or more while the temperature was ...".
func (m doses) beyond(x *alarms.Exposure) string {
	l, sign, on := x.Bound()
	s, v := "", m.Value(x.Quantity, l.Value)
	if x.Quantity != alarms.Temperature {
		s = "of " + m.Word(x.Quantity) + " "
	}
	switch {
	case on && sign > 0:
		s += "at " + v + " or more"
	case on:
		s += "at " + v + " or less"
	case sign > 0:
		s += "above " + v
	default:
		s += "below " + v
	}
	if x.When != alarms.Always && x.Nights == 0 {
		s += " by " + x.When.String()
	}
	return s + m.during(x)
}

func (m doses) during(x *alarms.Exposure) string {
	low, high := m.Value(x.While, x.WhileLow.Value), m.Value(x.While, x.WhileHigh.Value)
	switch {
	case x.While == "":
		return ""
	case x.WhileLow.Set && x.WhileHigh.Set:
		return fmt.Sprintf(" with the %s from %s to %s", m.Word(x.While), low, high)
	case x.WhileLow.Set:
		return fmt.Sprintf(" with the %s at %s or more", m.Word(x.While), low)
	}
	return fmt.Sprintf(" with the %s at %s or less", m.Word(x.While), high)
}

// within says beyond what and over what time, to follow an amount of time.
func (m doses) within(x *alarms.Exposure) string {
	s := m.beyond(x)
	switch n := max(x.Days, x.Nights); {
	case x.Window > 0:
		return s + " within " + m.span(x.Window)
	case x.Gap > 0:
		return s + " in one spell"
	case n == 1:
		return s + " in one " + period(x)
	default:
		return fmt.Sprintf("%s on each of %d %ss running", s, n, period(x))
	}
}
