package engine

import (
	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

func (o *opening) why(due timing.Instant) alarms.Reason {
	x := &alarms.OpeningReason{ID: o.plan.ID, Kind: o.plan.Kind, Open: o.Open, Outside: alarms.Known(o.house.outsideNow())}
	r := alarms.Reason{Since: o.engine.panel.Clock.At(o.Since), Opening: x, Verdict: "left-open", Value: alarms.Known(o.place.temperature())}
	if !o.Open {
		x.Was = o.engine.panel.Clock.At(o.Was)
	}
	if o.late(due) {
		x.By = o.by(due)
	}
	if o.alarm.Condition == alarms.Inner || o.cools() != alarms.Within {
		low := o.low()
		r.Verdict, r.Limit = "cooling", &low
		if rate, ok := o.rate(); ok {
			r.Rate = &rate
		}
	}
	return r
}

// knowsDoors reports whether it is known how all that airs p stands, and something does.
func (ds *doors) knowsDoors(p *place) bool {
	airs := 0
	for _, o := range ds.openings {
		if !o.airs(p) {
			continue
		}
		if !o.known() {
			return false
		}
		airs++
	}
	return airs > 0
}

// airs reports whether o airs p: a lid its own place, what else there is the whole
// house but for what lies under a lid, outside or at the end of a pipe.
func (o *opening) airs(p *place) bool {
	if o.place == p {
		return true
	}
	if o.plan.Kind == alarms.KindLid || p == nil || p == o.house.outside || p.air == nil {
		return false
	}
	for _, other := range o.house.openings {
		if other.plan.Kind == alarms.KindLid && other.place == p {
			return false
		}
	}
	return o.house.loop == nil || !o.house.loop.Ends(p.plan.ID)
}

// draw shows what people open and shut by hand.
func (ds *doors) draw(hp *alarms.HousePicture) {
	for _, o := range ds.openings {
		p := alarms.OpeningPicture{ID: o.plan.ID, Name: o.plan.Name, Kind: o.plan.Kind, State: alarms.StateUnknown, Harms: o.alarm.Condition != alarms.Within, Open: o.Open}
		switch {
		case o.known():
			p.State, p.Since = map[bool]string{true: alarms.StateOpen, false: alarms.StateShut}[o.Open], ds.h.e.panel.Clock.At(o.Since)
		case o.Known:
			p.Since = ds.h.e.panel.Clock.At(o.shows.Heard)
		}
		hp.Openings = append(hp.Openings, p)
	}
}

// Title names the opening.
func (o *opening) Title(_ *lifecycle.Alarm, s *alarms.Subject) { s.Opening = o.plan.ID }

// Names keep the opening as it was.
func (o *opening) Names(_ *lifecycle.Alarm, n *alarms.Names) { n.Opening = o.plan }

// Facts tell why it does no harm any more.
func (o *opening) Facts(_ *lifecycle.Alarm, t *alarms.Transition, f *alarms.Background) {
	f.Calm = o.calm(t.Reason)
}

// Act takes nothing for the log of its turns.
func (o *opening) Act(a *lifecycle.Alarm, _ alarms.Input, _ timing.Instant) bool {
	return a == &o.log.Alarm
}
