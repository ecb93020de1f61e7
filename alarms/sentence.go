package alarms

import (
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
	here = say()
	e.inOther(func() { other = say() })
	if other == here {
		other = ""
	}
	return here, other
}

// inOther does something while the words are in the other unit of temperature.
func (e *Engine) inOther(do func()) {
	w := &e.plan.Words
	w.Fahrenheit = !w.Fahrenheit
	do()
	w.Fahrenheit = !w.Fahrenheit
}

// fact says what is wrong, or no longer so.
func (e *Engine) fact(a *alarm, t Transition) string {
	s := e.bare(a, t)
	if t.Reason.Check != "" {
		s += " Check first: " + t.Reason.Check
		if !strings.HasSuffix(s, "?") && !strings.HasSuffix(s, ".") {
			s += "."
		}
	}
	return s
}

func (e *Engine) bare(a *alarm, t Transition) string {
	ended := t.To != SuppressedByDesign && a.Condition == Within
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
		return a.works.controlSentence(&a.found.last, ended, t.Reason)
	case RuleTrouble:
		return e.troubleSentence(a, t, ended)
	case RuleLoop:
		return e.loopSentence(a, t, ended)
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
	Power: "power", Speed: "speed", Battery: "battery", Voltage: "voltage", Signal: "radio signal", Pressure: "air pressure",
}

// Word returns q in plain words.
func (q Quantity) Word() string {
	if w, ok := quantityWords[q]; ok {
		return w
	}
	return string(q)
}

// subject is put before a value, except for air temperature.
func subject(q Quantity) string {
	if q == Temperature {
		return ""
	}
	return q.Word() + " "
}

func limitName(a *alarm, l Level) string {
	n := "high"
	if a.side == LowSide {
		n = "low"
	}
	if l == Inner {
		n += "-" + n
	}
	return n
}

func (e *Engine) limitSentence(a *alarm, t Transition, ended bool) string {
	w, r, q := e.plan.Words, t.Reason, a.quantity
	if ended {
		return e.limitEnd(a, t)
	}
	if r.Value == nil {
		return fmt.Sprintf("%s: %swas beyond its %s limit when it was last seen.", a.where(), orThe(subject(q)), limitName(a, t.Level))
	}
	s := fmt.Sprintf("%s: %s%s", a.where(), subject(q), w.Value(q, *r.Value))
	if r.Limit != nil {
		d, word := *r.Value-*r.Limit, "above"
		if a.side == LowSide {
			d, word = -d, "below"
		}
		far := w.Distance(q, d)
		switch {
		case d < 0: // between limit and deadband, on the way back
			far, word = "back within", "the deadband of"
		case strings.TrimLeft(far, "0.") == strings.TrimLeft(w.Distance(q, 0), "0."):
			far = "just"
		}
		s += fmt.Sprintf(", %s %s the %s limit of %s", far, word, limitName(a, t.Level), w.Value(q, *r.Limit))
	}
	if !r.Since.IsZero() {
		s += a.held(t) + ", since " + w.Clock(r.Since, t.Due)
	}
	s += e.speed(q, r.Rate)
	if t.Move == Ease {
		return s + ". It is less bad than before."
	}
	return s + "."
}

// longDelay is a delay from which on it matters more for how long a limit is
// passed than by how much.
const longDelay = 30 * time.Minute

// held says for how long a limit has been passed, where it is one of those
// that may be passed for a while.
func (a *alarm) held(t Transition) string {
	b := a.place.point(a.quantity).band
	delay := b.Delay
	if t.Level == Inner {
		delay = b.QuickDelay
	}
	if delay < longDelay {
		return ""
	}
	return ", for " + Span(t.Due.Sub(t.Reason.Since))
}

func orThe(subject string) string {
	if subject == "" {
		return "the temperature "
	}
	return "the " + subject
}

// speed says how fast a value moves where that matters.
func (e *Engine) speed(q Quantity, rate *float64) string {
	if rate == nil {
		return ""
	}
	still := 0.5
	switch q {
	case Humidity:
		still = 2
	case VPD:
		still = 0.05
	}
	switch {
	case *rate >= still:
		return ", rising " + e.plan.Words.Distance(q, *rate) + " an hour"
	case *rate <= -still:
		return ", falling " + e.plan.Words.Distance(q, -*rate) + " an hour"
	}
	return ", steady"
}

func (e *Engine) limitEnd(a *alarm, t Transition) string {
	w, r, q := e.plan.Words, t.Reason, a.quantity
	s := fmt.Sprintf("%s: %sback within its limits", a.where(), subject(q))
	if r.Value != nil {
		s += " at " + w.Value(q, *r.Value)
	}
	s += after(r)
	if r.Peak != nil {
		word := "highest"
		if a.side == LowSide {
			word = "lowest"
		}
		s += fmt.Sprintf("; the %s was %s", word, w.Value(q, *r.Peak))
	}
	return s + "."
}

func (e *Engine) rateSentence(a *alarm, t Transition, ended bool) string {
	w, r, q := e.plan.Words, t.Reason, a.quantity
	word := "rising"
	if a.side == LowSide {
		word = "falling"
	}
	if ended {
		return fmt.Sprintf("%s: %s no longer %s fast%s.", a.where(), q.Word(), word, after(r))
	}
	if r.Rate == nil || r.Limit == nil || r.Value == nil {
		return fmt.Sprintf("%s: %s was %s fast when it was last seen.", a.where(), q.Word(), word)
	}
	rate := *r.Rate
	if a.side == LowSide {
		rate = -rate
	}
	return fmt.Sprintf("%s: %s %s %s an hour, %s over the limit of %s an hour; it is %s now.", a.where(), q.Word(), word,
		w.Distance(q, rate), w.Distance(q, max(rate-*r.Limit, 0)), w.Distance(q, *r.Limit), w.Value(q, *r.Value))
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
	if t.Reason.Note != "" {
		why = " (" + strings.TrimSuffix(t.Reason.Note, ".") + ")"
	}
	return fmt.Sprintf("The broker has not been reached since %s%s. Nothing is being watched.",
		e.plan.Words.Clock(t.Reason.Since, t.Due), why)
}
