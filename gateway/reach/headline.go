package reach

import (
	"strings"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
)

// headline is the short form of e, for a subject line: how urgent, where, what.
// It is no substitute for the sentence.
func headline(e Event, w say.Locale) string {
	urgency, what := priorityWord(e.Priority), e.moved(fact(e, w))
	if e.over() {
		urgency, what = "Over|told", e.moved(ending(e, w))
	}
	parts := []string{e.say(urgency)}
	if where := whereabouts(e); where != "" {
		parts = append(parts, where)
	}
	return oneLine(strings.Join(append(parts, what), ": "))
}

// say is x in the language of e.
func (e Event) say(x tongue.Text, args ...any) string { return e.Language.Say(x, args...) }

func priorityWord(p alarms.Priority) tongue.Text {
	switch p {
	case alarms.High:
		return "High|a priority"
	case alarms.Medium:
		return "Medium|a priority"
	case alarms.Low:
		return "Low|a priority"
	}
	return "Note|a priority"
}

// news says what the fact alone does not: that it is no first news; "" where it is.
func news(e Event) tongue.Text {
	switch {
	case e.Move == alarms.Chatter, e.Move == alarms.Raise && e.Reason.Swing != nil:
		return "comes and goes|news"
	case e.Move == alarms.Worsen:
		return "worse|news"
	case e.Move == alarms.Realarm, e.handsOver():
		return "still|news"
	}
	return ""
}

// newsOf are those of news with the fact behind them.
var newsOf = map[tongue.Text]tongue.Text{"comes and goes|news": "comes and goes, %s", "worse|news": "worse, %s", "still|news": "still, %s"}

// moved is what, with what has become of it.
func (e Event) moved(what string) string {
	if n := news(e); n != "" {
		return e.say(newsOf[n], what)
	}
	switch e.Move {
	case alarms.Ack:
		return e.say("acknowledged, %s", what)
	case alarms.ShelveOn:
		return e.say("shelved, %s", what)
	case alarms.Out:
		return e.say("out of service, %s", what)
	}
	return what
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
		parts = append(parts, e.say("probe %s", e.Reason.Probe))
	}
	return strings.Join(parts, ", ")
}

// facts say in a few words what the alarms of a rule are about, where that is the same
// for all of them.
var facts = map[alarms.Rule]tongue.Text{
	alarms.RuleSilent:    "nothing heard",
	alarms.RuleUnwatched: "no healthy probe",
	alarms.RuleLink:      "connection to the broker lost",
	alarms.RuleRestart:   "the watch was away",
	alarms.RuleClock:     "the clock was set",
	alarms.RuleTrouble:   "the watch itself is in trouble",
	alarms.RulePerson:    "changed by a person",
	alarms.RuleSeason:    "season|an alarm",
	alarms.RuleControl:   "control|an alarm",
	alarms.RuleSwitching: "switching|an alarm",
}

// faults say what is the matter with a probe, to stand behind that it needs care.
var faults = map[alarms.Fault]tongue.Text{
	alarms.FaultRange:    "out of range|a fault",
	alarms.FaultValue:    "fault value|a fault",
	alarms.FaultStuck:    "stuck|a fault",
	alarms.FaultSpikes:   "spikes|a fault",
	alarms.FaultPinned:   "pinned humidity|a fault",
	alarms.FaultGarbled:  "unreadable|a fault",
	alarms.FaultOutlier:  "outlier|a fault",
	alarms.FaultStep:     "step|a fault",
	alarms.FaultDisagree: "disagrees|a fault",
	alarms.FaultClock:    "clock|a fault",
	alarms.FaultBattery:  "low battery|a fault",
	alarms.FaultSignal:   "weak signal|a fault",
	alarms.FaultWitness:  "contradicted|a fault",
}

// leftOpen says what stands open.
var leftOpen = map[alarms.OpeningKind]tongue.Text{
	alarms.KindDoor: "door left open", alarms.KindWindow: "window left open", alarms.KindLid: "lid left open", "": "left open",
}

// fact says in a few words what the alarm is about.
func fact(e Event, w say.Locale) string {
	r := e.Reason
	switch r.Rule {
	case alarms.RuleLimit:
		return w.Amiss(r.Quantity, r.Side, e.Level) + valueThen(e, w)
	case alarms.RuleAhead:
		return w.Soon(r.Quantity, r.Side, e.Level) + valueThen(e, w)
	case alarms.RuleDay:
		return w.ToCome(r.Quantity, r.Side)
	case alarms.RuleDrift:
		if r.Drift != nil {
			return w.Drift(r.Drift.Figure)
		}
		return w.Drift("")
	case alarms.RuleRate:
		return w.AmissFast(r.Quantity, r.Side) + valueThen(e, w)
	case alarms.RuleExposure:
		if r.Exposure != nil {
			return e.Language.Known(r.Exposure.Says)
		}
		return e.say("%s beyond its limit for too long", w.Word(r.Quantity))
	case alarms.RuleFault:
		if r.Fault != "" {
			return e.say("probe needs care (%s)", e.say(faults[r.Fault]))
		}
		return e.say("probe needs care")
	case alarms.RuleLeave:
		return leaveFact(e)
	case alarms.RuleOpening:
		if r.Opening == nil {
			return e.say("left open")
		}
		return e.say(leftOpen[r.Opening.Kind]) + valueThen(e, w)
	case alarms.RuleLoop:
		if r.Loop != nil {
			return w.Loop(r.Loop.What)
		}
		return e.say("ground loop|an alarm")
	}
	if what := facts[r.Rule]; what != "" {
		return e.say(what)
	}
	return spaced(string(r.Rule))
}

// leaveFact says in a few words who is away, or is so no longer.
func leaveFact(e Event) string {
	switch l := e.Reason.Leave; {
	case l == nil:
		return e.say("who is at hand has changed")
	case l.Ended == alarms.LeaveBack:
		return e.say("%s is back|told", l.Person)
	case l.Ended != "":
		return e.say("the time for which %s was away is over", l.Person)
	default:
		return e.say("%s is away|told", l.Person)
	}
}

// endings say in a few words that it is over, where that is the same for all alarms of
// a rule.
var endings = map[alarms.Rule]tongue.Text{
	alarms.RuleFault:     "probe in order again",
	alarms.RuleSilent:    "heard again",
	alarms.RuleUnwatched: "watched again",
	alarms.RuleLink:      "connection to the broker is back",
	alarms.RuleTrouble:   "the watch itself is in order again",
}

// ending says in a few words that it is over.
func ending(e Event, w say.Locale) string {
	switch r := e.Reason; r.Rule {
	case alarms.RuleLimit:
		return e.say("%s back within its limits", w.Word(r.Quantity)) + valueThen(e, w)
	case alarms.RuleAhead:
		if r.Ahead != nil && r.Ahead.Ended == alarms.AheadUnknown {
			return e.say("not known any more whether it is %s", w.Soon(r.Quantity, r.Side, e.Level))
		}
	case alarms.RuleDay:
		if r.Day != nil && r.Day.Ended == alarms.AheadUnknown {
			return e.say("not known whether it was %s", w.Amiss(r.Quantity, r.Side, e.Level))
		}
	case alarms.RuleRate:
		return e.say("%s steadier again", w.Word(r.Quantity)) + valueThen(e, w)
	}
	if over := endings[e.Reason.Rule]; over != "" {
		return e.say(over)
	}
	return e.say("no longer: %s", fact(e, w))
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
	return e.say(", %s at %s", w.Value(e.Reason.Quantity, *e.Reason.Value), w.Clock(e.Due, e.Due))
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
