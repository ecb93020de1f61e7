package say

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"telltale/alarms"
)

// amiss begins a sentence, at a level, with what is wrong and where: "Far too cold
// in Long House, bench".
func (s *speaker) amiss(o *alarms.Subject, l alarms.Level) string {
	words := s.AmissFast(o.Quantity, o.Side)
	if o.Rule == alarms.RuleLimit {
		words = s.wrong(o.Quantity, o.Side, l)
	}
	return capital(words) + " in " + s.where(o)
}

// lead is put before a value where the words for what is wrong do not say what
// is measured.
func lead(q alarms.Quantity) string {
	if w := wordsOf(q); w.lead {
		return w.word + " "
	}
	return ""
}

// said writes a value in a sentence; a margin above the dew point says which
// side of it.
func (m Locale) said(q alarms.Quantity, v float64) string { return m.saidTo(q, v, 0) }

func (m Locale) saidTo(q alarms.Quantity, v float64, more int) string {
	if q == alarms.DewMargin {
		return m.margin(v, more) + " the dew point"
	}
	return m.value(q, v, more)
}

func (m Locale) margin(v float64, more int) string {
	if v < 0 {
		return m.distance(alarms.DewMargin, -v, more) + " below"
	}
	return m.distance(alarms.DewMargin, v, more) + " above"
}

// bounded says a value and the limit that it is judged by: "37.0 °C (limit 35.0 °C)".
func (m Locale) bounded(q alarms.Quantity, v float64, limit *float64) string {
	value, bound := m.bounds(q, v, limit)
	if bound == "" {
		return value
	}
	return value + " (" + bound + ")"
}

// bounds writes a value, and the limit where there is one, with one more decimal
// where they would read alike.
func (m Locale) bounds(q alarms.Quantity, v float64, limit *float64) (value, bound string) {
	if limit == nil {
		return m.said(q, v), ""
	}
	for more := range 2 {
		value, bound = m.saidTo(q, v, more), m.value(q, *limit, more)
		if q == alarms.DewMargin {
			bound = m.margin(*limit, more)
		}
		if !strings.HasPrefix(value, bound) {
			return value, "limit " + bound
		}
	}
	return m.said(q, v), "just past the limit"
}

// longDelay is a delay from which on it matters more for how long a limit is
// passed than by how much.
const longDelay = 30 * time.Minute

func (n *telling) limit(ended bool) string {
	r, q, o := n.r, n.o.Quantity, n.o
	level := n.Level
	if !ended && n.f.Condition != alarms.Within { // what is held is told at the worst that it was at
		level = min(level, n.f.Condition)
	}
	switch {
	case ended:
		return n.limitEnd()
	case len(r.Lost) > 0:
		return n.lost()
	case r.Value == nil:
		return n.amiss(o, level) + " when it was last seen."
	}
	if q == alarms.DewMargin && *r.Value < 0 {
		level = alarms.Inner // it is so already
	}
	s := n.amiss(o, level) + ": " + lead(q) + n.bounded(q, *r.Value, r.Limit)
	again := r.Limit != nil && o.Side.Sign()*(*r.Value-*r.Limit) < 0
	if again {
		s += ", within it again"
	}
	s += n.atProbe()
	if !r.Since.IsZero() && !again {
		if n.f.Delay >= longDelay { // one that may be passed for a while
			s += " for " + n.Span(n.Due.Sub(r.Since)) + ","
		}
		s += " since " + n.Clock(r.Since, n.Due)
	}
	if r.Rate != nil && !(o.Side.Sign()**r.Rate < 0 && (n.Move == alarms.Raise || n.Move == alarms.Worsen)) {
		s += ", " + n.Course(q, *r.Rate)
	}
	if r.Was != nil && n.Move == alarms.Worsen {
		told := "last told"
		if n.From == alarms.Acknowledged {
			told = "acknowledged"
		}
		s += "; it was " + n.said(q, *r.Was) + " when " + told
	}
	if again && !r.Since.IsZero() {
		s += "; it began at " + n.Clock(r.Since, n.Due)
	}
	if n.Move == alarms.Ease {
		return s + ". It is less bad than before."
	}
	return s + "."
}

