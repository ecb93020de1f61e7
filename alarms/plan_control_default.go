package alarms

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// Defaults of what the mechanical control consists of; common practice, no
// source, where Stage and Drive name none.
const (
	defaultDifferential = 2.8 // K
	defaultTolerance    = 1.5 // K
	defaultHumid        = 5.0 // %, both of a humidistat
	defaultAnswer       = 2 * time.Minute
	defaultShutter      = 3 * time.Minute
	defaultEffect       = 15 * time.Minute
	defaultMaxStarts    = 10
	defaultTimer        = 10 * time.Minute
	closedContact       = 0.5 // from here a contact is closed
)

// controlDefaults leaves nothing of the controls of h to default.
func (h *House) controlDefaults() {
	h.Controls = slices.Clone(h.Controls)
	for i := range h.Controls {
		h.Controls[i] = h.Controls[i].withDefaults()
	}
	h.Drives = slices.Clone(h.Drives)
	alike := map[DriveKind]int{}
	for _, d := range h.Drives {
		alike[d.Kind]++
	}
	for i := range h.Drives {
		h.Drives[i] = h.Drives[i].withDefaults(alike[h.Drives[i].Kind] == 1)
	}
	h.Selectors = slices.Clone(h.Selectors)
	for i := range h.Selectors {
		s := &h.Selectors[i]
		s.Name = orName(s.Name, string(s.ID))
		if s.At == "" && len(s.Positions) > 0 {
			s.At = s.Positions[0].Name
		}
	}
}

func (c Control) withDefaults() Control {
	c.Name = orName(c.Name, string(c.ID))
	c.Stages = slices.Clone(c.Stages)
	for i := range c.Stages {
		s := &c.Stages[i]
		s.Name = orName(s.Name, s.Mode.String())
		s.Differential = s.differential()
		if s.Mode.Quantity() == Humidity {
			s.Tolerance = cmp.Or(s.Tolerance, defaultHumid)
		}
		s.Tolerance = cmp.Or(s.Tolerance, defaultTolerance)
	}
	return c
}

// differential is the differential in force.
func (s *Stage) differential() float64 {
	if s.Mode.Quantity() == Humidity {
		return cmp.Or(s.Differential, defaultHumid)
	}
	return cmp.Or(s.Differential, defaultDifferential)
}

// withDefaults names a drive after its kind when it is the only one of it.
func (d Drive) withDefaults(only bool) Drive {
	if only {
		d.Name = orName(d.Name, strings.ReplaceAll(string(d.Kind), "-", " "))
	}
	d.Name = orName(d.Name, string(d.ID))
	answer, effect, priority := defaultAnswer, time.Duration(-1), Medium
	switch d.Kind {
	case IntakeShutter:
		answer = defaultShutter
	case Misting:
		effect = defaultEffect
	case ExhaustFan, Heater:
		effect, priority = defaultEffect, High
	}
	d.Start, d.Stop = cmp.Or(d.Start, answer), cmp.Or(d.Stop, answer)
	d.Effect = cmp.Or(d.Effect, effect) // stays negative where none is expected
	d.TimerTolerance = cmp.Or(d.TimerTolerance, defaultTimer)
	d.MaxStarts = cmp.Or(d.MaxStarts, defaultMaxStarts)
	d.Priority = orPriority(d.Priority, priority)
	d.Evidence = slices.Clone(d.Evidence)
	for i := range d.Evidence {
		if e := &d.Evidence[i]; e.Quantity == Contact && !e.Above.Set {
			e.Above = At(closedContact)
		}
	}
	return d
}
