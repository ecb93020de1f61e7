package thermostat

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// Somebody who tries something on a drive, at its switch or at the dial, shelves the
// log of what it did until an end. It speaks for all verdicts about the drive until
// then: they are logged and not told, and what is still so at the end is told. The
// limits of places are watched as ever.

// longestTrial bounds how long something may be tried on a drive.
const longestTrial = 24 * time.Hour

// driveLog is the log of what a drive did.
type driveLog struct {
	lifecycle.Plain
	m        *Thermostat
	alarm    *lifecycle.Alarm
	drive    int
	switched *control.Switching // the line being written
}

// Title names the drive.
func (l *driveLog) Title(_ *lifecycle.Alarm, s *alarms.Subject) { s.Drive = l.m.drives[l.drive].ID }

// Names are those of the thermostat.
func (l *driveLog) Names(_ *lifecycle.Alarm, o *alarms.Names) { l.m.names(o) }

// Aside lets be looked at again what a trial speaks for.
func (l *driveLog) Aside(*lifecycle.Alarm, timing.Instant) { l.m.Restate() }

// Act shelves the log for a person who tries something on the drive.
func (l *driveLog) Act(a *lifecycle.Alarm, in alarms.Input, now timing.Instant) bool {
	m := l.m
	until := m.panel.Clock.Core(in.Until)
	switch {
	case in.Kind == alarms.Unshelve && a.State == alarms.Shelved:
		l.tell(now, now)
		a.Unshelve(now, in.By, in.Note)
	case in.Kind != alarms.Shelve:
	case until.Since(now) > longestTrial:
		m.panel.Actor.Note = alarms.NoteTrialLong
		a.Write(now)
	default:
		a.Shelve(until, now)
		if a.State == alarms.Shelved {
			l.tell(until, now)
		}
	}
	return true
}

// tell tells the judge that the drive is run by hand until a moment.
func (l *driveLog) tell(until, now timing.Instant) {
	l.m.tell(l.m.judge.Test(now, l.drive, until), now)
}

// tried returns what tells that somebody tries something on v's drive, "" for none.
func (v *finding) tried() alarms.AlarmID {
	if v.key.drive < 0 || v.m.log[v.key.drive].alarm.State != alarms.Shelved {
		return ""
	}
	return v.m.log[v.key.drive].alarm.ID
}

// Trials lists who tries what.
func (m *Thermostat) Trials() (all []alarms.Trial) {
	for i, l := range m.log {
		if a := l.alarm; a.State == alarms.Shelved {
			all = append(all, alarms.Trial{By: a.By, Drive: m.drives[i].ID, Until: m.panel.Clock.At(a.Until)})
		}
	}
	return all
}
