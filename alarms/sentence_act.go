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
	about := a.Sentence
	if i := strings.Index(about, " Check first:"); i >= 0 {
		about = about[:i]
	}
	if about == "" {
		about = a.title() + "."
	}
	who := r.By
	if who == "" {
		who = "Somebody"
	}
	because := ""
	if r.Note != "" {
		because = " (" + r.Note + ")"
	}
	switch t.Move {
	case Ack:
		if t.To == Normal {
			return fmt.Sprintf("%s has taken this, which is over: %s.", who, a.title())
		}
		return fmt.Sprintf("%s has taken this: %s.", who, a.title())
	case Realarm:
		return "Still so, and taken a while ago: " + e.stillFact(a, t)
	case Chatter:
		return fmt.Sprintf("This comes and goes (%d times of late) and is held until it has been quiet for %s: %s",
			len(a.Raises), Span(e.plan.Chatter.Hold), about)
	case ShelveOn:
		return fmt.Sprintf("%s has put this aside until %s%s: %s", who, w.Clock(r.Until, t.Due), because, about)
	case Out:
		return fmt.Sprintf("%s has taken this out of service%s: %s", who, because, a.title()+".")
	case ShelveOff:
		return fmt.Sprintf("No longer put aside%s: %s", because, e.stillFact(a, t))
	case Back:
		return "Back in service: " + e.stillFact(a, t)
	case Suppress:
		return fmt.Sprintf("Not told by itself, because %s says it: %s", e.titleOf(r.Cause), e.bare(a, t))
	case Release:
		return e.releaseSentence(a, t)
	}
	return about
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
		return a.title() + ": nothing is wrong there now."
	}
	return e.fact(a, t)
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
		return fmt.Sprintf("%s: %s too %s", w, a.quantity.Word(), a.side)
	case RuleRate:
		if a.side == LowSide {
			return fmt.Sprintf("%s: %s falling fast", w, a.quantity.Word())
		}
		return fmt.Sprintf("%s: %s rising fast", w, a.quantity.Word())
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
	w := e.plan.Words
	switch a.rule {
	case RulePerson:
		who := ""
		if t.Reason.By != "" {
			who = ", set by " + t.Reason.By
		}
		if a.probe != nil {
			return e.calibrationSentence(a, t)
		}
		if a.selector != nil {
			return fmt.Sprintf("%s: %s now stands at %q%s.", a.where(), a.selector.Name, list(t.Reason.Affected), who)
		}
		return fmt.Sprintf("%s: the season is now %q%s. Limits change over %s.", a.where(), t.Reason.Season, who,
			Span(a.house.plan.Day.Settle))
	case RuleLoop:
		if a.pipe == nil {
			return e.loopNote(a, t)
		}
	case RuleSwitching:
		return a.works.switchingSentence(a.switched)
	case RuleRestart:
		from := t.Reason.Since
		return fmt.Sprintf("The watch was away from %s to %s (%s). Nothing was watched in that time.",
			w.Clock(from, t.Due), w.Clock(t.Due, t.Due), Span(t.Due.Sub(from)))
	}
	return fmt.Sprintf("%s: %s.", a.title(), t.Reason.Note)
}

func transitionID(a AlarmID, n int) string { return fmt.Sprintf("%s#%d", a, n) }

// houseSentence is the state of one house in a sentence.
func (e *Engine) houseSentence(h *house, hp HousePicture) string {
	active, unseen := 0, 0
	var first string
	for _, a := range e.order {
		if a.house != h || !a.State.Active() {
			continue
		}
		active++
		if a.State == Unacknowledged {
			unseen++
		}
		if first == "" || a.priority(max(a.Level, Outer)) == hp.Worst {
			first = a.title()
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
	return fmt.Sprintf("All is well in %s.", hp.Name)
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
		if !strings.HasPrefix(h.Sentence, "All is well") {
			bad = append(bad, h.Sentence)
		}
	}
	switch {
	case !p.Link:
		return fmt.Sprintf("The broker has not been reached since %s: nothing is being watched.",
			e.plan.Words.Clock(p.LinkSince, p.At))
	case len(p.Houses) == 0:
		return "No house is set up yet."
	case len(bad) == 0:
		return "All is well."
	}
	return strings.Join(bad, " ")
}
