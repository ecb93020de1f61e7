package reach

import (
	"strings"

	"telltale/alarms"
	"telltale/alarms/say"
)

// headline is the short form of e, for a subject line: how urgent, where, what.
// It is no substitute for the sentence.
func headline(e Event, w say.Locale) string {
	urgency, what := priorityWord(e.Priority), moveWord(e)+fact(e, w)
	if e.over() {
		urgency, what = "Over", moveWord(e)+ending(e, w)
	}
	parts := []string{urgency}
	if where := whereabouts(e); where != "" {
		parts = append(parts, where)
	}
	return oneLine(strings.Join(append(parts, what), ": "))
}

func priorityWord(p alarms.Priority) string {
	switch p {
	case alarms.High:
		return "High"
	case alarms.Medium:
		return "Medium"
	case alarms.Low:
		return "Low"
	}
	return "Note"
}

// news says what the fact alone does not: that it is no first news; "" where it is.
func news(e Event) string {
	switch {
	case e.Move == alarms.Chatter, e.Move == alarms.Raise && e.Reason.Swing != nil:
		return "comes and goes"
	case e.Move == alarms.Worsen:
		return "worse"
	case e.Move == alarms.Realarm, e.handsOver():
		return "still"
	}
	return ""
}

func moveWord(e Event) string {
	if n := news(e); n != "" {
		return n + ", "
	}
	switch e.Move {
	case alarms.Ack:
		return "acknowledged, "
	case alarms.ShelveOn:
		return "shelved, "
	case alarms.Out:
		return "out of service, "
	}
	return ""
}

func whereabouts(e Event) string {
	var parts []string
	if e.HouseName != "" {
		parts = append(parts, e.HouseName)
	}
	switch r := e.Reason; {
	case r.Place != "":
		parts = append(parts, spaced(string(r.Place)))
	case r.Circuit != "":
		parts = append(parts, spaced(string(r.Circuit)))
	}
	if e.Reason.Probe != "" && e.Reason.Rule != alarms.RuleLimit && e.Reason.Rule != alarms.RuleRate {
		parts = append(parts, "probe "+string(e.Reason.Probe))
	}
	return strings.Join(parts, ", ")
}

// fact says in a few words what the alarm is about.
func fact(e Event, w say.Locale) string {
	r := e.Reason
	what := say.Word(r.Quantity)
	switch r.Rule {
	case alarms.RuleLimit:
		return say.Amiss(r.Quantity, r.Side, e.Level) + valueThen(e, w)
	case alarms.RuleAhead:
		return say.Soon(r.Quantity, r.Side, e.Level) + valueThen(e, w)
	case alarms.RuleDay:
		return say.ToCome(r.Quantity, r.Side)
	case alarms.RuleDrift:
		if r.Drift != nil {
			return say.Drift(r.Drift.Figure)
		}
		return say.Drift("")
	case alarms.RuleRate:
		return say.AmissFast(r.Quantity, r.Side) + valueThen(e, w)
	case alarms.RuleExposure:
		if r.Exposure != nil {
			return r.Exposure.Says
		}
		return what + " beyond its limit for too long"
	case alarms.RuleFault:
		if r.Fault != "" {
			return "probe needs care (" + spaced(string(r.Fault)) + ")"
		}
		return "probe needs care"
	case alarms.RuleSilent:
		return "nothing heard"
	case alarms.RuleUnwatched:
		return "no healthy probe"
	case alarms.RuleLink:
		return "connection to the broker lost"
	case alarms.RuleRestart:
		return "the watch was away"
	case alarms.RuleClock:
		return "the clock was set"
	case alarms.RuleTrouble:
		return "the watch itself is in trouble"
	case alarms.RulePerson:
		return "changed by a person"
	case alarms.RuleLeave:
		return leaveFact(r.Leave)
	case alarms.RuleOpening:
		if r.Opening == nil {
			return "left open"
		}
		return string(r.Opening.Kind) + " left open" + valueThen(e, w)
	case alarms.RuleLoop:
		if r.Loop != nil {
			return say.Loop(r.Loop.What)
		}
		return "ground loop"
	}
	return spaced(string(r.Rule))
}

// leaveFact says in a few words who is away, or is so no longer.
func leaveFact(l *alarms.LeaveReason) string {
	switch {
	case l == nil:
		return "who is at hand has changed"
	case l.Ended == alarms.LeaveBack:
		return l.Person + " is back"
	case l.Ended != "":
		return "the time for which " + l.Person + " was away is over"
	}
	return l.Person + " is away"
}

// ending says in a few words that it is over.
func ending(e Event, w say.Locale) string {
	switch r := e.Reason; r.Rule {
	case alarms.RuleLimit:
		return say.Word(r.Quantity) + " back within its limits" + valueThen(e, w)
	case alarms.RuleAhead:
		if r.Ahead != nil && r.Ahead.Ended == alarms.AheadUnknown {
			return "not known any more whether it is " + say.Soon(r.Quantity, r.Side, e.Level)
		}
	case alarms.RuleDay:
		if r.Day != nil && r.Day.Ended == alarms.AheadUnknown {
			return "not known whether it was " + say.Amiss(r.Quantity, r.Side, e.Level)
		}
	case alarms.RuleRate:
		return say.Word(r.Quantity) + " steadier again" + valueThen(e, w)
	case alarms.RuleFault:
		return "probe in order again"
	case alarms.RuleSilent:
		return "heard again"
	case alarms.RuleUnwatched:
		return "watched again"
	case alarms.RuleLink:
		return "connection to the broker is back"
	case alarms.RuleTrouble:
		return "the watch itself is in order again"
	}
	return "no longer: " + fact(e, w)
}

// valueThen gives the value and when it was so, where there is one. What a
// person did, and that an alarm comes and goes, carries the value of before.
func valueThen(e Event, w say.Locale) string {
	if e.Reason.Value == nil {
		return ""
	}
	switch e.Move {
	case alarms.Ack, alarms.ShelveOn, alarms.Out, alarms.Chatter:
		return ""
	}
	return ", " + w.Value(e.Reason.Quantity, *e.Reason.Value) + " at " + w.Clock(e.Due, e.Due)
}

func spaced(s string) string { return strings.ReplaceAll(s, "-", " ") }

// oneLine makes s safe for a header: no line breaks or other control characters.
func oneLine(s string) string {
	return strings.Map(func(c rune) rune {
		if c < ' ' || c == 0x7f {
			return ' '
		}
		return c
	}, s)
}
