package say

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// Transition is t in words. What it most likely means and what to check first is
// part of it.
func Transition(p *alarms.Plan, t *alarms.Transition, m Locale) string {
	if t.Background == nil {
		return t.Sentence
	}
	s := newTelling(speaker{Locale: m, plan: p}, t)
	return s.sentence()
}

// Judge is an engine, as far as its words go.
type Judge interface {
	Step(in alarms.Input) []alarms.Transition
	Plan() *alarms.Plan
}

// Step gives in to e, and words what that brings about in the locale of its plan,
// as it is kept.
func Step(e Judge, in alarms.Input) []alarms.Transition {
	ts := e.Step(in)
	Complete(e.Plan(), ts, Of(e.Plan()))
	return ts
}

// Complete fills in what of ts is in words, as they are kept: Sentence, and Check and
// Note of the Reason.
func Complete(p *alarms.Plan, ts []alarms.Transition, m Locale) {
	for i := range ts {
		t := &ts[i]
		if t.Background == nil {
			continue
		}
		s := newTelling(speaker{Locale: m, plan: p}, t)
		t.Sentence, t.Reason.Check, t.Reason.Note = s.sentence(), s.check(), s.noted()
	}
}

// Again is t, which was kept in one locale, in that of another reader. Where the
// plan was changed since, or the words were, it stays as it was kept.
func Again(p *alarms.Plan, t *alarms.Transition, kept, wanted Locale) string {
	if t.Background == nil || kept == wanted || Transition(p, t, kept) != t.Sentence {
		return t.Sentence
	}
	return Transition(p, t, wanted)
}

// Retold is t with all of its words as Again has the sentence.
func Retold(p *alarms.Plan, t alarms.Transition, kept, wanted Locale) alarms.Transition {
	if t.Background == nil || kept == wanted || Transition(p, &t, kept) != t.Sentence {
		return t
	}
	again := []alarms.Transition{t}
	Complete(p, again, wanted)
	return again[0]
}

// told is what was last told of an alarm.
func (s speaker) told(t *alarms.Told) string {
	switch {
	case t == nil:
		return ""
	case t.Reason == nil || t.Background == nil:
		return t.Sentence
	}
	n := newTelling(s, &alarms.Transition{Move: t.Move, From: t.From, To: t.To, Level: t.Level, Due: t.Due, Noticed: t.Noticed, Reason: *t.Reason, Background: t.Background})
	switch t.Move {
	case alarms.Release, alarms.ShelveOff, alarms.Back:
		return n.fact()
	}
	return n.sentence()
}

// telling is a transition being said.
type telling struct {
	speaker
	*alarms.Transition
	f *alarms.Background
	o *alarms.Subject
	r *alarms.Reason
	h *alarms.House // of its subject; an empty one where it has none
}

func newTelling(s speaker, t *alarms.Transition) *telling {
	n := &telling{speaker: s, Transition: t, f: t.Background, r: &t.Reason}
	n.o = &n.f.Of
	if n.f.Gone != nil {
		n.gone = &n.f.Gone.Names
	}
	n.h = n.house(n.o.House)
	return n
}

func (n *telling) sentence() string {
	switch n.Move {
	case alarms.Raise, alarms.Worsen, alarms.Ease, alarms.Return:
		return n.fact()
	case alarms.Note:
		return n.note()
	}
	return n.act()
}

// fact says what is wrong, or no longer so, then what to check first, then what
// else is to be known.
func (n *telling) fact() string {
	return n.bare() + feed{n}.means() + n.checkFirst(n.check()) + n.whileTried() + n.directed(n.r.Directions) +
		n.swings() + n.further()
}

// directed says the grower's own words, to follow what to check first.
func (s *speaker) directed(words string) string {
	switch {
	case words == "":
		return ""
	case strings.HasSuffix(words, "."), strings.HasSuffix(words, "!"), strings.HasSuffix(words, "?"):
		return s.say(" Directions: ") + words
	}
	return s.say(" Directions: ") + words + "."
}

