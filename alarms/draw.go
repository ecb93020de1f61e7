package alarms

import (
	"cmp"
	"slices"
)

// Picture returns a copy of everything that can be seen, in the plan's words.
func (e *Engine) Picture() Picture { return e.draw(false) }

// PictureIn is Picture with temperatures in °F or °C, whatever the plan says.
func (e *Engine) PictureIn(fahrenheit bool) (p Picture) {
	if fahrenheit == e.plan.Words.Fahrenheit {
		return e.Picture()
	}
	e.inOther(func() { p = e.draw(true) })
	return p
}

// draw makes a picture; other says that the words are not those of the plan.
func (e *Engine) draw(other bool) Picture {
	p := Picture{At: e.wall(e.now), Link: e.link.up(), LinkSince: e.wall(e.link.Since)}
	for _, a := range e.order {
		if a.State != Normal {
			p.Alarms = append(p.Alarms, e.drawAlarm(a, other))
		}
	}
	slices.SortStableFunc(p.Alarms, func(a, b AlarmPicture) int {
		return cmp.Or(rank(a.State)-rank(b.State), cmp.Compare(b.Priority, a.Priority), a.Since.Compare(b.Since))
	})
	for _, h := range e.houses {
		hp := e.drawHouse(h)
		if hp.Newest.After(p.Newest) {
			p.Newest = hp.Newest
		}
		p.Houses = append(p.Houses, hp)
	}
	p.Sentence = e.overall(p)
	return p
}

// rank orders states by how much they ask for a person.
func rank(s State) int {
	order := [...]int{Unacknowledged: 0, Acknowledged: 1, ReturnedUnack: 2, Shelved: 3, SuppressedByDesign: 4, OutOfService: 5}
	if int(s) < len(order) {
		return order[s]
	}
	return len(order)
}

func (e *Engine) drawAlarm(a *alarm, other bool) AlarmPicture {
	p := AlarmPicture{
		ID: a.id, Transition: transitionID(a.id, a.Count), News: transitionID(a.id, a.News), State: a.State, Level: a.Level,
		Priority: a.presentPriority(), Quantity: a.quantity, Rule: a.rule,
		Since: e.wall(a.Changed), Active: a.Condition != Within, Chattering: a.Chatters,
		Until: e.wall(a.Until), By: a.By, Note: a.Note, Cause: a.Cause, Told: a.Sentence, Present: presentOf(e, a),
	}
	if other && a.Other != "" {
		p.Told = a.Other
	}
	if p.Told == "" {
		p.Told = a.title() + "."
	}
	p.Sentence = nowSaid{e, e.plan.Words, e.wall(e.now)}.sentence(a, p.Present)
	if a.State.Active() {
		p.Since = e.wall(a.Raised)
	}
	if a.State != SuppressedByDesign {
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

func (e *Engine) drawHouse(h *house) HousePicture {
	hp := HousePicture{Proposed: h.Proposed, InSeason: append(h.seasonWords(), h.slowRates()...), ID: h.plan.ID, Name: h.plan.Name, Season: h.Season, Daypart: h.Daypart}
	for _, a := range e.order {
		switch {
		case a.house != h:
		case a.State.Active():
			hp.Worst = max(hp.Worst, a.priority(max(a.Level, Outer)))
		case a.stillAside():
			hp.Worst = max(hp.Worst, a.priority(max(a.Condition, Outer)))
		}
	}
	for _, st := range h.streams {
		if heard := e.wall(st.Heard); heard.After(hp.Newest) {
			hp.Newest = heard
		}
	}
	for _, p := range h.places {
		hp.Places = append(hp.Places, e.drawPlace(p))
	}
	hp.Loop = e.drawLoop(h)
	hp.Drives, hp.Selectors, hp.Openings = e.drawDrives(h), drawSelectors(h), e.drawOpenings(h)
	hp.Sentence = e.houseSentence(h, hp)
	return hp
}

func (e *Engine) drawPlace(p *place) PlacePicture {
	pp := PlacePicture{ID: p.plan.ID, Name: p.plan.Name}
	for _, pt := range p.points {
		pp.Points = append(pp.Points, e.drawPoint(pt))
	}
	for _, pr := range p.probes {
		pp.Probes = append(pp.Probes, e.drawProbe(pr))
	}
	for _, x := range p.exposures {
		pp.Exposures = append(pp.Exposures, e.drawExposure(x))
	}
	return pp
}

func (e *Engine) drawPoint(pt *point) PointPicture {
	pp := PointPicture{Quantity: pt.quantity, Limits: pt.inForce().Limits}
	if pt.quantity.Derived() {
		pp.Value, pp.HasValue, pp.Live = pt.value, pt.has, pt.has && e.link.up()
		if t, h := pt.place.pair(); t != nil {
			pp.At, pp.Probe = e.wall(min(t.ValueAt, h.ValueAt)), t.probe.plan.ID
		}
	} else {
		pp.show(pt.shown(), e)
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

func (pp *PointPicture) show(st *stream, e *Engine) {
	if st == nil {
		return
	}
	pp.HasValue, pp.Probe = true, st.probe.plan.ID
	pp.Live = st.usable() && e.link.up()
	pp.Value, pp.At = st.Value, e.wall(st.ValueAt)
	if !st.Has {
		pp.Value, pp.At, pp.Retained = st.Retained, e.wall(st.HeldAt), true
	}
	pp.Shows = st.shows(pp.Value)
}

// nearest fills in the side and level of pt's worst side, before any delay, and
// the reading that is furthest out there.
func (pt *point) nearest(pp *PointPicture, e *Engine) {
	lo, hi, ok := pt.extremes()
	if !ok {
		return
	}
	for _, s := range []*side{pt.low, pt.high} {
		v, outer, inner := hi, pt.inForce().High, pt.inForce().HighHigh
		if s.sign < 0 {
			v, outer, inner = lo, pt.inForce().Low, pt.inForce().LowLow
		}
		level := Within
		if s.over(v, inner) {
			level = Inner
		} else if s.over(v, outer) {
			level = Outer
		}
		if level > pp.Level {
			pp.Level, pp.Side = level, sideOf(s.sign)
			if !pt.quantity.Derived() {
				pp.show(pt.furthest(pp.Side), e)
			}
		}
	}
}
