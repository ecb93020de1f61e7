package say

import (
	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
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
		return n.say("%s: at %s it was %s %s; it took %s to do harm.%s", where, n.Clock(n.Due, n.Due), doses{n.Locale}.soFar(r), over+by, doses{n.Locale}.harmful(r), raised)
	case ended && x.Gap > 0:
		return n.say("%s: the spell %s is over%s. The next one counts from the start.%s", where, doses{n.Locale}.beyond(x), by, raised)
	case ended:
		return n.say(ofPeriod(x, "%s: a day has passed without %s %s%s.%s", "%s: a night has passed without %s %s%s.%s"), where, doses{n.Locale}.harmful(r), doses{n.Locale}.beyond(x), by, raised)
	case !n.f.Reached: // time went by, and nobody knows better
		return n.title(n.o) + "." + n.exposureWord()
	case x.Days+x.Nights > 0:
		return n.say("%s: %s %s: %s.", where, doses{n.Locale}.harmful(r), over, doses{n.Locale}.does(r)) + n.exposureWord()
	default:
		return n.say("%s: %s %s: %s.", where, doses{n.Locale}.soFar(r), over, doses{n.Locale}.does(r)) + n.exposureWord()
	}
}

// does says what it does, and what else the same night does.
func (m doses) does(r *alarms.ExposureReason) string {
	says := m.Tongue.Known(r.Says)
	if len(r.Also) == 0 {
		return says
	}
	return m.say("%s, and %s", says, m.list(walk.Each(r.Also, m.Tongue.Known)))
}

// by says at which part of the day something holds, that holds not always.
func (m doses) by(d alarms.Daypart) string {
	if d == alarms.Night {
		return m.say(" by night")
	}
	return m.say(" by day")
}

// exposureWord says whose word an exposure rests on, where that matters.
func (n *telling) exposureWord() string {
	r := n.r
	switch {
	case len(r.Lost) == 0 || r.Fault != "":
		return n.doubt()
	case r.Probe == "" || r.Value == nil:
		return n.say(" It rests on the word of probe %s. It stays on until that is heard again, or another probe has been believed there for half an hour.", n.losses())
	}
	return n.say(" It rests on the word of probe %s. Probe %s says %s; if it goes on to say that all is well, that counts after %s.",
		n.losses(), n.probe(r.Probe), n.Value(r.Quantity, *r.Value), n.Span(n.f.Speaks))
}

// doses says how much of something is harmful, and how much of it there was.
type doses struct{ Locale }

// soFarOf says what an exposure has come to, for the page.
func (m doses) soFarOf(x *alarms.Exposure, r *alarms.ExposureReason) string {
	sofar, harm := m.soFar(r)+" "+m.beyond(x), m.harmful(r)
	switch {
	case x.Days > 0:
		sofar += m.say(" today")
	case x.Nights > 0:
		sofar += m.say(" since nightfall")
	case x.Window > 0:
		sofar += m.say(" in the last %s", m.span(x.Window))
	default:
		sofar += m.say(" in this spell (a break of %s ends it)", m.Span(x.Gap))
	}
	switch {
	case r.Running == 1:
		sofar += m.say(ofPeriod(x, ", and too long on 1 day before", ", and too long on 1 night before"))
	case r.Running > 1:
		sofar += m.say(ofPeriod(x, ", and too long on %d days before", ", and too long on %d nights before"), r.Running)
	}
	if n := max(x.Days, x.Nights); n > 1 {
		harm += m.say(ofPeriod(x, " on each of %d days running", " on each of %d nights running"), n)
	}
	return m.say("%s; %s do harm (%s)", sofar, harm, m.Tongue.Known(r.Says))
}

// ofPeriod is the one of two texts that says what x counts by.
func ofPeriod(x *alarms.Exposure, day, night tongue.Text) tongue.Text {
	if x.Nights > 0 {
		return night
	}
	return day
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
		s = m.say("of %s ", m.Word(x.Quantity))
	}
	switch {
	case on && sign > 0:
		s += m.say("at %s or more", v)
	case on:
		s += m.say("at %s or less", v)
	case sign > 0:
		s += m.say("above %s", v)
	default:
		s += m.say("below %s", v)
	}
	if x.When != alarms.Always && x.Nights == 0 {
		s += m.by(x.When)
	}
	return s + m.during(x)
}

func (m doses) during(x *alarms.Exposure) string {
	low, high := m.Value(x.While, x.WhileLow.Value), m.Value(x.While, x.WhileHigh.Value)
	switch {
	case x.While == "":
		return ""
	case x.WhileLow.Set && x.WhileHigh.Set:
		return m.say(" with the %s from %s to %s", m.Word(x.While), low, high)
	case x.WhileLow.Set:
		return m.say(" with the %s at %s or more", m.Word(x.While), low)
	}
	return m.say(" with the %s at %s or less", m.Word(x.While), high)
}

// within says beyond what and over what time, to follow an amount of time.
func (m doses) within(x *alarms.Exposure) string {
	s := m.beyond(x)
	switch n := max(x.Days, x.Nights); {
	case x.Window > 0:
		return s + m.say(" within %s", m.span(x.Window))
	case x.Gap > 0:
		return s + m.say(" in one spell")
	case n == 1:
		return s + m.say(ofPeriod(x, " in one day", " in one night"))
	default:
		return s + m.say(ofPeriod(x, " on each of %d days running", " on each of %d nights running"), n)
	}
}
