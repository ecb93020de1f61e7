package engine

import (
	"math"

	"telltale/alarms"
	"telltale/alarms/leave"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// person applies what a person did to one alarm or to all.
func (e *Engine) person(in alarms.Input, now timing.Instant) {
	e.panel.Actor = lifecycle.Actor{By: in.By, Note: in.Note}
	if in.Kind == alarms.Acknowledge && !in.Until.IsZero() {
		e.panel.Actor.Until = e.panel.Clock.Core(in.Until)
	}
	defer func() { e.panel.Actor = lifecycle.Actor{} }()
	switch {
	case in.Kind == alarms.SetSeason:
		e.setSeason(in.House, in.Season, now)
	case in.Kind == alarms.TakeOut && in.Probe != "", in.Kind == alarms.PutBack && in.Probe != "":
		e.serveProbe(in.Probe, in.Kind == alarms.TakeOut, now)
	case in.Kind == alarms.Acknowledge && in.Alarm == "":
		for _, a := range e.order {
			a.Acknowledge(now)
		}
	default:
		if a, ok := e.alarms[in.Alarm]; ok {
			a.act(e, in, now)
		}
	}
}

func (a *alarm) act(e *Engine, in alarms.Input, now timing.Instant) {
	if a.of.Act(&a.Alarm, in, now) {
		return
	}
	switch in.Kind {
	case alarms.Acknowledge:
		a.Acknowledge(now)
	case alarms.Shelve:
		a.Shelve(e.panel.Clock.Core(in.Until), now)
	case alarms.Unshelve:
		if a.State == alarms.Shelved {
			a.Unshelve(now, in.By, in.Note)
		}
	case alarms.TakeOut:
		a.TakeOut(now)
	case alarms.PutBack:
		a.PutBack(now)
	}
}

// serveProbe takes a whole probe out of service or puts it back. Its own
// silence alarm shows the state; its other alarms have nothing to say.
func (e *Engine) serveProbe(id alarms.ProbeID, out bool, now timing.Instant) {
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
		e.panel.Timers.Set(st.deadline, 0)
		if !out && !st.Silent {
			st.expect(e, now)
		}
	}
	for _, st := range p.streams {
		e.recount(st, now)
	}
	if out {
		p.clearFaults()
		p.dismiss(e, now)
		p.node.alarm.TakeOut(now)
	} else {
		p.node.alarm.PutBack(now)
	}
	p.place.rejudge(e, now)
	p.place.reviewPlace(e)
}

// Corrected returns v, as the probe sent it, with the plan's offset and with
// what a person found the probe to be off by since. Who gives readings to Step
// must correct them first, so that what is kept of them elsewhere is what is
// judged here.
func (e *Engine) Corrected(p alarms.ProbeID, q alarms.Quantity, v float64) float64 {
	st := e.streams[streamKey{p, q}]
	if st == nil || st.offset() == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return v
	}
	return rounded(v + st.offset())
}

// calibration is what a person found a stream to be off by.
type calibration struct {
	Offset float64        `json:"offset,omitempty"` // added to each reading
	At     timing.Instant `json:"at,omitempty"`     // 0: never
	By     string         `json:"by,omitempty"`
	Note   string         `json:"note,omitempty"`
}

// calibrate takes what a person found a probe to be off by. Values that are
// held move along, so that no step is seen where there is none.
func (e *Engine) calibrate(in *alarms.Input, now timing.Instant) {
	st := e.streams[streamKey{in.Probe, in.Quantity}]
	if st == nil {
		return
	}
	e.panel.Actor = lifecycle.Actor{By: in.By, Note: in.Note}
	defer func() { e.panel.Actor, e.refused = lifecycle.Actor{}, nil }()
	log, most := st.probe.calibrationLog(e), in.Quantity.Facts().Offset.Most
	st.probe.calibrated = nil
	switch {
	case most == 0:
		e.refused = &alarms.Refused{Quantity: in.Quantity}
	case !(math.Abs(in.Value) <= most): // what is no number too
		e.refused = &alarms.Refused{Quantity: in.Quantity, Most: most}
	default:
		st.probe.calibrated = st
		by := rounded(in.Value)
		st.shift(e, by-st.Calibrated.Offset)
		st.Calibrated = calibration{by, now, in.By, in.Note}
		st.probe.place.rejudge(e, now)
	}
	log.Write(now)
	st.probe.calibrated = nil
}

// shift moves the past of st, and what was learned of it.
func (st *stream) shift(e *Engine, by float64) {
	p := st.probe.place
	q := st.plan.Quantity
	before := p.Mean(q)
	st.move(by)
	moved := p.Mean(q) - before
	if math.IsNaN(moved) || moved == 0 {
		return
	}
	for _, m := range p.house.thermostats {
		m.Shift(thermostatPlace{p}, q, moved)
	}
}

