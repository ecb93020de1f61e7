package alarms

import (
	"fmt"
	"strings"
	"time"
)

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// actSentence says what was done to an alarm, and about what.
func (e *Engine) actSentence(a *alarm, t Transition) string {
	w, r := e.plan.Words, t.Reason
	if a.rule == RuleSwitching {
		return e.trialSentence(a, t)
	}
	about := a.Sentence
	if i := strings.Index(about, " Check first:"); i >= 0 {
		about = about[:i]
	}
	if about == "" {
		about = a.title() + "."
	}
	who := orSomebody(r.By)
	because := ""
	if r.Note != "" {
		because = " (" + r.Note + ")"
	}
	switch t.Move {
	case Ack:
		if t.To == Normal {
			return fmt.Sprintf("%s has taken this, which is over: %s.", who, a.title())
		}
		if r.Until.IsZero() {
			return fmt.Sprintf("%s has taken this: %s.", who, a.title())
		}
		return fmt.Sprintf("%s has taken this and is on the way until %s: %s.", who, w.Clock(r.Until, t.Due), a.title())
	case Realarm:
		return e.againSentence(a, t)
	case Chatter:
		return fmt.Sprintf("This is held until it has been quiet for %s, because it comes and goes: %s.", Span(e.quietFor(a)), a.title())
	case ShelveOn:
		return fmt.Sprintf("%s has put this aside until %s%s: %s", who, w.Clock(r.Until, t.Due), because, e.briefly(a, t))
	case Out:
		return fmt.Sprintf("%s has taken this out of service%s: %s", who, because, a.title()+".")
	case ShelveOff:
		return fmt.Sprintf("No longer put aside%s. %s", because, e.stillFact(a, t))
	case Back:
		return "Back in service. " + e.stillFact(a, t)
	case Suppress:
		return fmt.Sprintf("Not told by itself, because %s says it: %s", e.titleOf(r.Cause), e.bare(a, t)+e.further(a, t))
	case Release:
		return e.releaseSentence(a, t)
	}
	return about
}

// againSentence tells a again: nobody took it, or whoever did changed nothing.
func (e *Engine) againSentence(a *alarm, t Transition) string {
	w, r := e.plan.Words, t.Reason
	switch {
	case t.From == Unacknowledged:
		return fmt.Sprintf("%s Nobody has taken this since %s.", e.stillFact(a, t), w.Clock(r.Asked, t.Due))
	case r.Was != nil:
		return fmt.Sprintf("%s %s took this at %s, at %s, and it is no better.", e.stillFact(a, t), orSomebody(r.By),
			w.Clock(r.Asked, t.Due), w.said(a.quantity, *r.Was))
	}
	return fmt.Sprintf("%s %s took this at %s, and it is still so.", e.stillFact(a, t), orSomebody(r.By), w.Clock(r.Asked, t.Due))
}

func orSomebody(name string) string {
	if name == "" {
		return "Somebody"
	}
	return name
}

func (e *Engine) releaseSentence(a *alarm, t Transition) string {
	if t.To == Normal {
		return fmt.Sprintf("Over: %s.", a.title())
	}
	return e.stillFact(a, t)
}

// stillFact says what holds now: the fact, or that all is well.
func (e *Engine) stillFact(a *alarm, t Transition) string {
	if a.Condition == Within {
		return fmt.Sprintf("%q was over by %s.", a.title(), e.plan.Words.Clock(t.Due, t.Due))
	}
	return e.fact(a, t)
}

// briefly says what a is about, with its value at the moment of t where one is known.
func (e *Engine) briefly(a *alarm, t Transition) string {
	if p := presentOf(e, a); p.Live && a.rule == RuleLimit {
		return fmt.Sprintf("%s, %s at %s.", a.title(), e.plan.Words.said(p.Quantity, *p.Value), e.plan.Words.Clock(t.Due, t.Due))
	}
	return a.title() + "."
}

func (e *Engine) titleOf(id AlarmID) string {
	if a := e.alarms[id]; a != nil {
		return `"` + a.title() + `"`
	}
	return string(id)
}

// title names what an alarm is about in a few words.
func (a *alarm) title() string {
	w := a.where()
	switch a.rule {
	case RuleLimit:
		return w + ": " + Amiss(a.quantity, a.side, a.Level)
	case RuleRate:
		return w + ": " + AmissFast(a.quantity, a.side)
	case RuleExposure:
		return w + ": " + a.exposed.plan.Says
	case RuleSilent:
		return w + ": " + a.silentTitle()
	case RuleUnwatched:
		return w + ": unwatched"
	case RuleFault:
		if a.probe == nil {
			return fmt.Sprintf("%s: probes disagree on %s", w, a.quantity.Word())
		}
		id := string(a.id)
		return fmt.Sprintf("%s: probe %s %s", w, a.name(), faultTitles[Fault(id[strings.LastIndexByte(id, '/')+1:])])
	case RuleLink:
		return "The broker cannot be reached"
	case RuleTrouble:
		return troubleTitles[a.id]
	case RuleLoop:
		return w + ": " + a.loopTitle()
	case RuleSeason:
		return w + ": another season is due"
	case RuleOpening:
		return w + ": " + a.opening.plan.Name + " left open"
	case RuleSwitching:
		return fmt.Sprintf("%s: somebody is trying the %s", w, a.triedDrive())
	case RuleControl:
		return a.works.title(&a.found.last)
	}
	return string(a.id)
}

