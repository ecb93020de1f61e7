package thermostat

import (
	"telltale/alarms"
	"telltale/alarms/control"
)

var switchedBy = map[control.By]alarms.SwitchedBy{
	control.ByHand: alarms.SwitchedByHand, control.ByTest: alarms.SwitchedByTest, control.ByMistake: alarms.SwitchedByMistake,
}

// newest is the line being written, nil for none.
func (l *driveLog) newest() *alarms.Switched {
	s := l.switched
	if s == nil {
		return nil
	}
	out := &alarms.Switched{
		Called: l.m.at(s.Called), Ran: l.m.at(s.Ran), RanAfter: s.RanAfter, Stopped: l.m.at(s.Stopped),
		Missed: s.Missed, Inferred: s.Inferred, Right: s.Right, By: switchedBy[s.By],
	}
	if s.Stage >= 0 {
		out.Felt = l.m.quantityAt(s.Stage)
	}
	if s.Called != 0 {
		out.CalledTemp = &s.CalledTemp
	}
	if s.RanTempKnown {
		out.RanTemp = &s.RanTemp
	}
	if s.StopKnown {
		out.StoppedTemp = &s.StoppedTemp
	}
	return out
}
