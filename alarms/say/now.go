package say

import (
	"strings"
	"time"

	"telltale/alarms"
)

// present says what holds at one moment. It is to be shown, never to be kept:
// what is kept says when.
type present struct {
	*speaker
	a   *alarms.AlarmPicture
	p   *alarms.Present
	now time.Time
}

// alarm says what holds now of what a tells of.
func (s *speaker) alarm(a *alarms.AlarmPicture, pic *alarms.Picture) string {
	n := present{s, a, &a.Present, pic.At}
	switch {
	case a.Rule == alarms.RuleLimit:
		return n.limit() + n.check()
	case a.Rule == alarms.RuleRate:
		return n.rate() + n.check()
	case a.Now != nil:
		return n.fact()
	case a.State == alarms.ReturnedUnack:
		return a.Told
	}
	return s.title(&a.Of) + "."
}

// first is what to check first, with the garden's own directions, in sentences; "" for nothing.
func (s *speaker) first(a *alarms.AlarmPicture) string {
	return strings.TrimSpace(present{speaker: s, a: a}.check())
}

// check says what to check first while it is on.
func (n present) check() string {
	if n.a.Now == nil {
		return ""
	}
	t := newTelling(*n.speaker, n.a.Now)
	return n.checkFirst(t.check()) + n.directed(t.r.Directions)
}

// fact says again what a tells of, with what has come of it since.
func (n present) fact() string {
	t, p := newTelling(*n.speaker, n.a.Now), n.p
	s := ""
	switch n.a.Rule {
	case alarms.RuleControl:
		s = n.controls(n.a.House).against(t.f.Verdict, ofNow)
		if p.Value != nil && !p.Live {
			s += n.say(" How warm it is there now is not known: %s.", n.lastKnown(nil))
		}
	case alarms.RuleExposure:
		s = t.bare() + " " + n.value(n.subject, nil) + "."
	case alarms.RuleSilent, alarms.RuleUnwatched, alarms.RuleLink:
		s = t.bare() + n.soLong(t.r.Since) + feed{t}.means()
		if p.Value != nil && !p.Live {
			s += n.say(" The last %s there was %s, at %s.", n.Word(p.Quantity), n.Value(p.Quantity, *p.Value), n.Clock(p.At, n.now))
		}
	default:
		s = t.bare()
	}
	return s + n.checkFirst(t.check()) + n.directed(t.r.Directions) + t.further()
}

// soLong says for how long it has been so by now.
func (n present) soLong(since time.Time) string {
	if since.IsZero() {
		since = n.a.Began
	}
	if since.IsZero() {
		return ""
	}
	return n.say(" That is %s by now.", n.Span(n.now.Sub(since)))
}

// limit says how far beyond or within its limit a value is now, which way it
// goes, and how bad it was.
func (n present) limit() string {
	p, q, o := n.p, n.a.Of.Quantity, &n.a.Of
	s := n.where(o) + ": " + n.value(n.subject, nil)
	switch {
	case p.Beyond != nil && *p.Beyond > 0 && q == alarms.DewMargin && *p.Value < 0:
		s = n.amiss(o, alarms.Inner) + ": " + n.value(n.lead, p.Limit)
	case p.Beyond != nil && *p.Beyond > 0:
		s = n.amiss(o, p.Level) + ": " + n.value(n.lead, p.Limit)
	case p.Beyond != nil && p.Live:
		s += n.say(", back within the limit of %s", n.said(q, *p.Limit))
	case p.Beyond == nil:
		s = n.amiss(o, o.Level) + ": " + n.value(n.lead, nil)
	}
	if p.Live && p.Rate != nil {
		s += "; " + n.Course(q, *p.Rate)
	}
	if p.Worst != nil && !(p.Live && *p.Worst == *p.Value) {
		s += n.say("; the %s was %s at %s", n.extreme(o.Side), n.said(q, *p.Worst), n.Clock(p.WorstAt, n.now))
	}
	return s + n.raisedWith() + "."
}

// raisedWith says with what value the alarm was raised, where that has changed.
func (n present) raisedWith() string {
	p := n.p
	if p.First == nil || p.Value != nil && p.Live && *p.First == *p.Value {
		return ""
	}
	return n.say("; %s when raised at %s", n.said(p.Quantity, *p.First), n.Clock(p.FirstAt, n.now))
}

// rate says how fast a value changes now.
func (n present) rate() string {
	p, q, o := n.p, n.a.Of.Quantity, &n.a.Of
	s := n.where(o) + ": " + n.value(n.subject, nil)
	switch {
	case p.Rate == nil:
		s += n.say("; how fast it changes now is not known")
	case p.Beyond != nil && *p.Beyond > 0:
		s = n.amiss(o, alarms.Outer) + ": " + n.paced(q, o.Side.Sign()**p.Rate, *p.Limit) + "; " + n.value(n.lead, nil)
	default:
		s += n.say(", %s, within the limit", n.Course(q, *p.Rate))
	}
	if p.Worst != nil && !(p.Rate != nil && *p.Worst == *p.Rate) {
		s += n.say("; the fastest was %s an hour at %s", n.Distance(q, o.Side.Sign()**p.Worst), n.Clock(p.WorstAt, n.now))
	}
	return s + n.raisedWith() + "."
}

// value says what a value is now, behind its noun and beside a limit where one is
// given, or that this is not known and what it last was, with its age.
func (n present) value(noun func(alarms.Quantity) string, limit *float64) string {
	p := n.p
	if !p.Live {
		s := n.say("what %sis now is not known", n.orThe(n.subject(p.Quantity)))
		if p.Value != nil {
			s += "; " + n.lastKnown(limit)
		}
		return s
	}
	value, bound := n.bounds(p.Quantity, *p.Value, limit)
	s := n.say("%s%s now", noun(p.Quantity), value)
	var more []string
	if bound != "" {
		more = append(more, bound)
	}
	if p.Beside {
		more = append(more, n.say("probe %s", n.probe(p.Probe)))
	}
	if old := n.now.Sub(p.At); old >= readLately {
		more = append(more, n.say("read %s ago", n.Span(old)))
	}
	if len(more) > 0 {
		s += " (" + strings.Join(more, ", ") + ")"
	}
	return s
}

// lastKnown says what was last known, and how long ago.
func (n present) lastKnown(limit *float64) string {
	p := n.p
	return n.say("last heard at %s, %s ago: %s", n.Clock(p.At, n.now), n.Span(n.now.Sub(p.At)), n.bounded(p.Quantity, *p.Value, limit))
}
