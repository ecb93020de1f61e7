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
	p := Picture{At: e.now.time(), Link: e.link.up(), LinkSince: e.link.Since.time()}
	for _, a := range e.order {
		if a.State != Normal {
			p.Alarms = append(p.Alarms, a.draw(other))
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

func (a *alarm) draw(other bool) AlarmPicture {
	p := AlarmPicture{
		ID: a.id, Transition: transitionID(a.id, a.Count), State: a.State, Level: a.Level,
		Priority: a.presentPriority(), Quantity: a.quantity, Rule: a.rule,
		Since: a.Changed.time(), Active: a.Condition != Within, Chattering: a.Chatters,
		Until: a.Until.time(), By: a.By, Note: a.Note, Cause: a.Cause, Sentence: a.Sentence,
	}
	if other && a.Other != "" {
		p.Sentence = a.Other
	}
	if p.Sentence == "" {
		p.Sentence = a.title() + "."
	}
	if a.State.Active() {
		p.Since = a.Raised.time()
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
	hp := HousePicture{Proposed: h.Proposed, InSeason: h.seasonWords(), ID: h.plan.ID, Name: h.plan.Name, Season: h.Season, Daypart: h.Daypart}
	for _, a := range e.order {
		if a.house == h && a.State.Active() {
			hp.Worst = max(hp.Worst, a.priority(max(a.Level, Outer)))
		}
	}
	for _, st := range h.streams {
		if heard := st.Heard.time(); heard.After(hp.Newest) {
			hp.Newest = heard
		}
	}
	for _, p := range h.places {
		hp.Places = append(hp.Places, e.drawPlace(p))
	}
	hp.Loop = e.drawLoop(h)
	hp.Drives, hp.Selectors = e.drawDrives(h), drawSelectors(h)
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
	pp := PointPicture{Quantity: pt.quantity, Limits: pt.band.Limits}
	if pt.quantity.Derived() {
		pp.Value, pp.HasValue, pp.Live = pt.value, pt.has, pt.has && e.link.up()
		if t, h := pt.place.pair(); t != nil {
			pp.At, pp.Probe = min(t.ValueAt, h.ValueAt).time(), t.probe.plan.ID
		}
	} else {
		pp.show(pt.shown(), e.link.up())
	}
	if pt.rate != nil && pp.Live {
		pp.Rate = pt.slopeNow()
	}
	if pt.banded {
		pt.nearest(&pp)
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

func (pp *PointPicture) show(st *stream, up bool) {
	if st == nil {
		return
	}
	pp.HasValue, pp.Probe = true, st.probe.plan.ID
	pp.Live = st.usable() && up
	pp.Value, pp.At = st.Value, st.ValueAt.time()
	if !st.Has {
		pp.Value, pp.At, pp.Retained = st.Retained, st.HeldAt.time(), true
	}
}

// nearest fills in the side and level of pt's worst side, before any delay.
func (pt *point) nearest(pp *PointPicture) {
	lo, hi, ok := pt.extremes()
	if !ok {
		return
	}
	for _, s := range []*side{pt.low, pt.high} {
		v, outer, inner := hi, pt.band.High, pt.band.HighHigh
		if s.sign < 0 {
			v, outer, inner = lo, pt.band.Low, pt.band.LowLow
		}
		level := Within
		if s.over(v, inner) {
			level = Inner
		} else if s.over(v, outer) {
			level = Outer
		}
		if level > pp.Level {
			pp.Level, pp.Side = level, sideOf(s.sign)
			pp.Value = v
		}
	}
}
