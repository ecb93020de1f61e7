package engine

import (
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// reading takes one value of one stream.
func (st *stream) reading(e *Engine, in *alarms.Input, now timing.Instant) {
	st.catchUp()
	if math.IsNaN(in.Value) || math.IsInf(in.Value, 0) {
		if !in.Retained {
			st.probe.garbled(e, st.plan.Quantity, "a value that is no number", now)
		}
		return
	}
	if in.Retained {
		st.Held, st.Retained, st.HeldAt = true, in.Value, now
		return
	}
	sent, measured := st.sent(in.Value), e.panel.Clock.Measured(in.Measured, now)
	if st.isDouble(sent, measured, now) {
		st.Refused++
		return
	}
	st.Raw, st.RawAt = sent, now
	st.hear(e, now)
	e.attend(st, in.Value, now)
	if st.probe.Out {
		st.keep(in.Value, now)
		return
	}
	when := e.present(st, measured, now)
	if when == past {
		st.Refused++
		return
	}
	before := st.Faults
	odd := st.odd(e, sent, when, now)
	switch {
	case st.Bad > 0: // no value at all
	case odd == "":
		st.keep(in.Value, now)
		fallthrough
	default:
		if odd != "" && st.charted() {
			st.doubt(now, st.plan.Quantity.Scaled(in.Value), odd, st.Odd != "")
		}
		st.see(st.plan.Quantity.Scaled(in.Value), odd)
	}
	if odd != "" || st.Bad > 0 {
		st.Refused++
	}
	if st.Faults != before {
		st.changedFaults(e, before, now)
	}
	switch {
	case st.Bad > 0:
	case odd == "":
		st.believed(e, now)
		e.feed(st, now)
	case st.point != nil:
		st.point.judge(e, now)
		st.point.judgeTrend(e, now)
	}
}

// charted reports whether the course of st is kept.
func (st *stream) charted() bool { return st.point != nil && (st.point.banded || st.point.rate != nil) }

// odd says why a reading is doubted by itself, "" for not. What is no value at
// all leaves st.Bad above 0.
func (st *stream) odd(e *Engine, sent float64, when timeliness, now timing.Instant) alarms.Fault {
	if _, bad := st.unbelievable(sent, now); when == uncertain && !bad {
		st.Bad = 0
		return alarms.FaultClock
	}
	if st.believe(e, sent, now) || st.Bad > 0 {
		return ""
	}
	return alarms.FaultStep
}

// isDouble reports whether a message is the same as the one before: same
// value and same measured time or, where the probe has no clock, the same
// value within a second. At QoS 1 a message may come again with no mark on it.
func (st *stream) isDouble(v float64, measured, now timing.Instant) bool {
	if st.RawAt == 0 || v != st.Raw {
		return false
	}
	if measured != 0 {
		return measured == st.Measured || measured == st.Behind.Clock
	}
	return now.Since(st.RawAt) < time.Second
}

// keep makes v the present value.
func (st *stream) keep(v float64, now timing.Instant) {
	v = st.plan.Quantity.Scaled(v)
	st.Has, st.Fresh, st.Value, st.ValueAt, st.Held = true, true, v, now, false
	st.Taken++
}

// believed judges everything that rests on st's new value.
func (st *stream) believed(e *Engine, now timing.Instant) {
	pt := st.point
	if pt == nil {
		return
	}
	kept := false
	if st.charted() {
		st.settleDoubt(now, st.Value)
		kept = st.Course.add(now, st.Value, st.window())
	}
	if len(pt.streams) > 1 {
		pt.compare(e, now)
	}
	if st.loop {
		pt.place.house.countLoop(now)
	}
	pt.judge(e, now)
	if kept {
		pt.judgeTrend(e, now)
	}
	if st.plan.Quantity == alarms.Temperature {
		pt.place.feel(e, now)
		pt.place.foretell(now)
	}
	if st.plan.Quantity == alarms.Humidity {
		pt.place.feelHumid(e, now)
	}
	switch st.plan.Quantity {
	case alarms.Temperature, alarms.Humidity, alarms.Surface:
		if pt.place.derive(e) {
			for _, d := range pt.place.points {
				if d.quantity.Derived() {
					d.judge(e, now)
				}
			}
		}
	}
}

// garbled notes a payload of p that gave no value of q, or none at all where q
// is empty. It is a sign of life of the probe, never of what it measures.
func (p *probe) garbled(e *Engine, q alarms.Quantity, why string, now timing.Instant) {
	for _, st := range p.streams {
		if q == "" || st.plan.Quantity == q {
			e.lacks(st, why, now)
		}
	}
}

// lacks notes a message of st that gave no value. The second in a row, or one
// after a silence, makes st unreadable; so does one when no value came in time.
func (e *Engine) lacks(st *stream, why string, now timing.Instant) {
	st.Garbled++
	st.GarbleWhy = why
	if p := st.probe; p.GarbledAt != now && !st.seldom() { // a payload may lack several values
		p.GarbledAt = now
		p.GarbledN++
	}
	silent := st.Silent
	st.alive(e, now)
	if silent {
		st.await(e, now)
	}
	if st.Garbled >= badInARow || silent {
		e.unreadable(st, now)
	}
}

// seldom reports whether many a probe sends st with a few payloads only: then
// it is not missed in the others.
func (st *stream) seldom() bool {
	return st.plan.Quantity.Facts().Weak.Set
}

// unreadable takes the value of st for lost.
func (e *Engine) unreadable(st *stream, now timing.Instant) {
	if st.probe.Out || st.seldom() || st.Faults.has(faultGarbled) {
		return
	}
	st.fault(faultGarbled, true)
	st.probe.place.rejudge(e, now)
	st.probe.place.reviewPlace(e)
}

// Bounds on the time that a probe's own clock gives. Common practice, no source.
const (
	clockAhead = 2 * time.Minute    // more is a clock fault
	clockPast  = 7 * 24 * time.Hour // older is a clock fault
	lateAfter  = 10 * time.Minute   // older may belong to history
	saneRun    = 5                  // good times in a row: the clock is right again
)

// timeliness says of when a reading is.
type timeliness uint8

const (
	live      timeliness = iota
	uncertain            // its own time is of the past, and may be wrong
	past                 // it belongs to history
)

// behind is what is known of the newest reading of a stream whose own time was
// of the past.
type behind struct {
	At    timing.Instant `json:"at,omitempty"`    // received; 0: none since the last good time
	Clock timing.Instant `json:"clock,omitempty"` // measured
	Sent  bool           `json:"sent,omitempty"`  // with others in one go
}

// present says of when a reading is that was measured then. Readings that come
// at the pace at which they were measured, or at the probe's usual pace, are of
// now whatever its clock says. A clock that cannot be right is told, and not
// used.
func (e *Engine) present(st *stream, measured, now timing.Instant) timeliness {
	if measured == 0 {
		return live
	}
	p := st.probe
	late := max(lateAfter, 2*st.interval())
	switch age := now.Since(measured); {
	case age < -clockAhead, age > clockPast:
		p.clockFault(e, st, measured, now)
		return live
	case p.ClockOff && age > late:
		p.Sane = 0
		return live
	case age > late, measured < st.Measured:
		return st.isLate(e, measured, now, age > late)
	}
	st.Behind = behind{}
	if p.ClockOff {
		p.Sane++
		if p.Sane >= saneRun {
			p.clockRight(e, now)
		}
	}
	st.Measured = measured
	return live
}

// isLate tells a backlog, sent in one go, from a clock that was put back or runs
// behind: then two readings in a row come at their pace.
func (st *stream) isLate(e *Engine, measured, now timing.Instant, far bool) timeliness {
	last := st.Behind
	st.Behind = behind{At: now, Clock: measured}
	if last.At == 0 {
		if every := st.interval(); every > 0 && st.Fresh && now.Since(st.ValueAt) < every/2 {
			st.Behind.Sent = true // between readings that come as usual
			return past
		}
		return uncertain
	}
	if now.Since(last.At) < measured.Since(last.Clock).Abs()/2 {
		if !last.Sent && st.Odd == alarms.FaultClock {
			st.unsee()
			st.probe.place.rejudge(e, now)
		}
		st.Behind.Sent = true
		st.Measured = max(st.Measured, measured)
		return past
	}
	if last.Sent {
		return uncertain
	}
	if far {
		st.probe.clockFault(e, st, measured, now)
	}
	st.Measured = measured
	return live
}

func (p *probe) clockFault(e *Engine, st *stream, measured, now timing.Instant) {
	p.Sane, p.ClockBy = 0, int64(measured-now)
	if p.ClockOff {
		return
	}
	p.ClockOff = true
	st.fault(faultClock, true)
	p.place.reviewPlace(e)
}

func (p *probe) clockRight(e *Engine, now timing.Instant) {
	p.ClockOff, p.Sane = false, 0
	for _, st := range p.streams {
		st.fault(faultClock, false)
		st.Measured = 0
	}
	p.place.reviewPlace(e)
}