// move shifts the values that st holds of the past.
func (st *stream) move(by float64) {
	if st.Has {
		st.Value = st.plan.Quantity.Scaled(rounded(st.Value + by))
	}
	if st.Held {
		st.Retained += by
	}
	if st.Jumped {
		st.JumpTo += by
	}
	courses := []*course{&st.Course}
	if st.Doubted != nil {
		courses = append(courses, &st.Doubted.course)
	}
	for _, c := range courses {
		for i := range c.N {
			c.V[i] += by
		}
	}
}

// sent returns what the probe sent, of a reading that was corrected.
func (st *stream) sent(v float64) float64 {
	if st.offset() == 0 {
		return v
	}
	return rounded(v - st.offset())
}

// offset is what lies between what the probe sends and what is judged.
func (st *stream) offset() float64 { return st.plan.Offset + st.Calibrated.Offset }

// buildLeaves makes the book of who is not at hand, and its log.
func (e *Engine) buildLeaves() {
	e.leaves = leave.New(&e.panel, e.tellLeave)
	e.leaveLog = e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: "watch/leave", Kind: alarms.RuleLeave, Priority: lifecycle.Always(alarms.Low),
		Because: func(alarms.Move, timing.Instant) alarms.Reason { return alarms.Reason{Leave: e.leaving} },
	}, of: lifecycle.Log{}})
}

// setLeave takes that a person is not at hand, or is so again.
func (e *Engine) setLeave(in *alarms.Input, now timing.Instant) {
	e.panel.Actor = lifecycle.Actor{By: in.By, Note: in.Note}
	defer func() { e.panel.Actor = lifecycle.Actor{} }()
	if in.Kind == alarms.ComeBack {
		e.leaves.Back(in.Person, now)
	} else {
		e.leaves.Begin(*in, now)
	}
}

// tellLeave writes a leave into the log. Where one begins, its stand-in hears of what
// is on that nobody has taken, or the person who goes.
func (e *Engine) tellLeave(l alarms.LeaveReason, due timing.Instant) {
	e.leaving = &l
	e.leaveLog.Write(due)
	e.leaving = nil
	if l.Ended != "" || l.StandIn == "" {
		return
	}
	for _, a := range e.order {
		if a.State == alarms.Unacknowledged || a.State == alarms.Acknowledged && a.By == l.Person {
			a.HandOver(a.asNow(e), l)
		}
	}
}

// Leaves are the leaves that run, and the newest that are over.
func (e *Engine) Leaves() []alarms.Leave { return e.leaves.Leaves() }

// rounded leaves out the noise of adding decimals. Six are more than any probe
// has.
func rounded(v float64) float64 { return math.Round(v*1e6) / 1e6 }

// calibrationLog returns what carries the log of p's calibrations, made when
// first needed.
func (p *probe) calibrationLog(e *Engine) *alarm {
	if p.calibrations == nil {
		p.calibrations = e.lateAlarm(&alarm{Alarm: lifecycle.Alarm{
			ID: p.calibrationID(), Kind: alarms.RulePerson, Priority: lifecycle.Always(alarms.Low),
			Order:   p.faultOrder + lifecycle.TimerCount*int(faultCount),
			Because: func(alarms.Move, timing.Instant) alarms.Reason { return p.whyCalibrated() },
		}, of: lifecycle.Log{}, house: p.place.house, place: p.place, probe: p, circuit: p.circuit})
	}
	return p.calibrations
}

func (p *probe) calibrationID() alarms.AlarmID {
	return p.place.house.id(p.place.plan.ID, string(p.plan.ID), "calibration")
}

// whyCalibrated says what p is off by now. A calibration that was refused has
// no value.
func (p *probe) whyCalibrated() alarms.Reason {
	if p.calibrated == nil {
		return alarms.Reason{}
	}
	by := p.calibrated.Calibrated.Offset
	return alarms.Reason{Quantity: p.calibrated.plan.Quantity, Value: &by}
}

// drawCalibrations lists what the quantities of p were found to be off by.
func (p *probe) drawCalibrations(e *Engine) []alarms.CalibrationPicture {
	var all []alarms.CalibrationPicture
	for _, st := range p.streams {
		if c := st.Calibrated; c.At != 0 {
			q := st.plan.Quantity
			all = append(all, alarms.CalibrationPicture{Quantity: q, Offset: c.Offset, At: e.panel.Clock.At(c.At), By: c.By, Note: c.Note})
		}
	}
	return all
}