// bare is the first sentence of fact, or all of it where it is over.
func (n *telling) bare() string {
	if n.f.Gone != nil {
		return gone{n}.ended()
	}
	return n.byRule(n.over())
}

// further is what follows what to check first.
func (n *telling) further() string {
	s, r := "", n.r
	switch {
	case n.over():
		return ""
	case (n.o.Rule == alarms.RuleLimit || n.o.Rule == alarms.RuleRate) && len(r.Lost) == 0 && r.Value != nil:
		s = n.doubt()
	case n.o.Rule == alarms.RuleSilent && n.o.Probe == "" && n.o.Circuit == "":
		s = n.together()
	case n.o.Rule == alarms.RuleFault:
		s = n.faultFurther()
	}
	return s + n.lastWords() + n.notReached()
}

// lastWords says of the loss of the last temperature what that means.
func (n *telling) lastWords() string {
	l := n.f.LastLoss
	switch {
	case l == nil:
		return ""
	case l.Out:
		return n.say(" No temperature of %s is known now.", n.h.Name)
	case !l.Heard:
		return n.say(" No temperature of %s is known.", n.h.Name)
	case l.Places > 1:
		return n.say(" They were the last temperatures known of %s.", n.h.Name)
	}
	return n.say(" It was the last temperature known of %s.", n.h.Name)
}

func (n *telling) notReached() string {
	if !n.f.Unreached {
		return ""
	}
	return n.say(" The broker is not reached either, and the alarm that tells of it is put aside.")
}

func (n *telling) over() bool {
	return n.To != alarms.SuppressedByDesign && n.f.Condition == alarms.Within
}

func (n *telling) byRule(ended bool) string {
	switch n.o.Rule {
	case alarms.RuleLimit:
		return n.limit(ended)
	case alarms.RuleAhead:
		return n.ahead(ended)
	case alarms.RuleDay:
		return n.day(ended)
	case alarms.RuleDrift:
		return drifted{n}.fact(ended)
	case alarms.RuleRate:
		return n.rate(ended)
	case alarms.RuleExposure:
		return n.exposed(ended)
	case alarms.RuleSilent:
		return n.silent(ended)
	case alarms.RuleUnwatched:
		return n.unwatched(ended)
	case alarms.RuleFault:
		return n.fault(ended)
	case alarms.RuleSeason:
		return n.seasonDue(ended)
	case alarms.RuleControl:
		return n.verdict(ended)
	case alarms.RuleTrouble:
		return n.trouble(ended)
	case alarms.RuleLoop:
		return n.loop(ended)
	case alarms.RuleOpening:
		return n.opened(ended)
	}
	return n.link(ended)
}

// after says for how long it held, where that was longer than a moment.
func (n *telling) after() string {
	if n.r.Lasted.Round(time.Second) > 0 {
		return n.say(" after %s", n.Span(n.r.Lasted))
	}
	return ""
}

func (n *telling) link(ended bool) string {
	if ended {
		return n.say("The broker is reached again%s. Readings are awaited.", n.after())
	}
	why := because(strings.TrimSuffix(n.f.Link, "."))
	if n.r.Value != nil {
		return n.say("The broker comes and goes: lost %.0f times since %s%s. Readings get lost.", *n.r.Value, n.Clock(n.r.Since, n.Due), why)
	}
	return n.say("The broker has not been reached since %s%s. Nothing is being watched.", n.Clock(n.r.Since, n.Due), why)
}

// note says a line of the log.
func (n *telling) note() string {
	if n.HandsOver() {
		return absent{n}.handed()
	}
	switch n.o.Rule {
	case alarms.RuleLeave:
		return absent{n}.begunOrEnded()
	case alarms.RulePerson:
		return n.setting()
	case alarms.RuleLimit, alarms.RuleRate, alarms.RuleExposure:
		switch {
		case n.f.Slow != nil:
			return n.slow(n.f.Slow)
		case len(n.r.Lost) > 0:
			return n.bare() + n.further()
		}
	case alarms.RuleLoop:
		if n.o.Loop == "" {
			return n.loopNote()
		}
	case alarms.RuleDrift:
		return drifted{n}.note()
	case alarms.RuleOpening:
		return n.opened(true)
	case alarms.RuleSwitching:
		if n.r.Switched != nil {
			return n.switching()
		}
	case alarms.RuleRestart:
		return n.away()
	case alarms.RuleClock:
		return n.clockSet()
	}
	return n.say("%q: %s.", n.title(n.o), n.noted())
}

