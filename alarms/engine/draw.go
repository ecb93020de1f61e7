package engine

import (
	"telltale/alarms"
	"telltale/alarms/lifecycle"
)

// Picture returns a copy of everything that can be seen.
func (e *Engine) Picture() alarms.Picture {
	p := alarms.Picture{At: e.panel.Clock.At(e.panel.Now), Link: e.link.up(), LinkSince: e.panel.Clock.At(e.link.Since), Unsteady: e.link.Unsteady}
	for _, a := range e.order {
		if a.State != alarms.Normal {
			p.Alarms = append(p.Alarms, a.drawAlarm(e))
		}
	}
	alarms.WorstFirst(p.Alarms)
	for _, h := range e.houses {
		hp := h.drawHouse(e)
		if hp.Newest.After(p.Newest) {
			p.Newest = hp.Newest
		}
		p.Houses = append(p.Houses, hp)
	}
	p.Leaves = e.leaves.Running()
	return p
}

func (a *alarm) drawAlarm(e *Engine) alarms.AlarmPicture {
	p := alarms.AlarmPicture{
		ID: a.ID, Transition: lifecycle.TransitionID(a.ID, a.Count), News: lifecycle.TransitionID(a.ID, a.News), State: a.State, Level: a.Level,
		Priority: a.PresentPriority(), Quantity: a.Quantity, Rule: a.Kind,
		Since: e.panel.Clock.At(a.Changed), Active: a.Condition != alarms.Within, Chattering: a.Chatters,
		Until: e.panel.Clock.At(a.Until), Reaches: a.Hand, By: a.By, Note: a.Note, Cause: a.Cause, Present: a.present(),
		Of: a.subject(), Now: a.tellNow(e), Last: a.LastTold(), Began: e.panel.Clock.At(a.Began),
	}
	if a.Gauge != nil {
		if d, ok := a.Gauge.Depth(); ok {
			v := a.Gauge.Value(d)
			p.Gauge = &v
		}
	}
	if a.State.Active() {
		p.Since = e.panel.Clock.At(a.Raised)
	}
	if a.State != alarms.SuppressedByDesign {
		p.Cause = ""
	}
	if a.house != nil {
		p.House = a.house.plan.ID
	}
	if a.place != nil {
		p.Place = a.place.plan.ID
	}
	return p
}

// tellNow is a as it would be told now, nil where nothing holds.
func (a *alarm) tellNow(e *Engine) *alarms.Transition {
	if a.Condition == alarms.Within {
		return nil
	}
	return a.asNow(e)
}

// asNow is a as it would be raised now.
func (a *alarm) asNow(e *Engine) *alarms.Transition {
	now := e.panel.Clock.At(e.panel.Now)
	t := &alarms.Transition{Alarm: a.ID, Move: alarms.Raise, To: alarms.Unacknowledged, Level: a.Condition, Due: now, Noticed: now, Core: e.panel.Now.UTC()}
	if t.Reason = a.Reason(alarms.Raise, e.panel.Now); a.Swings() && a.Why != nil { // what was told is looked at
		t.Reason = *a.Why
		t.Reason.Directions = a.Directions()
	}
	t.Background = a.Background(t)
	if a.Swings() && a.Why == nil { // it never was told
		t.Reason.Directions, t.Background.First = "", nil
	}
	a.of.Show(&a.Alarm, t.Background)
	return t
}

func (h *house) drawHouse(e *Engine) alarms.HousePicture {
	hp := alarms.HousePicture{Slow: h.slowRates(), Dark: len(h.places) > 0, ID: h.plan.ID, Name: h.plan.Name, Daypart: h.Daypart}
	for _, a := range e.order {
		switch {
		case a.house != h:
		case a.State.Active():
			hp.Worst = max(hp.Worst, a.Priority(max(a.Level, alarms.Outer)))
		case a.stillAside():
			hp.Worst = max(hp.Worst, a.Priority(max(a.Condition, alarms.Outer)))
		}
	}
	for _, st := range h.streams {
		hp.Dark = hp.Dark && !st.usable()
		if heard := e.panel.Clock.At(st.Heard); heard.After(hp.Newest) {
			hp.Newest = heard
		}
	}
	for _, p := range h.places {
		hp.Places = append(hp.Places, p.drawPlace(e))
	}
	for _, one := range h.parts {
		one.draw(&hp)
	}
	return hp
}

func (p *place) drawPlace(e *Engine) alarms.PlacePicture {
	pp := alarms.PlacePicture{ID: p.plan.ID, Name: p.plan.Name}
	for _, pt := range p.points {
		pp.Points = append(pp.Points, pt.drawPoint(e))
	}
	for _, pr := range p.probes {
		pp.Probes = append(pp.Probes, pr.drawProbe(e))
	}
	for _, x := range p.exposures {
		pp.Exposures = append(pp.Exposures, x.drawExposure(e))
	}
	return pp
}

