package alarms

import "time"

// link is the connection to the broker.
type link struct {
	linkState
	alarm  *alarm
	delay  *timer
	steady *timer // end of the time for which it must hold after it came and went
}

// linkState is what a snapshot keeps of the link.
type linkState struct {
	Down  bool    `json:"down,omitempty"`
	Since instant `json:"since,omitempty"` // of the last change
	Why   string  `json:"why,omitempty"`
	Told  bool    `json:"told,omitempty"`
	Due   instant `json:"due,omitempty"`

	Losses    []instant `json:"losses,omitempty"`   // of late
	Unsteady  bool      `json:"unsteady,omitempty"` // told because it comes and goes
	SteadyDue instant   `json:"steady_due,omitempty"`
}

// A link that is lost three times in ten minutes is not reached, however short
// each loss is; it is again when it has held for five. Common practice, no
// source.
const (
	lossesTold   = 3
	lossesWithin = 10 * time.Minute
	steadyAfter  = 5 * time.Minute
)

// up reports whether messages can arrive: while not, nothing falls silent.
func (l *link) up() bool { return !l.Down }

// buildWatch makes the alarms of the watch itself.
func (e *Engine) buildWatch() {
	e.link = &link{}
	e.link.delay = e.timers.build(e.tellLink)
	e.link.steady = e.timers.build(e.endLink)
	e.link.alarm = e.newAlarm(&alarm{
		id: "watch/broker/silent", rule: RuleLink, priority: always(e.plan.Link.Priority),
		why: func(Move, instant) Reason { return e.whyLink() },
	})
	e.restart = e.newAlarm(&alarm{
		id: "watch/restart", rule: RuleRestart, priority: func(Level) Priority {
			if e.awayFor > absenceTold {
				return Medium
			}
			return Low
		},
		why: func(Move, instant) Reason { return Reason{Since: e.wall(e.awaySince), Note: e.awayNote} },
	})
	for _, t := range Troubles {
		e.buildTrouble(t)
	}
}

func (e *Engine) linkDown(why string, now instant) {
	l := e.link
	if l.Down {
		l.Why = why
		return
	}
	l.Down, l.Since, l.Why = true, now, why
	e.timers.set(l.steady, 0)
	if l.lose(now); len(l.Losses) >= lossesTold && !l.Told {
		l.Unsteady = true
		e.tellLink(now)
	}
	if !l.Told {
		e.timers.set(l.delay, now.add(e.plan.Link.Delay))
	}
	e.shut(now)
	for _, h := range e.houses {
		e.countLoop(h, now)
		e.blindMechanisms(h, now)
	}
	e.leaveToHouses(now)
}

func (e *Engine) linkUp(now instant) {
	l := e.link
	if !l.Down {
		return
	}
	l.Down, l.Since = false, now
	e.timers.set(l.delay, 0)
	e.open(now)
	if l.Unsteady {
		e.timers.set(l.steady, now.add(steadyAfter))
		return
	}
	e.endLink(now)
}

// lose counts a loss, with those of late.
func (l *link) lose(now instant) {
	var losses []instant
	for _, t := range append(l.Losses, now) {
		if now.since(t) <= lossesWithin {
			losses = append(losses, t)
		}
	}
	l.Losses = losses
}

func (e *Engine) tellLink(due instant) {
	e.link.Told = true
	e.apply(e.link.alarm, Outer, nil, due)
	e.reviewLink(due)
}

// speaks reports whether the loss of the link is told, and so speaks for all
// that cannot be heard.
func (l *link) speaks() bool { return l.Told && !l.alarm.State.Aside() }

// reviewLink brings what the link speaks for to whether it does.
func (e *Engine) reviewLink(now instant) {
	e.leaveToHouses(now)
	for _, h := range e.houses {
		e.reviewTold(h)
	}
}

// leaveToHouses lets the waits for a message go on where the link is lost and
// says nothing of it: then the houses do.
func (e *Engine) leaveToHouses(now instant) {
	if l := e.link; l.Down && l.Told && e.awayTo == 0 {
		if e.timers.hearing.Untold = !l.speaks(); e.timers.hearing.Untold {
			e.lookAgain(now)
		}
	}
}

func (e *Engine) endLink(due instant) {
	l := e.link
	if l.Unsteady {
		l.Losses = nil
	}
	l.Told, l.Unsteady = false, false
	e.apply(l.alarm, Within, nil, due)
	e.reviewLink(due)
}

// insteadOfLink reports whether a tells that nothing is heard while the link is
// lost, whose own alarm was put aside.
func (e *Engine) insteadOfLink(a *alarm) bool {
	return (a.rule == RuleSilent || a.rule == RuleUnwatched) && e.link.Told && !e.link.speaks()
}

// notReached says so, to follow a sentence.
func (e *Engine) notReached(a *alarm, t Transition) string {
	if t.To == SuppressedByDesign || !e.insteadOfLink(a) {
		return ""
	}
	return " The broker is not reached either, and the alarm that tells of it is put aside."
}

func (e *Engine) whyLink() Reason {
	l := e.link
	r := Reason{Since: e.wall(l.Since), Note: l.Why}
	if l.Unsteady {
		n := float64(len(l.Losses))
		r.Since, r.Value = e.wall(l.Losses[0]), &n
	}
	return r
}

// How long the watch must have been away for that to be noted, and for people to
// be told; common practice, no source.
const (
	restartTold = time.Second
	absenceTold = 15 * time.Minute
)

// comeBack begins again after the watch was away from a moment on. That time
// counts as blindness: what was to happen in it by the clock alone (shelves that
// end, reminders, day and night) happens; what would have needed readings does
// not.
func (e *Engine) comeBack(from instant, note string, now instant) {
	away := now.since(from)
	e.now = now // all of it is noticed now
	e.shut(from)
	e.absent.times++
	e.absent.lasted += away
	for _, h := range e.houses {
		for _, pt := range h.derived {
			pt.has = false
		}
		e.blindMechanisms(h, from)
		e.loseSight(h, from)
		e.countLoop(h, from)
	}
	e.awayTo = now
	e.timers.hearing.Untold = false // nobody was there to tell
	e.putAside(from, now)
	e.advance(now)
	e.awayTo = 0
	if e.link.up() {
		e.open(now)
	} else {
		e.reviewLink(now)
	}
	if away >= restartTold {
		e.awaySince, e.awayFor, e.awayNote = from, away, note
		e.note(e.restart, now)
	}
}