// noted is what somebody said, or why something was refused or goes on.
func (n *telling) noted() string {
	switch x := n.f.Refused; {
	case x != nil && x.Most == 0:
		return n.say("not calibrated: a probe is not calibrated for its %s", n.Word(x.Quantity))
	case x != nil:
		return n.say("not calibrated: a probe that is off by more than %s is to be replaced", n.Distance(x.Quantity, x.Most))
	case !n.f.Extended.IsZero():
		return n.say("it is getting better, so the acknowledgement goes on until %s", n.Clock(n.f.Extended, n.Due))
	case n.f.Slow != nil:
		return n.slow(n.f.Slow)
	}
	return n.Kept(n.r.Note, n.Due)
}

// setting says what somebody set.
func (n *telling) setting() string {
	who := ""
	if n.r.By != "" {
		who = n.say(" by %s", n.Who(n.r.By))
	}
	switch {
	case n.o.Probe != "":
		return n.calibrated()
	case n.o.Selector != "":
		name := string(n.o.Selector)
		if i := slices.IndexFunc(n.h.Selectors, func(s alarms.Selector) bool { return s.ID == n.o.Selector }); i >= 0 {
			name = n.h.Selectors[i].Name
		}
		return n.say("%s: %s was turned to %q%s.", n.where(n.o), name, n.list(n.r.Affected), who)
	}
	return n.say("%s: the season was changed to %q%s. Limits change over %s.", n.where(n.o), n.Season(n.r.Season), who, n.Span(n.h.Day.Settle))
}

func (n *telling) calibrated() string {
	r := n.r
	if r.Value == nil {
		return n.say("%s: probe %s was %s.", n.where(n.o), n.probe(n.o.Probe), n.noted())
	}
	return n.say("%s: probe %s is calibrated anew. %s", n.where(n.o), n.probe(n.o.Probe), n.correction(r.Quantity, *r.Value, r.By, r.Note))
}

// correction says what is added to the readings of a quantity.
func (m Locale) correction(q alarms.Quantity, by float64, who, note string) string {
	s := m.say("Nothing is added to its %s", m.Word(q))
	if by != 0 {
		verb := m.say("added to")
		if by < 0 {
			by, verb = -by, m.say("taken off")
		}
		s = m.say("%s is %s each %s", m.distance(q, by, 1), verb, m.Word(q))
	}
	if who != "" {
		s += m.say(", set by %s", m.Who(who))
	}
	return s + because(m.Kept(note, time.Time{})) + "."
}

func (n *telling) away() string {
	from := n.r.Since
	if n.r.Note == alarms.AwayPlayed {
		return n.say("What the log and the charts show of the time before %s was played on fast time. Nobody was told of it.", n.Clock(n.Due, n.Due))
	}
	span := n.say("from %s to %s (%s)", n.Clock(from, n.Due), n.Clock(n.Due, n.Due), n.Span(n.Due.Sub(from)))
	switch n.r.Note {
	case alarms.AwayStill:
		return n.say("The watch stood still %s: the machine slept or was overloaded. Nothing was watched in that time.", span)
	case alarms.AwayUnsure:
		return n.say("The watch was away %s, or the clock was set meanwhile. What happened in that time was not watched.", span)
	}
	return n.say("The watch was away %s. Nothing was watched in that time.", span)
}

func (n *telling) clockSet() string {
	which, was := n.say("forward"), n.Due.Add(-n.r.Shift)
	if n.r.Shift < 0 {
		which = n.say("back|the clock")
	}
	return n.say("The clock was put %s by %s: it showed %s and then showed %s. Nothing that was being watched was lost or delayed by that.",
		which, n.Span(n.r.Shift.Abs()), n.Clock(was, n.Due), n.Clock(n.Due, was))
}
