package alarms

import (
	"fmt"
	"strings"
	"time"
)

// amissWords say what a value below and above its limits is; of others it is
// "too low" and "too high".
var amissWords = map[Quantity][2]string{
	Temperature: {"too cold", "too hot"}, Surface: {"too cold", "too hot"}, Soil: {"too cold", "too hot"},
	Humidity: {"too dry", "too damp"}, VPD: {"too damp", "too dry"},
}

// Amiss says in plain words what a value of q beyond a limit is, by itself or
// to stand beside the value: "too cold", "too damp".
func (q Quantity) Amiss(s Side) string {
	both, ok := amissWords[q]
	if !ok {
		both = [2]string{"too low", "too high"}
	}
	if s == LowSide {
		return both[0]
	}
	return both[1]
}

// Amiss says in plain words what is wrong where q is beyond a limit of a level:
// "too cold", "far too damp", "soil too cold".
func Amiss(q Quantity, s Side, l Level) string {
	if q == DewMargin && s == LowSide {
		if l == Inner {
			return "leaves getting wet"
		}
		return "leaves close to getting wet"
	}
	words := q.Amiss(s)
	if l == Inner {
		words = "far " + words
	}
	switch q {
	case Temperature, Humidity:
		return words
	case VPD:
		return words + " (" + q.Word() + ")"
	case Surface, Soil:
		return string(q) + " " + words
	}
	return q.Word() + " " + words
}

// AmissFast says in plain words what is wrong where q changes too fast: "cooling
// fast", "humidity rising fast".
func AmissFast(q Quantity, s Side) string {
	word := "rising"
	switch {
	case q == Temperature && s == LowSide:
		return "cooling fast"
	case q == Temperature:
		return "warming fast"
	case s == LowSide:
		word = "falling"
	}
	return q.Word() + " " + word + " fast"
}

// amiss begins a sentence on a, at a level, with what is wrong and where: "Far
// too cold in Long House, bench".
func (a *alarm) amiss(l Level) string {
	words := AmissFast(a.quantity, a.side)
	if a.rule == RuleLimit {
		words = strings.TrimSuffix(Amiss(a.quantity, a.side, l), " ("+a.quantity.Word()+")")
	}
	return capital(words) + " in " + a.where()
}

// lead is put before a value where the words for what is wrong do not say what
// is measured.
func lead(q Quantity) string {
	if q == Humidity || q == VPD {
		return q.Word() + " "
	}
	return ""
}

// said writes a value in a sentence; a margin above the dew point says which
// side of it.
func (w Words) said(q Quantity, v float64) string { return w.saidTo(q, v, 0) }

func (w Words) saidTo(q Quantity, v float64, more int) string {
	if q == DewMargin {
		return w.margin(v, more) + " the dew point"
	}
	return w.value(q, v, more)
}

func (w Words) margin(v float64, more int) string {
	if v < 0 {
		return w.distance(DewMargin, -v, more) + " below"
	}
	return w.distance(DewMargin, v, more) + " above"
}

// bounded says a value and the limit that it is judged by: "37.0 °C (limit 35.0 °C)".
func (w Words) bounded(q Quantity, v float64, limit *float64) string {
	value, bound := w.bounds(q, v, limit)
	if bound == "" {
		return value
	}
	return value + " (" + bound + ")"
}

// bounds writes a value, and the limit where there is one, with one more decimal
// where they would read alike.
func (w Words) bounds(q Quantity, v float64, limit *float64) (value, bound string) {
	if limit == nil {
		return w.said(q, v), ""
	}
	for more := range 2 {
		value, bound = w.saidTo(q, v, more), w.value(q, *limit, more)
		if q == DewMargin {
			bound = w.margin(*limit, more)
		}
		if !strings.HasPrefix(value, bound) {
			return value, "limit " + bound
		}
	}
	return w.said(q, v), "just past the limit"
}

