package alarms

import "time"

// Bounds on the time that a probe's own clock gives. Common practice, no source.
const (
	clockAhead = 2 * time.Minute    // more is a clock fault
	clockPast  = 7 * 24 * time.Hour // older is a clock fault
	lateAfter  = 10 * time.Minute   // older may belong to history
	saneRun    = 5                  // good times in a row: the clock is right again
)

// timing says of when a reading is.
type timing uint8

const (
	live      timing = iota
	uncertain        // its own time is of the past, and may be wrong
	past             // it belongs to history
)

// behind is what is known of the newest reading of a stream whose own time was
// of the past.
type behind struct {
	At    instant `json:"at,omitempty"`    // received; 0: none since the last good time
	Clock instant `json:"clock,omitempty"` // measured
	Sent  bool    `json:"sent,omitempty"`  // with others in one go
}

// present says of when a reading is that was measured then. Readings that come
// at the pace at which they were measured, or at the probe's usual pace, are of
// now whatever its clock says. A clock that cannot be right is told, and not
// used.
func (e *Engine) present(st *stream, measured, now instant) timing {
	if measured == 0 {
		return live
	}
	p := st.probe
	late := max(lateAfter, 2*st.interval())
	switch age := now.since(measured); {
	case age < -clockAhead, age > clockPast:
		e.clockFault(p, st, measured, now)
		return live
	case p.ClockOff && age > late:
		p.Sane = 0
		return live
	case age > late, measured < st.Measured:
		return e.isLate(st, measured, now, age > late)
	}
	st.Behind = behind{}
	if p.ClockOff {
		p.Sane++
		if p.Sane >= saneRun {
			e.clockRight(p, now)
		}
	}
	st.Measured = measured
	return live
}

// isLate tells a backlog, sent in one go, from a clock that was put back or runs
// behind: then two readings in a row come at their pace.
func (e *Engine) isLate(st *stream, measured, now instant, far bool) timing {
	last := st.Behind
	st.Behind = behind{At: now, Clock: measured}
	if last.At == 0 {
		if every := st.interval(); every > 0 && st.Fresh && now.since(st.ValueAt) < every/2 {
			st.Behind.Sent = true // between readings that come as usual
			return past
		}
		return uncertain
	}
	if now.since(last.At) < measured.since(last.Clock).Abs()/2 {
		if !last.Sent && st.Odd == FaultClock {
			st.unsee()
			e.rejudge(st.probe.place, now)
		}
		st.Behind.Sent = true
		st.Measured = max(st.Measured, measured)
		return past
	}
	if last.Sent {
		return uncertain
	}
	if far {
		e.clockFault(st.probe, st, measured, now)
	}
	st.Measured = measured
	return live
}

func (e *Engine) clockFault(p *probe, st *stream, measured, now instant) {
	p.Sane, p.ClockBy = 0, int64(measured-now)
	if p.ClockOff {
		return
	}
	p.ClockOff = true
	st.fault(faultClock, true)
	e.reviewPlace(p.place)
}

func (e *Engine) clockRight(p *probe, now instant) {
	p.ClockOff, p.Sane = false, 0
	for _, st := range p.streams {
		st.fault(faultClock, false)
		st.Measured = 0
	}
	e.reviewPlace(p.place)
}
