package lifecycle

import (
	"telltale/alarms"
	"telltale/alarms/timing"
)

// Apply reports what the rule behind a finds: its level, Within for nothing,
// and the alarm that speaks for it, "" for none.
func (a *Alarm) Apply(level alarms.Level, cause alarms.AlarmID, due timing.Instant) {
	old := a.Condition
	if old == alarms.Within {
		a.Began = due
		if level != alarms.Within && !a.State.Active() {
			a.First = a.firstValue(due)
		}
	}
	a.Condition = level
	a.Cause = cause
	switch a.State {
	case alarms.OutOfService:
	case alarms.Shelved:
		if a.Kind == alarms.RuleLimit && level > a.ShelvedAt {
			a.Unshelve(due, "", "it got worse")
		}
	case alarms.SuppressedByDesign:
		a.released(due)
	default:
		if level != alarms.Within && cause != "" {
			a.suppress(due)
			return
		}
		held := level > old && a.passed(old, due)
		if level == alarms.Within && old != alarms.Within {
			a.inside(due)
		}
		a.follow(due)
		if held {
			a.Move(alarms.Chatter, a.State, due)
		}
	}
}

// follow brings a, neither shelved, suppressed nor out of service, to its condition.
func (a *Alarm) follow(due timing.Instant) {
	old := a.Level
	switch {
	case a.Condition == alarms.Within && old == alarms.Within:
	case a.Condition == alarms.Within && a.Chatters && !a.stays(due):
		a.rest(due)
	case a.Condition == alarms.Within:
		a.calm()
		a.end(due)
	case old == alarms.Within:
		a.raise(due)
	default:
		switch {
		case a.Condition >= old:
			a.stayNoisy()
		case a.Chatters: // what is held keeps its worst for a while
			a.rest(due)
		}
		switch {
		case a.Condition > old:
			a.Level = a.Condition
			a.Move(alarms.Worsen, alarms.Unacknowledged, due)
		case a.Condition < old && !a.Chatters:
			a.Level = a.Condition
			a.Move(alarms.Ease, a.State, due)
		case a.Deeper():
			a.Move(alarms.Worsen, alarms.Unacknowledged, due)
		case a.owes():
			a.remind(due)
		}
	}
}

func (a *Alarm) raise(due timing.Instant) {
	a.Level, a.Raised = a.Condition, due
	if a.Chatters && a.Swings() { // it is no news that it is as bad as before
		a.Level = max(a.Level, a.worstPassed())
	}
	a.Move(alarms.Raise, alarms.Unacknowledged, due)
	if a.Condition < a.Level {
		a.rest(due)
	}
}

func (a *Alarm) end(due timing.Instant) {
	to := alarms.Normal
	if a.State == alarms.Unacknowledged && !a.Passing {
		to = alarms.ReturnedUnack
	}
	a.Level = alarms.Within
	a.Move(alarms.Return, to, due)
}

func (a *Alarm) suppress(due timing.Instant) {
	a.Taken = a.State == alarms.Acknowledged
	a.Level = a.Condition
	a.Move(alarms.Suppress, alarms.SuppressedByDesign, due)
}

// released looks whether a, suppressed, is so no longer.
func (a *Alarm) released(due timing.Instant) {
	switch {
	case a.Condition == alarms.Within:
		a.Level = alarms.Within
		a.Move(alarms.Release, alarms.Normal, due)
	case a.Cause == "":
		a.wake(alarms.Release, due, a.Taken && a.Condition <= a.Level)
	}
}

// wake puts a, so far hidden, into the state that its condition asks for.
func (a *Alarm) wake(m alarms.Move, due timing.Instant, taken bool) {
	a.Level = a.Condition
	switch {
	case a.Condition == alarms.Within:
		a.Move(m, alarms.Normal, due)
	case a.Cause != "":
		a.Taken = false
		a.Move(m, alarms.SuppressedByDesign, due)
	case taken:
		a.take(due)
		a.Move(m, alarms.Acknowledged, due)
	default:
		a.Raised = a.Began
		a.Move(m, alarms.Unacknowledged, due)
	}
}

// Found reports what was found to a, of a rule without levels, if that is new.
func (a *Alarm) Found(on bool, due timing.Instant) {
	if on != (a.Condition != alarms.Within) {
		level := alarms.Within
		if on {
			level = alarms.Outer
		}
		a.Apply(level, "", due)
	}
}
