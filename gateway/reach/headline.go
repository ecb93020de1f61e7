package reach

import (
	"strings"

	"telltale/alarms"
)

// headline is the short form of e, for a subject line: how urgent, where, what.
// It is no substitute for the sentence.
func headline(e Event, w alarms.Words) string {
	urgency, what := priorityWord(e.Priority), moveWord(e.Move)+fact(e.Reason, w)
	if e.over() {
		urgency, what = "Over", moveWord(e.Move)+ending(e.Reason, w)
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

func moveWord(m alarms.Move) string {
	switch m {
	case alarms.Worsen:
		return "worse, "
	case alarms.Realarm:
		return "still, "
	case alarms.Chatter:
		return "comes and goes, "
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
func fact(r alarms.Reason, w alarms.Words) string {
	what := r.Quantity.Word()
	switch r.Rule {
	case alarms.RuleLimit:
		return what + choose(r.Side, " out of its band", " too low", " too high") + valueNow(r, w)
	case alarms.RuleRate:
		return what + choose(r.Side, " changing fast", " falling fast", " rising fast") + valueNow(r, w)
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
		return "the watch was restarted"
	case alarms.RuleTrouble:
		return "the watch itself is in trouble"
	case alarms.RulePerson:
		return "changed by a person"
	case alarms.RuleLoop:
		if r.Loop != nil {
			return r.Loop.What.Words()
		}
		return "ground loop"
	}
	return spaced(string(r.Rule))
}

// ending says in a few words that it is over.
func ending(r alarms.Reason, w alarms.Words) string {
	switch r.Rule {
	case alarms.RuleLimit:
		return r.Quantity.Word() + " back within its limits" + valueNow(r, w)
	case alarms.RuleRate:
		return r.Quantity.Word() + " steadier again" + valueNow(r, w)
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
	return "no longer: " + fact(r, w)
}

// valueNow gives the value, where there is one.
func valueNow(r alarms.Reason, w alarms.Words) string {
	if r.Value == nil {
		return ""
	}
	return ", now " + w.Value(r.Quantity, *r.Value)
}

func choose(s alarms.Side, none, low, high string) string {
	switch s {
	case alarms.LowSide:
		return low
	case alarms.HighSide:
		return high
	}
	return none
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
