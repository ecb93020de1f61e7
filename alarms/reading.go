package alarms

import (
	"math"
	"time"
)

// reading takes one value of one stream.
func (e *Engine) reading(st *stream, in *Input, now instant) {
	if math.IsNaN(in.Value) || math.IsInf(in.Value, 0) {
		if !in.Retained {
			e.garbled(st.probe, "a value that is no number", now)
		}
		return
	}
	if in.Retained {
		st.Held, st.Retained, st.HeldAt = true, in.Value, now
		return
	}
	sent, measured := st.sent(in.Value), at(in.Measured)
	if st.isDouble(sent, measured, now) {
		st.Refused++
		return
	}
	st.Raw, st.RawAt = sent, now
	e.hear(st, now)
	if st.probe.Out {
		st.keep(in.Value, now)
		return
	}
	if !e.present(st, measured, now) {
		st.Refused++
		return
	}
	before := st.Faults
	ok := e.believe(st, sent, now)
	if ok {
		st.keep(in.Value, now)
	} else {
		st.Refused++
	}
	if st.Faults != before {
		e.changedFaults(st, before, now)
	}
	if ok {
		e.believed(st, now)
		e.feed(st, now)
	}
}

// isDouble reports whether a message is the same as the one before: same
// value and same measured time or, where the probe has no clock, the same
// value within a second. At QoS 1 a message may come again with no mark on it.
func (st *stream) isDouble(v float64, measured, now instant) bool {
	if st.RawAt == 0 || v != st.Raw {
		return false
	}
	if measured != 0 {
		return measured == st.Measured
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
	if pt.banded || pt.rate != nil {
		kept = st.Course.add(now, st.Value, pt.window())
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

// garbled notes a payload that could not be read. It is a sign of life.
func (e *Engine) garbled(p *probe, why string, now instant) {
	p.Garbled++
	p.GarbledN++
	p.GarbleWhy = why
	for _, st := range p.streams {
		e.hear(st, now)
	}
	if p.Garbled >= badInARow && !p.Out {
		for _, st := range p.streams {
			st.fault(faultGarbled, true)
		}
		e.rejudge(p.place, now)
		e.review(p.place.house)
	}
}
