package alarms

import "time"

// link is the connection to the broker.
type link struct {
	linkState
	alarm *alarm
	delay *timer
}

// linkState is what a snapshot keeps of the link.
type linkState struct {
	Down  bool    `json:"down,omitempty"`
	Since instant `json:"since,omitempty"` // of the last change
	Why   string  `json:"why,omitempty"`
	Told  bool    `json:"told,omitempty"`
	Due   instant `json:"due,omitempty"`
}

// up reports whether messages can arrive: while not, nothing falls silent.
func (l *link) up() bool { return !l.Down }

// buildWatch makes the alarms of the watch itself.
func (e *Engine) buildWatch() {
	e.link = &link{}
	e.link.delay = e.timers.build(func(due instant) {
		e.link.Told = true
		e.apply(e.link.alarm, Outer, nil, due)
		for _, h := range e.houses {
			e.review(h)
		}
	})
	e.link.alarm = e.newAlarm(&alarm{
		id: "watch/broker/silent", rule: RuleLink, priority: always(e.plan.Link.Priority),
		why: func(Move, instant) Reason { return Reason{Since: e.link.Since.time(), Note: e.link.Why} },
	})
	e.restart = e.newAlarm(&alarm{
		id: "watch/restart", rule: RuleRestart, priority: always(Low),
		why: func(Move, instant) Reason { return Reason{Since: e.awaySince.time()} },
	})
	for _, t := range Troubles {
		e.buildTrouble(t)
	}
}

func (e *Engine) linkDown(why string, now instant) {
	l := e.link
	if l.Down {
		l.Why = why
		return
	}
	l.Down, l.Since, l.Why = true, now, why
	e.timers.set(l.delay, now.add(e.plan.Link.Delay))
	for _, h := range e.houses {
		for _, st := range h.streams {
			e.timers.set(st.deadline, 0)
			e.timers.set(st.grace, 0)
		}
		e.blind(h, (*latch).doubt)
		e.countLoop(h, now)
		e.blindMechanisms(h, now)
	}
}

func (e *Engine) linkUp(now instant) {
	l := e.link
	if !l.Down {
		return
	}
	l.Down, l.Since, l.Told = false, now, false
	e.timers.set(l.delay, 0)
	e.apply(l.alarm, Within, nil, now)
	for _, h := range e.houses {
		e.expectAll(h, l.alarm.id, now)
		e.review(h)
	}
}

// expectAll starts every wait of h anew after because. A silence not yet told
// is spared until it had its chance to be heard.
func (e *Engine) expectAll(h *house, because AlarmID, now instant) {
	for _, st := range h.streams {
		if !st.Silent {
			e.expect(st, now)
			continue
		}
		st.Base = now
		if st.probe.Out {
			continue
		}
		if st.Grace == 0 && st.node.told() == nil {
			st.GraceFor = because
		}
		if st.GraceFor != "" {
			st.Grace = now.add(max(st.allowed(), firstAllowed))
			e.timers.set(st.grace, st.Grace)
		}
	}
}

// blind tells every latch of h that nothing was seen for a while.
func (e *Engine) blind(h *house, each func(*latch)) {
	for _, p := range h.places {
		for _, pt := range p.points {
			for _, l := range pt.latches() {
				each(l)
			}
		}
	}
	for _, st := range h.streams {
		each(st.outlier)
	}
}

// restartTold is how long the watch must have been away for that to be noted.
const restartTold = time.Second

// comeBack begins again after the watch was away since the newest input. That
// time counts as blindness: what was to happen in it by the clock alone
// (shelves that end, reminders, day and night) happens; what would have needed
// readings does not.
func (e *Engine) comeBack(now instant) {
	away, from := now.since(e.now), e.now
	e.now = now // all of it is noticed now
	for _, h := range e.houses {
		for _, st := range h.streams {
			e.timers.set(st.deadline, 0)
			e.timers.set(st.grace, 0)
			st.forgetPresent()
		}
		e.blind(h, (*latch).forget)
		e.blindMechanisms(h, from)
		e.loseSight(h, from)
		e.countLoop(h, from)
	}
	e.advance(now)
	for _, h := range e.houses {
		e.expectAll(h, e.restart.id, now)
		e.rejudgeHouse(h, now)
		e.review(h)
	}
	if away >= restartTold {
		e.awaySince = from
		e.note(e.restart, now)
	}
}
