package alarms

import (
	"cmp"
	"fmt"
	"strings"
	"time"
)

// sentence puts transition t of alarm a in words.
func (e *Engine) sentence(a *alarm, t Transition) string {
	switch t.Move {
	case Raise, Worsen, Ease, Return:
		return e.fact(a, t)
	case Note:
		return e.noteSentence(a, t)
	}
	return e.actSentence(a, t)
}

// inBoth says something in the plan's unit of temperature and in the other one;
// other is empty where that makes no difference.
func (e *Engine) inBoth(say func() string) (here, other string) {
	e.unitAsked = false
	if here = say(); !e.unitAsked {
		return here, ""
	}
	e.inOther(func() { other = say() })
	if other == here {
		other = ""
	}
	return here, other
}

// inOther does something while the words are in the other unit of temperature.
func (e *Engine) inOther(do func()) {
	w := &e.plan.Words
	w.Fahrenheit, e.others = !w.Fahrenheit, true
	do()
	w.Fahrenheit, e.others = !w.Fahrenheit, false
}

// fact says what is wrong, or no longer so, then what to check first, then what
// else is to be known.
func (e *Engine) fact(a *alarm, t Transition) string {
	return e.bare(a, t) + e.feedMeans(a) + checkFirst(t.Reason.Check) + e.whileTried(a, t) + directed(t.Reason.Directions) +
		e.plan.Words.swingSentence(a.quantity, a.side, t.Reason.Swing) + e.further(a, t)
}

// directed says the grower's own words, to follow what to check first.
func directed(words string) string {
	switch {
	case words == "":
		return ""
	case strings.HasSuffix(words, "."), strings.HasSuffix(words, "!"), strings.HasSuffix(words, "?"):
		return " Directions: " + words
	}
	return " Directions: " + words + "."
}

// directions are the plan's for what a is about.
func (a *alarm) directions() string {
	var most []string // the most specific first
	if a.works != nil {
		if a.found != nil && a.found.last.Drive >= 0 {
			most = append(most, a.works.drives[a.found.last.Drive].Directions)
		}
		if a.found != nil {
			if b, ok := a.works.bulbOf(&a.found.last); ok {
				most = append(most, b.place.plan.Directions)
			}
		}
	}
	if a.place != nil {
		most = append(most, a.place.plan.Directions)
	}
	if a.circuit != nil {
		most = append(most, a.circuit.Directions)
	}
	if a.house != nil {
		most = append(most, a.house.plan.Directions)
	}
	return cmp.Or(most...)
}

// checkFirst says what to check first, to follow a sentence; "" for nothing.
func checkFirst(what string) string {
	switch {
	case what == "":
		return ""
	case strings.HasSuffix(what, "?"), strings.HasSuffix(what, "."):
		return " Check first: " + what
	}
	return " Check first: " + what + "."
}

// bare is the first sentence of fact, or all of it where a is over.
func (e *Engine) bare(a *alarm, t Transition) string {
	switch over := a.over(t); {
	case over && e.replanning:
		return e.judgedAnew(a, t)
	default:
		return e.byRule(a, t, over)
	}
}

// further is what follows what to check first.
func (e *Engine) further(a *alarm, t Transition) string {
	s := ""
	switch {
	case a.over(t):
		return ""
	case (a.rule == RuleLimit || a.rule == RuleRate) && len(t.Reason.Lost) == 0 && t.Reason.Value != nil:
		s = e.doubtSentence(t.Reason)
	case a.rule == RuleSilent && a.probe == nil && a.circuit == nil:
		s = a.together(t)
	case a.rule == RuleFault:
		s = a.faultFurther(t.Reason)
	}
	if t.Level == Last {
		s += a.lastWords()
	}
	return s + e.notReached(a, t)
}

func (a *alarm) over(t Transition) bool { return t.To != SuppressedByDesign && a.Condition == Within }

func (e *Engine) byRule(a *alarm, t Transition, ended bool) string {
	switch a.rule {
	case RuleLimit:
		return e.limitSentence(a, t, ended)
	case RuleRate:
		return e.rateSentence(a, t, ended)
	case RuleExposure:
		return e.exposureSentence(a, t, ended)
	case RuleSilent:
		return e.silentSentence(a, t, ended)
	case RuleUnwatched:
		return e.darkSentence(a, t, ended)
	case RuleFault:
		return e.faultSentence(a, t, ended)
	case RuleSeason:
		return e.seasonSentence(a, t, ended)
	case RuleControl:
		f := a.works.toldFor(a.found, t.Move, at(t.Core))
		return a.works.controlSentence(&f, ended, t.Reason)
	case RuleTrouble:
		return e.troubleSentence(a, t, ended)
	case RuleLoop:
		return e.loopSentence(a, t, ended)
	case RuleOpening:
		return e.openingSentence(a, t, ended)
	}
	return e.linkSentence(t, ended)
}

// where names house and place: "Long House, bench".
func (a *alarm) where() string {
	switch {
	case a.place != nil:
		return a.house.plan.Name + ", " + a.place.plan.Name
	case a.house != nil:
		return a.house.plan.Name
	}
	return "The watch"
}

var quantityWords = map[Quantity]string{
	Temperature: "temperature", Humidity: "humidity", Surface: "surface temperature", Soil: "soil temperature",
	VPD: "vapour pressure deficit", DewMargin: "margin above the dew point", Contact: "contact", Current: "current",
	Power: "power", Speed: "speed", Opening: "position", Battery: "battery", Voltage: "voltage", Signal: "radio signal", Pressure: "air pressure",
}

// Word returns q in plain words.
func (q Quantity) Word() string {
	if w, ok := quantityWords[q]; ok {
		return w
	}
	return string(q)
}

// orThe names what is measured, to follow "what ".
func orThe(subject string) string {
	if subject == "" {
		return "the temperature "
	}
	return "the " + subject
}

// subject is put before a value, except for air temperature.
func subject(q Quantity) string {
	if q == Temperature {
		return ""
	}
	return q.Word() + " "
}

// after says for how long it held, where that was longer than a moment.
func after(r Reason) string {
	if r.Lasted.Round(time.Second) > 0 {
		return " after " + Span(r.Lasted)
	}
	return ""
}

func (e *Engine) linkSentence(t Transition, ended bool) string {
	if ended {
		return fmt.Sprintf("The broker is reached again%s. Readings are awaited.", after(t.Reason))
	}
	why := ""
	if e.link.Why != "" { // the note may be what a person said
		why = " (" + strings.TrimSuffix(e.link.Why, ".") + ")"
	}
	if t.Reason.Value != nil {
		return fmt.Sprintf("The broker comes and goes: lost %.0f times since %s%s. Readings get lost.",
			*t.Reason.Value, e.plan.Words.Clock(t.Reason.Since, t.Due), why)
	}
	return fmt.Sprintf("The broker has not been reached since %s%s. Nothing is being watched.",
		e.plan.Words.Clock(t.Reason.Since, t.Due), why)
}
