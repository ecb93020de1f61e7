package lifecycle

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// Acknowledge lets the actor take a, or take it again.
func (a *Alarm) Acknowledge(now timing.Instant) {
	switch {
	case a.State == alarms.Unacknowledged, a.State == alarms.Acknowledged && a.panel.Actor.Until > now: // taken again, for as long as was chosen
		a.take(now)
		a.Move(alarms.Ack, alarms.Acknowledged, now)
	case a.State == alarms.ReturnedUnack:
		a.Move(alarms.Ack, alarms.Normal, now)
	}
}

// longestShelf bounds shelving: what is put aside for longer is out of service.
const longestShelf = 7 * 24 * time.Hour

// Shelve puts a aside until an end, or writes into the log why not.
func (a *Alarm) Shelve(until, now timing.Instant) {
	switch {
	case a.State == alarms.OutOfService:
		return
	case until <= now:
		a.panel.Actor.Note = alarms.NoteNoEnd
	case until.Since(now) > longestShelf:
		a.panel.Actor.Note = alarms.NoteTooLong
	default:
		a.Until, a.ShelvedAt, a.By, a.Note = until, max(a.Condition, alarms.Outer), a.panel.Actor.By, a.panel.Actor.Note
		a.panel.Timers.Set(a.timersOf().shelfEnd, until)
		a.Level = a.Condition
		a.Move(alarms.ShelveOn, alarms.Shelved, now)
		return
	}
	a.Write(now)
}

// Unshelve ends shelving, by a person, by its end, or because it got worse.
func (a *Alarm) Unshelve(due timing.Instant, by, why string) {
	if a.State != alarms.Shelved {
		return
	}
	before := a.panel.Actor
	a.panel.Actor = Actor{By: by, Note: why}
	a.Until, a.By, a.Note = 0, "", ""
	a.leaveShelf()
	a.wake(alarms.ShelveOff, due, false)
	a.panel.Actor = before
}

// leaveShelf stops the wait for the end of shelving.
func (a *Alarm) leaveShelf() {
	if a.timers != nil {
		a.panel.Timers.Set(a.timers.shelfEnd, 0)
	}
}

// TakeOut takes a out of service.
func (a *Alarm) TakeOut(now timing.Instant) {
	if a.State == alarms.OutOfService {
		return
	}
	a.leaveShelf()
	a.Until, a.By, a.Note = 0, a.panel.Actor.By, a.panel.Actor.Note
	a.Move(alarms.Out, alarms.OutOfService, now)
}

// PutBack puts a back into service.
func (a *Alarm) PutBack(now timing.Instant) {
	if a.State != alarms.OutOfService {
		return
	}
	a.By, a.Note = "", ""
	a.wake(alarms.Back, now, false)
}
