package alarms

import (
	"fmt"
	"slices"
	"strings"

	"telltale/alarms/control"
)

// findingKinds is how many kinds of verdict there are.
const findingKinds = int(control.Kinds)

// finding returns the place in which m keeps verdicts like f, with its alarm,
// made when first needed.
func (m *mechanism) finding(f control.Finding) *finding {
	key := keyOf(f)
	v := m.found[key]
	if v == nil {
		v = &finding{key: key, last: f}
		v.alarm = m.newAlarm(v)
		m.found[key] = v
		m.order = append(m.order, v)
	}
	return v
}

// keyOf names the verdict f.
func keyOf(f control.Finding) foundKey {
	if f.Drive < 0 || f.Kind == control.DriftedOn || f.Kind == control.DriftedOff {
		return foundKey{f.Kind, -1, f.Stage}
	}
	return foundKey{f.Kind, f.Drive, -1}
}

func (m *mechanism) newAlarm(v *finding) *alarm {
	name := strings.ReplaceAll(v.key.kind.String(), " ", "-")
	slot, of, p := 0, "", Low
	if v.key.drive >= 0 {
		d := m.drives[v.key.drive]
		slot, of, p = v.key.drive, string(d.ID), gravityOf(v.key.kind, d)
	} else {
		d := m.dials[v.key.stage]
		slot, of = len(m.drives)+v.key.stage, string(d.control.ID)
		name = fmt.Sprintf("%s-%d", name, d.nth+1)
	}
	return m.engine.lateAlarm(&alarm{
		id: m.house.id(PlaceID(of), name), rule: RuleControl, house: m.house, found: v, works: m,
		priority: always(p), why: func(mv Move, due instant) Reason { return m.why(m.toldFor(v, mv, due)) },
		order: m.reserved + alarmTimerCount*(slot*findingKinds+int(v.key.kind)),
	})
}

// gravityOf is how soon a person must act on a verdict about d.
func gravityOf(k control.FindingKind, d *Drive) Priority {
	switch k {
	case control.DidNotStart, control.StoppedEarly, control.StoodStill, control.NoEffect:
		return d.Priority
	case control.DidNotStop, control.RanBarred, control.RanAlone, control.RanTogether, control.OpenUnneeded,
		control.NeverRan, control.SeasonUnfit:
		return min(d.Priority, Medium)
	case control.TimerOff:
		return max(Low, d.Priority-1)
	}
	return Low
}

// lateAlarm adds an alarm that is made when first needed. Its order must be
// reserved beforehand.
func (e *Engine) lateAlarm(a *alarm) *alarm {
	e.goOn(a)
	e.alarms[a.id] = a
	i, _ := slices.BinarySearchFunc(e.order, a.id, func(b *alarm, id AlarmID) int { return strings.Compare(string(b.id), string(id)) })
	e.order = slices.Insert(e.order, i, a)
	return a
}

// why says what rests behind a verdict.
func (m *mechanism) why(f control.Finding) Reason {
	r := Reason{Since: m.at(f.Since), Verdict: strings.ReplaceAll(f.Kind.String(), " ", "-")}
	if f.Drive >= 0 {
		r.Drive = m.drives[f.Drive].ID
	}
	switch f.Kind {
	case control.NoEffect, control.DriftedOn, control.DriftedOff, control.SeasonUnfit:
		r.Quantity = m.quantityOf(&f)
		r.Value, r.Limit = &f.Value, &f.Limit
	case control.DrawsMore, control.DrawsLess, control.ShortCycling, control.TurnsWrong, control.NeverRan:
		r.Value, r.Limit = &f.Value, &f.Limit
	default:
		if f.TempKnown {
			r.Quantity, r.Value = m.quantityOf(&f), &f.Temp
		}
	}
	return r
}

// noteSwitching writes one line of the log of switchings, now that it is whole.
// A run of which neither end was seen has nothing to tell.
func (m *mechanism) noteSwitching(s control.Switching, now instant) {
	if s.Ran == 0 && s.Stopped == 0 && !s.Missed {
		return
	}
	a := m.log[s.Drive]
	a.switched = &s
	m.engine.note(a, now)
	a.switched = nil
}