func (e *Engine) limitSentence(a *alarm, t Transition, ended bool) string {
	w, r, q := e.plan.Words, t.Reason, a.quantity
	if !ended && a.Condition != Within { // what is held is told at the worst that it was at
		t.Level = min(t.Level, a.Condition)
	}
	switch {
	case ended:
		return e.limitEnd(a, t)
	case len(r.Lost) > 0:
		return e.lostSentence(a, t, e.valueOf(r, q))
	case r.Value == nil:
		return a.amiss(t.Level) + " when it was last seen."
	}
	level := t.Level
	if q == DewMargin && *r.Value < 0 {
		level = Inner // it is so already
	}
	s := a.amiss(level) + ": " + lead(q) + w.bounded(q, *r.Value, r.Limit)
	if r.Limit != nil && a.gauge != nil && a.sign()*(*r.Value-*r.Limit) < 0 {
		s += ", within it again"
	}
	s += e.atProbe(a, r)
	if !r.Since.IsZero() {
		s += a.held(t) + " since " + w.Clock(r.Since, t.Due)
	}
	if r.Rate != nil && !(a.sign()**r.Rate < 0 && (t.Move == Raise || t.Move == Worsen)) {
		s += ", " + w.Course(q, *r.Rate)
	}
	if r.Was != nil && t.Move == Worsen {
		told := "last told"
		if t.From == Acknowledged {
			told = "acknowledged"
		}
		s += "; it was " + w.said(q, *r.Was) + " when " + told
	}
	if t.Move == Ease {
		return s + ". It is less bad than before."
	}
	return s + "."
}

func (a *alarm) sign() float64 {
	if a.side == LowSide {
		return -1
	}
	return 1
}

// atProbe names the probe that a goes by, where the place has others of its quantity.
func (e *Engine) atProbe(a *alarm, r Reason) string {
	p := e.probes[r.Probe]
	if p == nil || r.Fault != "" || len(a.place.point(a.quantity).streams) < 2 {
		return ""
	}
	return " at " + p.plan.Name
}

func (e *Engine) valueOf(r Reason, q Quantity) string {
	if r.Value == nil {
		return ""
	}
	return e.plan.Words.said(q, *r.Value)
}

// longDelay is a delay from which on it matters more for how long a limit is
// passed than by how much.
const longDelay = 30 * time.Minute

// held says for how long a limit has been passed, where it is one of those
// that may be passed for a while.
func (a *alarm) held(t Transition) string {
	b := a.place.point(a.quantity).inForce()
	delay := b.Delay
	if t.Level == Inner {
		delay = b.QuickDelay
	}
	if delay < longDelay {
		return ""
	}
	return " for " + Span(t.Due.Sub(t.Reason.Since)) + ","
}

// Course says how a value moves that changes so much an hour: "rising 2.1 °C
// an hour", "falling ...", or "steady" where that is too slow to matter.
func (w Words) Course(q Quantity, perHour float64) string {
	still := 0.5
	switch q {
	case Humidity:
		still = 2
	case VPD:
		still = 0.05
	}
	switch {
	case perHour >= still:
		return "rising " + w.Distance(q, perHour) + " an hour"
	case perHour <= -still:
		return "falling " + w.Distance(q, -perHour) + " an hour"
	}
	return "steady"
}

func (e *Engine) limitEnd(a *alarm, t Transition) string {
	w, r, q := e.plan.Words, t.Reason, a.quantity
	s := fmt.Sprintf("%s: %sback within its limits", a.where(), subject(q))
	if q == DewMargin {
		s = a.where() + ": leaves back within their limits"
	}
	if r.Value != nil {
		s += " at " + w.said(q, *r.Value)
	}
	by, raised := e.instead(r, t)
	s += by + after(r)
	if r.Peak != nil {
		word := "highest"
		if a.side == LowSide {
			word = "lowest"
		}
		s += fmt.Sprintf("; the %s was %s", word, w.said(q, *r.Peak))
	}
	return s + "." + raised
}

func (e *Engine) rateSentence(a *alarm, t Transition, ended bool) string {
	w, r, q := e.plan.Words, t.Reason, a.quantity
	if ended {
		by, raised := e.instead(r, t)
		return fmt.Sprintf("%s: no longer %s%s%s.%s", a.where(), AmissFast(q, a.side), by, after(r), raised)
	}
	if len(r.Lost) > 0 {
		return e.lostSentence(a, t, e.valueOf(r, q))
	}
	if r.Rate == nil || r.Limit == nil || r.Value == nil {
		return a.amiss(t.Level) + " when it was last seen."
	}
	return fmt.Sprintf("%s: %s%s, %s at %s.", a.amiss(t.Level), w.paced(q, a.sign()**r.Rate, *r.Limit), e.atProbe(a, r),
		w.Value(q, *r.Value), w.Clock(t.Due, t.Due))
}

// paced says how fast something changes, and how fast it may.
func (w Words) paced(q Quantity, rate, limit float64) string {
	for more := range 2 {
		if by, bound := w.distance(q, rate, more), w.distance(q, limit, more); by != bound {
			return by + " an hour (limit " + bound + " an hour)"
		}
	}
	return w.Distance(q, rate) + " an hour (just past the limit)"
}
