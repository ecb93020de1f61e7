package alarms

import (
	"fmt"
	"strings"
	"time"
)

// readLately is up to what age a reading is simply of now; an older one of a
// probe that is heard in its time says how old it is.
const readLately = 90 * time.Second

// nowSaid says what holds at one moment. It is to be shown, never to be kept:
// what is kept says when.
type nowSaid struct {
	e   *Engine
	w   Words
	now time.Time
}

// sentence says what holds now of what a tells of.
func (n nowSaid) sentence(a *alarm, p Present) string {
	switch {
	case a.rule == RuleLimit:
		return n.limit(a, p) + n.check(a)
	case a.rule == RuleRate:
		return n.rate(a, p) + n.check(a)
	case a.Condition != Within:
		return n.fact(a, p)
	case a.State == ReturnedUnack && a.Sentence != "":
		return a.Sentence
	}
	return a.title() + "."
}

// check says what to check first while a is on.
func (n nowSaid) check(a *alarm) string {
	if a.Condition == Within || a.Why == nil {
		return ""
	}
	return checkFirst(check(a, *a.Why)) + directed(a.directions())
}

// fact says anew what a tells of, with what has come of it since.
func (n nowSaid) fact(a *alarm, p Present) string {
	r := n.e.reason(a, Raise, n.e.now)
	t := Transition{Alarm: a.id, Move: Raise, To: Unacknowledged, Level: a.Condition, Due: n.now, Reason: r}
	s, w := "", n.w
	switch a.rule {
	case RuleControl:
		s = a.works.against(a.works.present(&a.found.last), ofNow)
		if p.Value != nil && !p.Live {
			s += fmt.Sprintf(" How warm it is there now is not known: %s.", n.lastKnown(p, nil))
		}
	case RuleExposure:
		s = n.e.bare(a, t) + " " + n.value(subject, p, nil) + "."
	case RuleSilent, RuleUnwatched, RuleLink:
		s = n.e.bare(a, t) + n.soLong(a, r) + n.e.feedMeans(a)
		if p.Value != nil && !p.Live {
			s += fmt.Sprintf(" The last %s there was %s, at %s.", p.Quantity.Word(), w.Value(p.Quantity, *p.Value), w.Clock(p.At, t.Due))
		}
	default:
		s = n.e.bare(a, t)
	}
	return s + checkFirst(r.Check) + directed(r.Directions) + n.e.further(a, t)
}

// soLong says for how long it has been so by now.
func (n nowSaid) soLong(a *alarm, r Reason) string {
	since := r.Since
	if since.IsZero() {
		since = n.e.wall(a.Began)
	}
	if since.IsZero() {
		return ""
	}
	return fmt.Sprintf(" That is %s by now.", Span(n.now.Sub(since)))
}

// limit says how far beyond or within its limit a value is now, which way it
// goes, and how bad it was.
func (n nowSaid) limit(a *alarm, p Present) string {
	w, q := n.w, a.quantity
	s := a.where() + ": " + n.value(subject, p, nil)
	switch {
	case p.Beyond != nil && *p.Beyond > 0 && q == DewMargin && *p.Value < 0:
		s = a.amiss(Inner) + ": " + n.value(lead, p, p.Limit)
	case p.Beyond != nil && *p.Beyond > 0:
		s = a.amiss(p.level) + ": " + n.value(lead, p, p.Limit)
	case p.Beyond != nil && p.Live:
		s += fmt.Sprintf(", back within the limit of %s", w.said(q, *p.Limit))
	case p.Beyond == nil:
		s = a.amiss(a.Level) + ": " + n.value(lead, p, nil)
	}
	if p.Live && p.Rate != nil {
		s += "; " + w.Course(q, *p.Rate)
	}
	if p.Worst != nil && !(p.Live && *p.Worst == *p.Value) {
		word := "highest"
		if a.side == LowSide {
			word = "lowest"
		}
		s += fmt.Sprintf("; the %s was %s at %s", word, w.said(q, *p.Worst), w.Clock(p.WorstAt, n.now))
	}
	return s + n.raisedWith(p) + "."
}

// raisedWith says with what value the alarm was raised, where that has changed.
func (n nowSaid) raisedWith(p Present) string {
	if p.First == nil || p.Value != nil && p.Live && *p.First == *p.Value {
		return ""
	}
	w := n.w
	return fmt.Sprintf("; %s when raised at %s", w.said(p.Quantity, *p.First), w.Clock(p.FirstAt, n.now))
}

// rate says how fast a value changes now.
func (n nowSaid) rate(a *alarm, p Present) string {
	w, q := n.w, a.quantity
	s := a.where() + ": " + n.value(subject, p, nil)
	switch {
	case p.Rate == nil:
		s += "; how fast it changes now is not known"
	case p.Beyond != nil && *p.Beyond > 0:
		s = a.amiss(Outer) + ": " + w.paced(q, a.sign()**p.Rate, *p.Limit) + "; " + n.value(lead, p, nil)
	default:
		s += ", " + w.Course(q, *p.Rate) + ", within the limit"
	}
	if p.Worst != nil && !(p.Rate != nil && *p.Worst == *p.Rate) {
		s += fmt.Sprintf("; the fastest was %s an hour at %s", w.Distance(q, a.sign()**p.Worst), w.Clock(p.WorstAt, n.now))
	}
	return s + n.raisedWith(p) + "."
}

// value says what a value is now, behind its noun and beside a limit where one is given, or that
// this is not known and what it last was, with its age.
func (n nowSaid) value(noun func(Quantity) string, p Present, limit *float64) string {
	if p.Live {
		value, bound := n.w.bounds(p.Quantity, *p.Value, limit)
		s := noun(p.Quantity) + value + " now"
		var more []string
		if bound != "" {
			more = append(more, bound)
		}
		if p.name != "" {
			more = append(more, "probe "+p.name)
		}
		if old := n.now.Sub(p.At); old >= readLately {
			more = append(more, "read "+Span(old)+" ago")
		}
		if len(more) > 0 {
			s += " (" + strings.Join(more, ", ") + ")"
		}
		return s
	}
	s := "what " + orThe(subject(p.Quantity)) + "is now is not known"
	if p.Value != nil {
		s += "; " + n.lastKnown(p, limit)
	}
	return s
}

// lastKnown says what was last known, and how long ago.
func (n nowSaid) lastKnown(p Present, limit *float64) string {
	w, now := n.w, n.now
	return fmt.Sprintf("last heard at %s, %s ago: %s", w.Clock(p.At, now), Span(now.Sub(p.At)), w.bounded(p.Quantity, *p.Value, limit))
}