// faultTitles follow "probe bench-1".
var faultTitles = map[Fault]string{
	FaultRange: "out of its range", FaultValue: "gives a value of failure", FaultStuck: "stuck", FaultSpikes: "jumps about",
	FaultPinned: "wet, or at 100 %", FaultGarbled: "cannot be read", FaultOutlier: "differs from its neighbours",
	FaultClock: "has a wrong clock", FaultBattery: "has a low battery", FaultSignal: "has a weak signal",
	FaultWitness: "doubted as the witness of its circuit",
}

func (a *alarm) silentTitle() string {
	switch {
	case a.quantity != "":
		return fmt.Sprintf("%s of probe %s silent", a.quantity.Word(), a.name())
	case a.probe != nil:
		return fmt.Sprintf("probe %s silent", a.name())
	case a.circuit != nil:
		return circuitName(a.circuit) + " silent"
	}
	return "all probes silent"
}

func (e *Engine) noteSentence(a *alarm, t Transition) string {
	switch a.rule {
	case RulePerson:
		who := ""
		if t.Reason.By != "" {
			who = " by " + t.Reason.By
		}
		if a.probe != nil {
			return e.calibrationSentence(a, t)
		}
		if a.selector != nil {
			return fmt.Sprintf("%s: %s was turned to %q%s.", a.where(), a.selector.Name, list(t.Reason.Affected), who)
		}
		return fmt.Sprintf("%s: the season was changed to %q%s. Limits change over %s.", a.where(), t.Reason.Season, who,
			Span(a.house.plan.Day.Settle))
	case RuleLimit, RuleRate, RuleExposure:
		switch note := t.Reason.Note; {
		case strings.HasSuffix(note, "."): // a sentence of its own
			return note
		case len(t.Reason.Lost) > 0:
			return e.bare(a, t) + e.further(a, t)
		}
	case RuleLoop:
		if a.pipe == nil {
			return e.loopNote(a, t)
		}
	case RuleOpening:
		return e.openingSentence(a, t, true)
	case RuleSwitching:
		if a.switched != nil {
			return a.works.switchingSentence(a.switched)
		}
	case RuleRestart:
		return e.awaySentence(t)
	case RuleClock:
		return e.clockSentence(t)
	}
	return fmt.Sprintf("%q: %s.", a.title(), t.Reason.Note)
}

// What a RestartMarker's Note, or StoodStill, says about the time away.
const (
	// AwayUnsure: after a power-off nobody can tell time away from a clock
	// that was put forward.
	AwayUnsure = "unsure"
	stoodStill = "stood still"
)

func (e *Engine) awaySentence(t Transition) string {
	w, from := e.plan.Words, t.Reason.Since
	span := fmt.Sprintf("from %s to %s (%s)", w.Clock(from, t.Due), w.Clock(t.Due, t.Due), Span(t.Due.Sub(from)))
	switch t.Reason.Note {
	case stoodStill:
		return fmt.Sprintf("The watch stood still %s: the machine slept or was overloaded. Nothing was watched in that time.", span)
	case AwayUnsure:
		return fmt.Sprintf("The watch was away %s, or the clock was set meanwhile. What happened in that time was not watched.", span)
	}
	return fmt.Sprintf("The watch was away %s. Nothing was watched in that time.", span)
}

func transitionID(a AlarmID, n int) string { return fmt.Sprintf("%s#%d", a, n) }

// houseSentence is the state of one house in a sentence.
func (e *Engine) houseSentence(h *house, hp HousePicture) string {
	aside := e.asideWords(h)
	s := e.toldSentence(h, hp)
	if trial := e.trialWords(h, " of "+h.plan.Name); trial != "" {
		aside = strings.TrimSpace(trial + " " + aside)
	}
	switch {
	case aside == "":
		return s
	case strings.HasPrefix(s, allWell):
		return aside
	}
	return s + " " + aside
}

const allWell = "All is well"

// toldSentence is houseSentence without what was put aside.
func (e *Engine) toldSentence(h *house, hp HousePicture) string {
	active, worst := 0, NoPriority
	var first string
	for _, a := range e.order {
		if a.house != h || !a.State.Active() {
			continue
		}
		active++
		if p := a.priority(max(a.Level, Outer)); first == "" || p > worst {
			first, worst = a.title(), p
		}
	}
	dark := len(h.places) > 0
	for _, st := range h.streams {
		dark = dark && !st.usable()
	}
	switch {
	case !e.link.up():
		return hp.Name + " cannot be seen: the broker is not reached."
	case active == 1:
		return first + "."
	case active > 1:
		return fmt.Sprintf("%s, and %s.", first, others(active-1))
	case dark && hp.Newest.IsZero():
		return hp.Name + ": no reading has arrived yet."
	case dark:
		return fmt.Sprintf("%s cannot be seen: no probe reports.", hp.Name)
	}
	return fmt.Sprintf("%s in %s.", allWell, hp.Name)
}

func others(n int) string {
	if n == 1 {
		return "one other alarm"
	}
	return fmt.Sprintf("%d other alarms", n)
}

// overall answers "is all well?" for all houses.
func (e *Engine) overall(p Picture) string {
	var bad []string
	for _, h := range p.Houses {
		if !strings.HasPrefix(h.Sentence, allWell) {
			bad = append(bad, h.Sentence)
		}
	}
	if aside := e.asideWords(nil); aside != "" {
		bad = append(bad, aside)
	}
	switch {
	case !p.Link:
		return fmt.Sprintf("The broker has not been reached since %s: nothing is being watched.",
			e.plan.Words.Clock(p.LinkSince, p.At))
	case e.link.Unsteady:
		return strings.Join(append([]string{e.link.alarm.Sentence}, bad...), " ")
	case len(p.Houses) == 0:
		return "No house is set up yet."
	case len(bad) == 0:
		return "All is well."
	}
	return strings.Join(bad, " ")
}
