package alarms

import (
	"math"
	"time"
)

// reading takes one value of one stream.
func (e *Engine) reading(st *stream, in *Input, now instant) {
	st.catchUp()
	if math.IsNaN(in.Value) || math.IsInf(in.Value, 0) {
		if !in.Retained {
			e.garbled(st.probe, st.plan.Quantity, "a value that is no number", now)
		}
		return
	}
	if in.Retained {
		st.Held, st.Retained, st.HeldAt = true, in.Value, now
		return
	}
	sent, measured := st.sent(in.Value), e.measured(in.Measured, now)
	if st.isDouble(sent, measured, now) {
		st.Refused++
		return
	}
	st.Raw, st.RawAt = sent, now
	e.hear(st, now)
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
	odd := e.odd(st, sent, when, now)
	switch {
	case st.Bad > 0: // no value at all
	case odd == "":
		st.keep(in.Value, now)
		fallthrough
	default:
		if odd != "" && st.charted() {
			st.doubt(now, st.plan.Quantity.scaled(in.Value), odd, st.Odd != "")
		}
		st.see(st.plan.Quantity.scaled(in.Value), odd)
	}
	if odd != "" || st.Bad > 0 {
		st.Refused++
	}
	if st.Faults != before {
		e.changedFaults(st, before, now)
	}
	switch {
	case st.Bad > 0:
	case odd == "":
		e.believed(st, now)
		e.feed(st, now)
	case st.point != nil:
		e.judge(st.point, now)
		e.judgePace(st.point, now)
	}
}

// charted reports whether the course of st is kept.
func (st *stream) charted() bool { return st.point != nil && (st.point.banded || st.point.rate != nil) }

// odd says why a reading is doubted by itself, "" for not. What is no value at
// all leaves st.Bad above 0.
func (e *Engine) odd(st *stream, sent float64, when timing, now instant) Fault {
	if _, bad := st.unbelievable(sent, now); when == uncertain && !bad {
		st.Bad = 0
		return FaultClock
	}
	if e.believe(st, sent, now) || st.Bad > 0 {
		return ""
	}
	return FaultStep
}

// isDouble reports whether a message is the same as the one before: same
// value and same measured time or, where the probe has no clock, the same
// value within a second. At QoS 1 a message may come again with no mark on it.
func (st *stream) isDouble(v float64, measured, now instant) bool {
	if st.RawAt == 0 || v != st.Raw {
		return false
	}
	if measured != 0 {
		return measured == st.Measured || measured == st.Behind.Clock
	}
	return now.since(st.RawAt) < time.Second
}

// keep makes v the present value.
func (st *stream) keep(v float64, now instant) {
	v = st.plan.Quantity.scaled(v)
	st.Has, st.Fresh, st.Value, st.ValueAt, st.Held = true, true, v, now, false
	st.Taken++
}

// believed judges everything that rests on st's new value.
func (e *Engine) believed(st *stream, now instant) {
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
		e.compare(pt, now)
	}
	if st.loop {
		e.countLoop(pt.place.house, now)
	}
	e.judge(pt, now)
	if kept {
		e.judgePace(pt, now)
	}
	if st.plan.Quantity == Temperature {
		e.feel(pt.place, now)
	}
	if st.plan.Quantity == Humidity {
		e.feelHumid(pt.place, now)
	}
	switch st.plan.Quantity {
	case Temperature, Humidity, Surface:
		if e.derive(pt.place) {
			for _, d := range pt.place.points {
				if d.quantity.Derived() {
					e.judge(d, now)
				}
			}
		}
	}
}

// garbled notes a payload of p that gave no value of q, or none at all where q
// is empty. It is a sign of life of the probe, never of what it measures.
func (e *Engine) garbled(p *probe, q Quantity, why string, now instant) {
	for _, st := range p.streams {
		if q == "" || st.plan.Quantity == q {
			e.lacks(st, why, now)
		}
	}
}

// lacks notes a message of st that gave no value. The second in a row, or one
// after a silence, makes st unreadable; so does one when no value came in time.
func (e *Engine) lacks(st *stream, why string, now instant) {
	st.Garbled++
	st.GarbleWhy = why
	if p := st.probe; p.GarbledAt != now && !st.seldom() { // a payload may lack several values
		p.GarbledAt = now
		p.GarbledN++
	}
	silent := st.Silent
	e.alive(st, now)
	if silent {
		e.await(st, now)
	}
	if st.Garbled >= badInARow || silent {
		e.unreadable(st, now)
	}
}

// seldom reports whether many a probe sends st with a few payloads only: then
// it is not missed in the others.
func (st *stream) seldom() bool {
	return st.plan.Quantity == Battery || st.plan.Quantity == Signal
}

// unreadable takes the value of st for lost.
func (e *Engine) unreadable(st *stream, now instant) {
	if st.probe.Out || st.seldom() || st.Faults.has(faultGarbled) {
		return
	}
	st.fault(faultGarbled, true)
	e.rejudge(st.probe.place, now)
	e.reviewPlace(st.probe.place)
}