func (pt *point) drawPoint(e *Engine) alarms.PointPicture {
	pp := alarms.PointPicture{Quantity: pt.quantity, Limits: pt.inForce().Limits}
	if pt.quantity.Derived() {
		pp.Value, pp.HasValue, pp.Live = pt.value, pt.has, pt.has && e.link.up()
		if t, h := pt.place.pair(); t != nil {
			pp.At, pp.Probe = e.panel.Clock.At(min(t.ValueAt, h.ValueAt)), t.probe.plan.ID
		}
	} else {
		pt.shown().showAt(&pp, e)
	}
	if pt.banded {
		pt.nearest(&pp, e)
	}
	if pt.rate != nil && pp.Live {
		pp.Rate = pt.slopeNow(pp.Side)
	}
	return pp
}

// shown returns the stream whose value stands for pt: the newest usable one,
// else the newest that ever had a value.
func (pt *point) shown() *stream {
	var best *stream
	for _, st := range pt.streams {
		switch {
		case !st.Has && !st.Held:
		case best == nil, st.usable() && !best.usable(),
			st.usable() == best.usable() && st.ValueAt > best.ValueAt:
			best = st
		}
	}
	return best
}

func (st *stream) showAt(pp *alarms.PointPicture, e *Engine) {
	if st == nil {
		return
	}
	pp.HasValue, pp.Probe = true, st.probe.plan.ID
	pp.Live = st.usable() && e.link.up()
	pp.Value, pp.At = st.Value, e.panel.Clock.At(st.ValueAt)
	if !st.Has {
		pp.Value, pp.At, pp.Retained = st.Retained, e.panel.Clock.At(st.HeldAt), true
	}
	pp.Seen = st.showing(pp.Value)
}

// nearest fills in the side and level of pt's worst side, before any delay, and
// the reading that is furthest out there.
func (pt *point) nearest(pp *alarms.PointPicture, e *Engine) {
	lo, hi, ok := pt.extremes()
	if !ok {
		return
	}
	for _, s := range []*side{pt.low, pt.high} {
		v, outer, inner := hi, pt.inForce().High, pt.inForce().HighHigh
		if s.sign < 0 {
			v, outer, inner = lo, pt.inForce().Low, pt.inForce().LowLow
		}
		level := alarms.Within
		if s.over(v, inner) {
			level = alarms.Inner
		} else if s.over(v, outer) {
			level = alarms.Outer
		}
		if level > pp.Level {
			pp.Level, pp.Side = level, sideOf(s.sign)
			if !pt.quantity.Derived() {
				pt.furthest(pp.Side).showAt(pp, e)
			}
		}
	}
}

func (pr *probe) drawProbe(e *Engine) alarms.ProbePicture {
	pp := alarms.ProbePicture{ID: pr.plan.ID, Name: pr.plan.Name, Circuit: pr.plan.Circuit, Learned: pr.plan.Every == 0,
		Interval: pr.plan.Every, Silent: pr.node.silent(), OutOf: pr.Out, Garbled: pr.GarbledN}
	var faults faultSet
	for _, st := range pr.streams {
		faults |= st.Faults
		pp.Readings += st.Taken
		pp.Refused += st.Refused
		if heard := e.panel.Clock.At(st.Heard); heard.After(pp.Heard) {
			pp.Heard = heard
		}
		if st.leaf && pp.Interval == 0 {
			pp.Interval = st.interval()
		}
		v := st.Value
		switch {
		case !st.Has:
		case st.plan.Quantity == alarms.Battery:
			pp.Battery = &v
		case st.plan.Quantity == alarms.Signal:
			pp.Signal = &v
		}
	}
	pp.Faults = faults.names()
	pp.Values = pr.drawValues(e)
	pp.Calibrations = pr.drawCalibrations(e)
	if a := pr.node.alarm; pr.Out && a.State == alarms.OutOfService {
		pp.OutSince, pp.OutBy, pp.OutNote = e.panel.Clock.At(a.Changed), a.By, a.Note
	}
	return pp
}

// drawValues lists what pr measures, in the order of the plan.
func (pr *probe) drawValues(e *Engine) []alarms.ProbeValue {
	all := make([]alarms.ProbeValue, 0, len(pr.streams))
	for _, st := range pr.streams {
		v := alarms.ProbeValue{Quantity: st.plan.Quantity, Live: st.usable() && e.link.up()}
		switch {
		case st.Has:
			v.HasValue, v.Value, v.At = true, st.Value, e.panel.Clock.At(st.ValueAt)
		case st.Held:
			v.HasValue, v.Value, v.At, v.Retained = true, st.Retained, e.panel.Clock.At(st.HeldAt), true
		}
		if v.HasValue {
			v.Seen = st.showing(v.Value)
		}
		all = append(all, v)
	}
	return all
}

// showing is what value v of st says of the drive that a contact is evidence of.
// Which way round a contact works is known to the plan alone; what else a stream
// shows stands in its value.
func (st *stream) showing(v float64) *alarms.Seen {
	switch {
	case st.plan.Quantity != alarms.Contact:
	case len(st.opens) > 0:
		return &alarms.Seen{Kind: alarms.IntakeShutter, Runs: opens(st.opens[0].plan, v)}
	case len(st.evidence) > 0:
		return st.evidence[0].Seen(v)
	}
	return nil
}
