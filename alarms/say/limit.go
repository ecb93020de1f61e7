package say

import (
	"cmp"
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
	return capital(s.say("%s in %s", words, s.where(o)))
}

// lead is put before a value where the words for what is wrong do not say what
// is measured.
func (s *speaker) lead(q alarms.Quantity) string {
	if w := wordsOf(q); w.lead {
		return s.say(w.word) + " "
	}
	return ""
}

// said writes a value in a sentence; a margin above the dew point says which
// side of it.
func (m Locale) said(q alarms.Quantity, v float64) string { return m.saidTo(q, v, 0) }

func (m Locale) saidTo(q alarms.Quantity, v float64, more int) string {
	if q == alarms.DewMargin {
		return m.say("%s the dew point", m.margin(v, more))
	}
	return m.value(q, v, more)
}

func (m Locale) margin(v float64, more int) string {
	if v < 0 {
		return m.say("%s below", m.distance(alarms.DewMargin, -v, more))
	}
	return m.say("%s above", m.distance(alarms.DewMargin, v, more))
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
			return value, m.say("limit %s", bound)
		}
	}
	return m.said(q, v), m.say("just past the limit")
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
		return n.say("%s when it was last seen.", n.amiss(o, level))
	}
	if q == alarms.DewMargin && *r.Value < 0 {
		level = alarms.Inner // it is so already
	}
	s := n.amiss(o, level) + ": " + n.lead(q) + n.bounded(q, *r.Value, r.Limit)
	again := r.Limit != nil && o.Side.Sign()*(*r.Value-*r.Limit) < 0
	if again {
		s += n.say(", within it again")
	}
	s += n.atProbe()
	if !r.Since.IsZero() && !again {
		if n.f.Delay >= longDelay { // one that may be passed for a while
			s += n.say(" for %s,", n.Span(n.Due.Sub(r.Since)))
		}
		s += n.say(" since %s", n.Clock(r.Since, n.Due))
	}
	if r.Rate != nil && !(o.Side.Sign()**r.Rate < 0 && (n.Move == alarms.Raise || n.Move == alarms.Worsen)) {
		s += ", " + n.Course(q, *r.Rate)
	}
	if r.Was != nil && n.Move == alarms.Worsen {
		told := n.say("last told")
		if n.From == alarms.Acknowledged {
			told = n.say("acknowledged")
		}
		s += n.say("; it was %s when %s", n.said(q, *r.Was), told)
	}
	if again && !r.Since.IsZero() {
		s += n.say("; it began at %s", n.Clock(r.Since, n.Due))
	}
	if n.Move == alarms.Ease {
		return s + n.say(". It is less bad than before.")
	}
	return s + "."
}

// atProbe names the probe that it goes by, where the place has others of its quantity.
func (n *telling) atProbe() string {
	if n.r.Probe == "" || n.r.Fault != "" || measuring(n.place(n.h, n.o.Place), n.o.Quantity) < 2 {
		return ""
	}
	return n.say(" at %s", n.probe(n.r.Probe))
}

// Course says how a value moves that changes so much an hour: "rising 2.1 °C
// an hour", "falling ...", or "steady" where that is too slow to matter.
func (m Locale) Course(q alarms.Quantity, perHour float64) string {
	still := cmp.Or(q.Facts().Still, 0.5)
	switch {
	case perHour >= still:
		return m.say("rising %s an hour", m.Distance(q, perHour))
	case perHour <= -still:
		return m.say("falling %s an hour", m.Distance(q, -perHour))
	}
	return m.say("steady")
}

func (s *speaker) extreme(of alarms.Side) string {
	if of == alarms.LowSide {
		return s.say("lowest|it was")
	}
	return s.say("highest|it was")
}

func (n *telling) limitEnd() string {
	r, q := n.r, n.o.Quantity
	s := n.say("%s: %sback within its limits", n.where(n.o), n.subject(q))
	if q == alarms.DewMargin {
		s = n.say("%s: leaves back within their limits", n.where(n.o))
	}
	if r.Value != nil {
		s += n.say(" at %s|a value", n.said(q, *r.Value))
	}
	by, raised := n.instead()
	s += by + n.after()
	if r.Peak != nil {
		s += n.say("; the %s was %s", n.extreme(n.o.Side), n.said(q, *r.Peak))
	}
	return s + "." + raised
}

func (n *telling) rate(ended bool) string {
	r, q := n.r, n.o.Quantity
	if ended {
		by, raised := n.instead()
		return n.say("%s: no longer %s%s%s.%s", n.where(n.o), n.AmissFast(q, n.o.Side), by, n.after(), raised)
	}
	if len(r.Lost) > 0 {
		return n.lost()
	}
	if r.Rate == nil || r.Limit == nil || r.Value == nil {
		return n.say("%s when it was last seen.", n.amiss(n.o, n.Level))
	}
	return n.say("%s: %s%s, %s at %s.", n.amiss(n.o, n.Level), n.paced(q, n.o.Side.Sign()**r.Rate, *r.Limit), n.atProbe(),
		n.Value(q, *r.Value), n.Clock(n.Due, n.Due))
}

// paced says how fast something changes, and how fast it may.
func (m Locale) paced(q alarms.Quantity, rate, limit float64) string {
	for more := range 2 {
		if by, bound := m.distance(q, rate, more), m.distance(q, limit, more); by != bound {
			return m.say("%s an hour (limit %s an hour)", by, bound)
		}
	}
	return m.say("%s an hour (just past the limit)", m.Distance(q, rate))
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
		far = n.say(", up to ")
		if n.o.Side == alarms.LowSide {
			far = n.say(", down to ")
		}
		far += n.Value(n.o.Quantity, *s.Far)
	}
	span := n.Span(s.Within)
	if s.Within == time.Hour {
		span = n.say("hour")
	}
	return n.say(" It comes and goes: %d times in the last %s%s. That it is over is told when it has been quiet for %s.",
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
	return s.say("%s: how fast the %s changes is not judged by probe %s: it reports every %s, and %d readings within %s are needed.",
		at, s.Word(l.Quantity), s.probe(l.Probe), s.Span(l.Every), l.Needs, s.Span(l.Within))
}
