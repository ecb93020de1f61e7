package alarms

import (
	"fmt"
	"strings"
	"time"

	"telltale/alarms/control"
)

// Somebody who tries something on a drive, at its switch or at the dial, shelves the
// log of what it did until an end. It speaks for all verdicts about the drive until
// then: they are logged and not told, and what is still so at the end is told. The
// limits of places are watched as ever.

// longestTrial bounds how long something may be tried on a drive.
const longestTrial = 24 * time.Hour

// try shelves the log of a drive for a person who tries something on it.
func (e *Engine) try(a *alarm, in Input, now instant) {
	until := e.core(in.Until)
	switch {
	case in.Kind == Unshelve && a.State == Shelved:
		e.tellTrial(a, now, now)
		e.unshelve(a, now, in.By, in.Note)
	case in.Kind != Shelve:
	case until.since(now) > longestTrial:
		e.actor.note = "not noted that something is tried: 24 h are the most"
		e.note(a, now)
	default:
		e.shelve(a, until, now)
		if a.State == Shelved {
			e.tellTrial(a, until, now)
		}
	}
}

// tellTrial tells the judge that a drive is run by hand until a moment.
func (e *Engine) tellTrial(a *alarm, until, now instant) {
	for i, log := range a.works.log {
		if log == a {
			e.tell(a.works, a.works.judge.Test(control.Moment(now), i, control.Moment(until)), now)
		}
	}
}

// tried returns what tells that somebody tries something on v's drive, nil for none.
func (m *mechanism) tried(v *finding) *alarm {
	if v.key.drive < 0 || m.log[v.key.drive].State != Shelved {
		return nil
	}
	return m.log[v.key.drive]
}

// triedDrive names the drive whose log a is.
func (a *alarm) triedDrive() string {
	for i, log := range a.works.log {
		if log == a {
			return a.works.driveName(i)
		}
	}
	return ""
}

// trialWords says who tries what until when in h, each in a sentence; "" for
// nobody. of is behind the drive: " of Long House" where that is not said yet.
func (e *Engine) trialWords(h *house, of string) string {
	var all []string
	for _, m := range h.mechanisms {
		for _, a := range m.log {
			if a.State == Shelved {
				all = append(all, fmt.Sprintf("%s is trying the %s%s until %s.", orSomebody(a.By), a.triedDrive(), of,
					e.plan.Words.Clock(e.wall(a.Until), e.wall(e.now))))
			}
		}
	}
	return strings.Join(all, " ")
}

// trialSentence says that somebody began, or ended, to try something.
func (e *Engine) trialSentence(a *alarm, t Transition) string {
	what, w := fmt.Sprintf("the %s of %s", a.triedDrive(), a.house.plan.Name), e.plan.Words
	if t.Move == ShelveOn {
		because := ""
		if t.Reason.Note != "" {
			because = " (" + t.Reason.Note + ")"
		}
		return fmt.Sprintf("%s is trying %s until %s%s: what it does is logged, and not told before then.", orSomebody(t.Reason.By), what,
			w.Clock(t.Reason.Until, t.Due), because)
	}
	return fmt.Sprintf("Nobody is trying %s any more: it is judged as before.", what)
}

// whileTried says, behind that of a limit or a rate, who tries what in that house.
func (e *Engine) whileTried(a *alarm, t Transition) string {
	if a.rule != RuleLimit && a.rule != RuleRate || a.over(t) {
		return ""
	}
	if trial := e.trialWords(a.house, ""); trial != "" {
		return " " + trial
	}
	return ""
}