// atProbe names the probe that it goes by, where the place has others of its quantity.
func (n *telling) atProbe() string {
	if n.r.Probe == "" || n.r.Fault != "" || measuring(n.place(n.h, n.o.Place), n.o.Quantity) < 2 {
		return ""
	}
	return " at " + n.probe(n.r.Probe)
}

// Course says how a value moves that changes so much an hour: "rising 2.1 °C
// an hour", "falling ...", or "steady" where that is too slow to matter.
func (m Locale) Course(q alarms.Quantity, perHour float64) string {
	still := cmp.Or(q.Facts().Still, 0.5)
	switch {
	case perHour >= still:
		return "rising " + m.Distance(q, perHour) + " an hour"
	case perHour <= -still:
		return "falling " + m.Distance(q, -perHour) + " an hour"
	}
	return "steady"
}

func extreme(s alarms.Side) string {
	if s == alarms.LowSide {
		return "lowest"
	}
	return "highest"
}

func (n *telling) limitEnd() string {
	r, q := n.r, n.o.Quantity
	s := fmt.Sprintf("%s: %sback within its limits", n.where(n.o), n.subject(q))
	if q == alarms.DewMargin {
		s = n.where(n.o) + ": leaves back within their limits"
	}
	if r.Value != nil {
		s += " at " + n.said(q, *r.Value)
	}
	by, raised := n.instead()
	s += by + n.after()
	if r.Peak != nil {
		s += fmt.Sprintf("; the %s was %s", extreme(n.o.Side), n.said(q, *r.Peak))
	}
	return s + "." + raised
}

func (n *telling) rate(ended bool) string {
	r, q := n.r, n.o.Quantity
	if ended {
		by, raised := n.instead()
		return fmt.Sprintf("%s: no longer %s%s%s.%s", n.where(n.o), n.AmissFast(q, n.o.Side), by, n.after(), raised)
	}
	if len(r.Lost) > 0 {
		return n.lost()
	}
	if r.Rate == nil || r.Limit == nil || r.Value == nil {
		return n.amiss(n.o, n.Level) + " when it was last seen."
	}
	return fmt.Sprintf("%s: %s%s, %s at %s.", n.amiss(n.o, n.Level), n.paced(q, n.o.Side.Sign()**r.Rate, *r.Limit), n.atProbe(),
		n.Value(q, *r.Value), n.Clock(n.Due, n.Due))
}

// paced says how fast something changes, and how fast it may.
func (m Locale) paced(q alarms.Quantity, rate, limit float64) string {
	for more := range 2 {
		if by, bound := m.distance(q, rate, more), m.distance(q, limit, more); by != bound {
			return by + " an hour (limit " + bound + " an hour)"
		}
	}
	return m.Distance(q, rate) + " an hour (just past the limit)"
}

// swings says that something comes and goes, to follow a sentence; "" where it
// does not.
func (n *telling) swings() string {
	s := n.r.Swing
	if s == nil {
		return ""
	}
	far := ""
	if s.Far != nil {
		far = ", up to "
		if n.o.Side == alarms.LowSide {
			far = ", down to "
		}
		far += n.Value(n.o.Quantity, *s.Far)
	}
	span := n.Span(s.Within)
	if s.Within == time.Hour {
		span = "hour"
	}
	return fmt.Sprintf(" It comes and goes: %d times in the last %s%s. That it is over is told when it has been quiet for %s.",
		s.Times, span, far, n.Span(s.Quiet))
}

// slow says that a rate is not judged, and why.
func (s *speaker) slow(l *alarms.SlowRate) string {
	at := ""
	for i := range s.plan.Houses {
		for _, p := range s.plan.Houses[i].Places {
			for _, pr := range p.Probes {
				if pr.ID == l.Probe {
					at = s.plan.Houses[i].Name + ", " + p.Name
				}
			}
		}
	}
	return fmt.Sprintf("%s: how fast the %s changes is not judged by probe %s: it reports every %s, and %d readings within %s are needed.",
		at, s.Word(l.Quantity), s.probe(l.Probe), s.Span(l.Every), l.Needs, s.Span(l.Within))
}
