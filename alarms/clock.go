package alarms

import "time"

// Bounds on the time that a probe's own clock gives. Common practice, no source.
const (
	clockAhead = 2 * time.Minute    // more is a clock fault
	clockPast  = 7 * 24 * time.Hour // older is a clock fault
	lateAfter  = 10 * time.Minute   // older belongs to history
	lateRun    = 5                  // late messages in a row, at their usual pace: a clock fault
	saneRun    = 5                  // good times in a row: the clock is right again
)

// present reports whether a reading measured then belongs to the present; if
// not it is history. A clock that cannot be right is told, and not used.
func (e *Engine) present(st *stream, measured, now instant) bool {
	if measured == 0 {
		return true
	}
	p := st.probe
	late := max(lateAfter, 2*st.interval())
	switch age := now.since(measured); {
	case age < -clockAhead, age > clockPast:
		e.clockFault(p, st, measured, now)
		return true
	case age > late:
		return e.isLate(p, st, measured, now)
	}
	p.LateRun = 0
	if p.ClockOff {
		p.Sane++
		if p.Sane >= saneRun {
			e.clockRight(p, now)
		}
	}
	if measured < st.Measured {
		return false // out of order
	}
	st.Measured = measured
	return true
}

// isLate tells a backlog, sent in one go, from a clock that runs behind: that
// one's late times come at their usual pace.
func (e *Engine) isLate(p *probe, st *stream, measured, now instant) bool {
	if p.ClockOff {
		p.Sane = 0
		return true
	}
	if p.LateRun == 0 {
		p.LateFrom, p.LateClock = now, measured
	}
	p.LateRun++
	paced := now.since(p.LateFrom) >= measured.since(p.LateClock)/2 && now > p.LateFrom
	if p.LateRun > lateRun*len(p.streams) && paced {
		e.clockFault(p, st, measured, now)
		return true
	}
	if measured > st.Measured {
		st.Measured = measured
	}
	return false
}

func (e *Engine) clockFault(p *probe, st *stream, measured, now instant) {
	p.Sane, p.ClockBy = 0, int64(measured-now)
	if p.ClockOff {
		return
	}
	p.ClockOff = true
	st.fault(faultClock, true)
	e.review(p.place.house)
}

func (e *Engine) clockRight(p *probe, now instant) {
	p.ClockOff, p.Sane = false, 0
	for _, st := range p.streams {
		st.fault(faultClock, false)
		st.Measured = 0
	}
	e.review(p.place.house)
}
