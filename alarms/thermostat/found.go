package thermostat

import (
	"fmt"
	"strings"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// findingKinds is how many kinds of verdict there are.
const findingKinds = int(control.Kinds)

// finding returns the place in which m keeps verdicts like f, with its alarm,
// made when first needed.
func (m *Thermostat) finding(f control.Finding) *finding {
	key := keyOf(f)
	v := m.found[key]
	if v == nil {
		v = &finding{m: m, key: key, last: f}
		v.alarm = v.newAlarm()
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

func (v *finding) newAlarm() *lifecycle.Alarm {
	name := strings.ReplaceAll(v.key.kind.String(), " ", "-")
	slot, of, p := 0, "", alarms.Low
	if v.key.drive >= 0 {
		d := v.m.drives[v.key.drive]
		slot, of, p = v.key.drive, string(d.ID), gravityOf(v.key.kind, d)
	} else {
		d := v.m.dials[v.key.stage]
		slot, of = len(v.m.drives)+v.key.stage, string(d.control.ID)
		name = fmt.Sprintf("%s-%d", name, d.nth+1)
	}
	return v.m.house.LateAlarm(lifecycle.Alarm{
		ID: v.m.id(of, name), Kind: alarms.RuleControl, Priority: lifecycle.Always(p),
		Because: func(mv alarms.Move, due timing.Instant) alarms.Reason { return v.m.why(v.toldFor(mv, due)) },
		Order:   v.m.reserved + lifecycle.TimerCount*(slot*findingKinds+int(v.key.kind)),
	}, v)
}

// id names an alarm of m.
func (m *Thermostat) id(of, name string) alarms.AlarmID {
	return alarms.AlarmID(string(m.house.Plan().ID) + "/" + of + "/" + name)
}

// gravityOf is how soon a person must act on a verdict about d.
func gravityOf(k control.FindingKind, d *alarms.Drive) alarms.Priority {
	switch k {
	case control.DidNotStart, control.StoppedEarly, control.StoodStill, control.NoEffect:
		return d.Priority
	case control.DidNotStop, control.RanBarred, control.RanAlone, control.RanTogether, control.OpenUnneeded,
		control.NeverRan, control.SeasonUnfit:
		return min(d.Priority, alarms.Medium)
	case control.TimerOff:
		return max(alarms.Low, d.Priority-1)
	}
	return alarms.Low
}

// why says what rests behind a verdict.
func (m *Thermostat) why(f control.Finding) alarms.Reason {
	r := alarms.Reason{Since: m.at(f.Since), Verdict: strings.ReplaceAll(f.Kind.String(), " ", "-")}
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

// write writes one line of the log of switchings, now that it is whole.
// A run of which neither end was seen has nothing to tell.
func (l *driveLog) write(s control.Switching, now timing.Instant) {
	if s.Ran == 0 && s.Stopped == 0 && !s.Missed {
		return
	}
	l.switched = &s
	l.alarm.Write(now)
	l.switched = nil
}
