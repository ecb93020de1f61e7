package engine

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// link is the connection to the broker.
type link struct {
	lifecycle.Plain
	e *Engine
	linkState
	alarm  *alarm
	delay  *timing.Timer
	steady *timing.Timer // end of the time for which it must hold after it came and went
}

// linkState is what a snapshot keeps of the link.
type linkState struct {
	Down  bool           `json:"down,omitempty"`
	Since timing.Instant `json:"since,omitempty"` // of the last change
	Why   string         `json:"why,omitempty"`
	Told  bool           `json:"told,omitempty"`
	Due   timing.Instant `json:"due,omitempty"`

	Losses    []timing.Instant `json:"losses,omitempty"`   // recently
	Unsteady  bool             `json:"unsteady,omitempty"` // told because it comes and goes
	SteadyDue timing.Instant   `json:"steady_due,omitempty"`
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
	e.link = &link{e: e}
	e.link.delay = e.panel.Timers.Build(e.link.tell)
	e.link.steady = e.panel.Timers.Build(e.link.end)
	e.link.alarm = e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: "watch/broker/silent", Kind: alarms.RuleLink, Priority: lifecycle.Always(e.plan.Link.Priority),
		Because: func(alarms.Move, timing.Instant) alarms.Reason { return e.link.why() },
	}, of: e.link})
	e.restart = e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: "watch/restart", Kind: alarms.RuleRestart,
		Priority: func(alarms.Level) alarms.Priority {
			if e.awayFor > absenceTold {
				return alarms.Medium
			}
			return alarms.Low
		},
		Because: func(alarms.Move, timing.Instant) alarms.Reason {
			return alarms.Reason{Since: e.panel.Clock.At(e.awaySince), Note: e.awayNote}
		},
	}, of: lifecycle.Log{}})
	for _, t := range alarms.Troubles {
		e.buildTrouble(t)
	}
}

func (l *link) down(why string, now timing.Instant) {
	if l.Down {
		l.Why = why
		return
	}
	l.Down, l.Since, l.Why = true, now, why
	l.e.panel.Timers.Set(l.steady, 0)
	if l.lose(now); len(l.Losses) >= lossesTold && !l.Told {
		l.Unsteady = true
		l.tell(now)
	}
	if !l.Told {
		l.e.panel.Timers.Set(l.delay, now.Add(l.e.plan.Link.Delay))
	}
	l.shut(now)
	for _, h := range l.e.houses {
		h.blind(now)
	}
	l.leaveToHouses(now)
}

func (l *link) reached(now timing.Instant) {
	if !l.Down {
		return
	}
	l.Down, l.Since = false, now
	l.e.panel.Timers.Set(l.delay, 0)
	l.open(now)
	if l.Unsteady {
		l.e.panel.Timers.Set(l.steady, now.Add(steadyAfter))
		return
	}
	l.end(now)
}

// lose counts a loss, with those recently.
func (l *link) lose(now timing.Instant) {
	var losses []timing.Instant
	for _, t := range append(l.Losses, now) {
		if now.Since(t) <= lossesWithin {
			losses = append(losses, t)
		}
	}
	l.Losses = losses
}

func (l *link) tell(due timing.Instant) {
	l.Told = true
	l.alarm.Apply(alarms.Outer, "", due)
	l.review(due)
}

// speaks reports whether the loss of the link is told, and so speaks for all
// that cannot be heard.
func (l *link) speaks() bool { return l.Told && !l.alarm.State.Aside() }

// review brings what the link speaks for to whether it does.
func (l *link) review(now timing.Instant) {
	l.leaveToHouses(now)
	for _, h := range l.e.houses {
		h.reviewTold()
	}
}

// leaveToHouses lets the waits for a message go on where the link is lost and
// says nothing of it: then the houses do.
func (l *link) leaveToHouses(now timing.Instant) {
	if l.Down && l.Told && l.e.panel.AwayTo == 0 {
		if l.e.panel.Timers.Hearing.Untold = !l.speaks(); l.e.panel.Timers.Hearing.Untold {
			l.lookAgain(now)
		}
	}
}

func (l *link) end(due timing.Instant) {
	if l.Unsteady {
		l.Losses = nil
	}
	l.Told, l.Unsteady = false, false
	l.alarm.Apply(alarms.Within, "", due)
	l.review(due)
}

func (l *link) why() alarms.Reason {
	r := alarms.Reason{Since: l.e.panel.Clock.At(l.Since), Note: l.Why}
	if l.Unsteady {
		n := float64(len(l.Losses))
		r.Since, r.Value = l.e.panel.Clock.At(l.Losses[0]), &n
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
func (e *Engine) comeBack(from timing.Instant, note string, now timing.Instant) {
	away := now.Since(from)
	e.panel.Now = now // all of it is noticed now
	e.link.shut(from)
	e.absent.times++
	e.absent.lasted += away
	for _, h := range e.houses {
		for _, pt := range h.derived {
			pt.has = false
		}
		h.loseSight(from)
		h.blind(from)
	}
	e.panel.AwayTo = now
	e.panel.Timers.Hearing.Untold = false // nobody was there to tell
	e.putAside(from, now)
	e.advance(now)
	e.panel.AwayTo = 0
	if e.link.up() {
		e.link.open(now)
	} else {
		e.link.review(now)
	}
	if away >= restartTold || note == alarms.AwayPlayed {
		e.awaySince, e.awayFor, e.awayNote = from, away, note
		e.restart.Write(now)
	}
}

// shut is when nothing can be heard any more: delays stand still.
func (l *link) shut(now timing.Instant) {
	l.e.panel.Timers.Hearing.Shut(now)
	l.e.panel.Timers.StandStill(now)
}

// open is when messages can be heard again.
func (l *link) open(now timing.Instant) {
	l.e.panel.Timers.Hearing.Open(now)
	l.lookAgain(now)
}

// lookAgain looks at the waits that ended while that meant nothing.
func (l *link) lookAgain(now timing.Instant) {
	l.e.resume(now)
	nodes := l.e.asideNodes
	l.e.asideNodes = nil
	for _, n := range nodes {
		n.resume(now)
	}
}

// Facts tell why the broker is not reached.
func (l *link) Facts(_ *lifecycle.Alarm, _ *alarms.Transition, f *alarms.Background) { f.Link = l.Why } // the note may be what a person said

// Aside lets be looked at again what the link speaks for.
func (l *link) Aside(_ *lifecycle.Alarm, now timing.Instant) { l.review(now) }
