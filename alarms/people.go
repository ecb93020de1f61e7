package alarms

import "time"

// actor is who is behind the input being applied, and until when they are on
// the way; empty for time and readings.
type actor struct {
	by, note string
	until    instant
}

// person applies what a person did to one alarm or to all.
func (e *Engine) person(in Input, now instant) {
	e.actor = actor{by: in.By, note: in.Note}
	if in.Kind == Acknowledge && !in.Until.IsZero() {
		e.actor.until = e.core(in.Until)
	}
	defer func() { e.actor = actor{} }()
	switch {
	case in.Kind == SetSeason:
		e.setSeason(in.House, in.Season, now)
	case in.Kind == TakeOut && in.Probe != "", in.Kind == PutBack && in.Probe != "":
		e.serveProbe(in.Probe, in.Kind == TakeOut, now)
	case in.Kind == Acknowledge && in.Alarm == "":
		for _, a := range e.order {
			e.acknowledge(a, now)
		}
	default:
		if a, ok := e.alarms[in.Alarm]; ok {
			e.act(a, in, now)
		}
	}
}

func (e *Engine) act(a *alarm, in Input, now instant) {
	switch {
	case a.rule == RuleSwitching:
		e.try(a, in, now)
		return
	case a.rule == RulePerson, a.rule == RuleRestart, a.rule == RuleClock, a.rule == RuleLoop && a.pipe == nil,
		a.rule == RuleOpening && a == a.opening.log:
		return // a log, no alarm
	}
	switch in.Kind {
	case Acknowledge:
		e.acknowledge(a, now)
	case Shelve:
		e.shelve(a, e.core(in.Until), now)
	case Unshelve:
		if a.State == Shelved {
			e.unshelve(a, now, in.By, in.Note)
		}
	case TakeOut:
		e.takeOut(a, now)
	case PutBack:
		e.putBack(a, now)
	}
}

func (e *Engine) acknowledge(a *alarm, now instant) {
	switch {
	case a.State == Unacknowledged, a.State == Acknowledged && e.actor.until > now: // taken anew, for as long as was chosen
		e.take(a, now)
		e.move(a, Ack, Acknowledged, now)
		e.noted(a, now)
	case a.State == ReturnedUnack:
		e.move(a, Ack, Normal, now)
	}
}

// longestShelf bounds shelving: what is put aside for longer is out of service.
const longestShelf = 7 * 24 * time.Hour

func (e *Engine) shelve(a *alarm, until, now instant) {
	switch {
	case a.State == OutOfService:
		return
	case until <= now:
		e.actor.note = "not shelved: an end in the future is needed"
	case until.since(now) > longestShelf:
		e.actor.note = "not shelved: 7 days are the most; take the alarm out of service instead"
	default:
		a.Until, a.ShelvedAt, a.By, a.Note = until, max(a.Condition, Outer), e.actor.by, e.actor.note
		e.timers.set(e.timersOf(a).shelfEnd, until)
		a.Level = a.Condition
		e.move(a, ShelveOn, Shelved, now)
		return
	}
	e.note(a, now)
}

// unshelve ends shelving, by a person, by its end, or because it got worse.
func (e *Engine) unshelve(a *alarm, due instant, by, why string) {
	if a.State != Shelved {
		return
	}
	before := e.actor
	e.actor = actor{by: by, note: why}
	a.Until, a.By, a.Note = 0, "", ""
	e.leaveShelf(a)
	e.wake(a, ShelveOff, due, false)
	e.actor = before
}

// leaveShelf stops the wait for the end of shelving.
func (e *Engine) leaveShelf(a *alarm) {
	if a.timers != nil {
		e.timers.set(a.timers.shelfEnd, 0)
	}
}

func (e *Engine) takeOut(a *alarm, now instant) {
	if a.State == OutOfService {
		return
	}
	e.leaveShelf(a)
	a.Until, a.By, a.Note = 0, e.actor.by, e.actor.note
	e.move(a, Out, OutOfService, now)
}

func (e *Engine) putBack(a *alarm, now instant) {
	if a.State != OutOfService {
		return
	}
	a.By, a.Note = "", ""
	e.wake(a, Back, now, false)
}

// serveProbe takes a whole probe out of service or puts it back. Its own
// silence alarm shows the state; its other alarms have nothing to say.
func (e *Engine) serveProbe(id ProbeID, out bool, now instant) {
	p, ok := e.probes[id]
	if !ok || p.Out == out {
		return
	}
	h, before := p.place.house, p.place.unserved()
	p.Out = out
	h.unserved += p.place.unserved() - before
	for _, st := range p.streams {
		st.forgetPresent()
		// Its circuit or house is silent: so is it, until it is heard.
		if st.Silent = !out && st.leaf && st.node.told() != nil; st.Silent {
			st.SilentAt = now
		}
		e.timers.set(st.deadline, 0)
		if !out && !st.Silent {
			e.expect(st, now)
		}
	}
	for _, st := range p.streams {
		e.recount(st, now)
	}
	if out {
		p.clearFaults()
		e.dismiss(p, now)
		e.takeOut(p.node.alarm, now)
	} else {
		e.putBack(p.node.alarm, now)
	}
	e.rejudge(p.place, now)
	e.reviewPlace(p.place)
}
