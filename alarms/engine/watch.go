package engine

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// Wall returns what the wall clock shows at t, a time of the core such as
// Input.At, by the steps that the core has been told of.
func (e *Engine) Wall(t time.Time) time.Time { return e.panel.Clock.At(timing.At(t)) }

// buildClock makes what carries the log of the steps of the wall clock.
func (e *Engine) buildClock() {
	e.stepped = e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: "watch/clock", Kind: alarms.RuleClock, Priority: lifecycle.Always(alarms.Low),
		Because: func(alarms.Move, timing.Instant) alarms.Reason { return alarms.Reason{Shift: e.stepBy} },
	}, of: lifecycle.Log{}})
}

// stepClock takes in that the wall clock was put forward by a time, back if
// that is negative. Days begin and end by the new clock at once.
func (e *Engine) stepClock(by time.Duration, now timing.Instant) {
	if by == 0 {
		return
	}
	before := e.panel.Clock.At(now)
	e.panel.Clock.Step(by)
	for _, c := range e.calendars {
		c.stepDay(e, before, now)
	}
	e.stepBy = by
	e.stepped.Write(now)
	e.stepBy = 0
}

// beginNextDay is midnight, which the wall clock has leapt over.
func (h *house) beginNextDay(now timing.Instant) {
	if h.midnight.Due != 0 {
		h.beginDay(now)
	}
	if h.loop != nil {
		h.loop.Midnight(true, 0, now)
	}
}

// awaitMidnight sets the deadlines at the end of h's day.
func (h *house) awaitMidnight(midnight timing.Instant) {
	if h.midnight.Due != 0 {
		h.e.panel.Timers.Set(h.midnight, midnight)
	}
	if h.loop != nil {
		h.loop.Midnight(false, midnight, 0)
	}
}

// trouble is one trouble of the watch at work.
type trouble struct {
	troubleState
	alarm *alarm
}

// troubleState is what a snapshot keeps of a trouble.
type troubleState struct {
	Since timing.Instant `json:"since,omitempty"`
	Note  string         `json:"note,omitempty"`
}

func (e *Engine) buildTrouble(id alarms.AlarmID) {
	t := &trouble{}
	priority := alarms.High
	switch id {
	case alarms.TroubleCopies, alarms.TroubleLetters, alarms.TroubleCompanion: // it harms nothing yet
		priority = alarms.Low
	case alarms.TroubleFirst: // who tells this tells all else too
		priority = alarms.Medium
	}
	t.alarm = e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: id, Kind: alarms.RuleTrouble, Priority: lifecycle.Always(priority),
		Because: func(alarms.Move, timing.Instant) alarms.Reason {
			return alarms.Reason{Since: e.panel.Clock.At(t.Since), Note: t.Note}
		},
	}, of: ownTrouble{trouble: t}})
	e.trouble[id] = t
}

// ownTrouble is the rule of an alarm of the watch itself.
type ownTrouble struct {
	lifecycle.Plain
	*trouble
}

// Facts are why: the note of a reason may be what somebody said.
func (o ownTrouble) Facts(_ *lifecycle.Alarm, _ *alarms.Transition, f *alarms.Background) {
	f.Trouble = o.Note
}

func (e *Engine) setTrouble(in *alarms.Input, now timing.Instant) {
	t := e.trouble[in.Alarm]
	switch {
	case t == nil:
	case in.Kind == alarms.TroubleOff:
		t.Since = 0
		t.alarm.Apply(alarms.Within, "", now)
	default:
		if t.Note = in.Note; t.Since == 0 {
			t.Since = now
		}
		t.alarm.Apply(alarms.Outer, "", now)
	}
}
