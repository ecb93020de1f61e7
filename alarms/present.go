package alarms

import "time"

// Present is what holds now of what an alarm tells of. A value that is not
// known is nil; values are in the quantity's unit, rates in that an hour.
type Present struct {
	Quantity Quantity `json:"quantity,omitempty"` // of the values; "": nothing is measured
	// Value is the newest believed reading: where several probes measure the
	// same, that of the one furthest out on the alarm's side.
	Value *float64  `json:"value,omitempty"`
	At    time.Time `json:"at,omitzero"` // when it was received
	Probe ProbeID   `json:"probe,omitempty"`
	// Live: the probe is heard, and believed or beyond the limit, so Value is of
	// now; else it is the last that was known.
	Live    bool      `json:"live"`
	Rate    *float64  `json:"rate_per_hour,omitempty"` // of Value
	Limit   *float64  `json:"limit,omitempty"`         // in force now; of a rate alarm, of the rate
	Beyond  *float64  `json:"beyond,omitempty"`        // how far Value, or Rate, is beyond it; negative: within
	Worst   *float64  `json:"worst,omitempty"`         // value, or rate, since it is beyond
	WorstAt time.Time `json:"worst_at,omitzero"`
	First   *float64  `json:"first,omitempty"` // value when the alarm was raised
	FirstAt time.Time `json:"first_at,omitzero"`

	level Level  // whose limit Limit is
	name  string // of the probe, where the place has others of the quantity
}

// moment is a value at a moment; At 0 means none.
type moment struct {
	Value float64 `json:"value"`
	At    instant `json:"at"`
}

// firstValue is with what value a comes on, where its rule tells of one.
func (a *alarm) firstValue(due instant) moment {
	if a.rule != RuleLimit && a.rule != RuleRate {
		return moment{}
	}
	if v := a.why(Raise, due).Value; v != nil {
		return moment{*v, due}
	}
	return moment{}
}

// presentOf is what holds now of what a tells of.
func presentOf(e *Engine, a *alarm) Present {
	var p Present
	switch a.rule {
	case RuleLimit:
		s := a.place.point(a.quantity).side(a.side)
		p = presentValue(e, s.point, a.side)
		var buf [8]voice
		vs := s.point.voices(buf[:0])
		if i := s.furthest(vs); i >= 0 && vs[i].doubt != "" {
			p.doubted(e, vs[i].of[0], vs[i].now)
		}
		p.bound(s)
	case RuleRate:
		p = presentPace(e, a.place.point(a.quantity).pace(a.side))
	case RuleExposure:
		x := a.exposed
		p = presentValue(e, x.point, a.side)
		var buf [8]voice
		vs, _ := x.heard(e.now, buf[:0])
		if v := x.worst(vs); v != nil && v.doubt != "" && !x.point.quantity.Derived() {
			p.doubted(e, v.of[0], v.now)
		}
		if l, sign, _ := a.exposed.plan.bound(); l.Set {
			p.beyond(l.Value, sign)
		}
	case RuleControl:
		p = presentControl(e, a)
	case RuleSilent, RuleUnwatched:
		p = presentProbe(e, a)
	}
	if a.Condition != Within || a.State.Active() || a.State == ReturnedUnack { // else it is of some time before
		p.remember(e, a)
	}
	return p
}

// remember fills in what a was raised with, and its worst.
func (p *Present) remember(e *Engine, a *alarm) {
	if m := a.First; m.At != 0 {
		p.First, p.FirstAt = &m.Value, e.wall(m.At)
	}
	if m := a.Peak; m.At != 0 {
		v := m.Value
		if a.rule == RuleRate && a.side == LowSide {
			v = -v
		}
		p.Worst, p.WorstAt = &v, e.wall(m.At)
	}
}

// presentValue is what is known of pt, of its worse probe on one side.
func presentValue(e *Engine, pt *point, side Side) Present {
	p := Present{Quantity: pt.quantity}
	if pt.quantity.Derived() {
		if t, h := pt.place.pair(); t != nil && pt.has {
			v := pt.value
			p.Value, p.At, p.Live = &v, e.wall(min(t.ValueAt, h.ValueAt)), e.link.up()
		}
		return p
	}
	p.take(e, pt.furthest(side))
	return p
}

// doubted takes v, which st says and is doubted for.
func (p *Present) doubted(e *Engine, st *stream, v float64) {
	p.Value, p.At, p.Probe, p.Live, p.Rate = &v, e.wall(st.RawAt), st.probe.plan.ID, e.link.up(), nil
	p.name = ""
	if len(st.point.streams) > 1 {
		p.name = st.probe.plan.Name
	}
}

// take fills in the value of st, nil for none.
func (p *Present) take(e *Engine, st *stream) {
	if st == nil || !st.Has {
		return
	}
	v := st.Value
	p.Quantity, p.Value, p.At, p.Probe = st.plan.Quantity, &v, e.wall(st.ValueAt), st.probe.plan.ID
	if p.Live = st.usable() && e.link.up(); !p.Live {
		return
	}
	if pt := st.point; pt != nil {
		if r, ok := st.Course.recent(pt.window()); ok {
			p.Rate = &r
		}
		if len(pt.streams) > 1 {
			p.name = st.probe.plan.Name
		}
	}
}

// furthest returns the stream whose value stands for one side of pt: of the
// usable ones that furthest out, of unusable ones the newest; nil for none.
func (pt *point) furthest(side Side) *stream {
	best := pt.shown()
	if best == nil || !best.usable() || side == NoSide {
		return best
	}
	for _, st := range pt.streams {
		if st.usable() && (side == HighSide && st.Value > best.Value || side == LowSide && st.Value < best.Value) {
			best = st
		}
	}
	return best
}

// bound fills in the limit of s that the value is beyond, else that a tells of.
func (p *Present) bound(s *side) {
	outer, inner := s.point.inForce().High, s.point.inForce().HighHigh
	if s.sign < 0 {
		outer, inner = s.point.inForce().Low, s.point.inForce().LowLow
	}
	l := Limit{}
	switch {
	case inner.Set && (!outer.Set || p.Value != nil && s.over(*p.Value, inner)):
		p.level, l = Inner, inner
	default:
		p.level, l = Outer, outer
	}
	if l.Set {
		p.beyond(l.Value, s.sign)
	}
}

// beyond fills in how far the value is beyond a limit.
func (p *Present) beyond(limit, sign float64) {
	p.Limit = &limit
	if p.Value != nil {
		d := sign * (*p.Value - limit)
		p.Beyond = &d
	}
}

// presentPace is how fast the value that moves fastest moves now.
func presentPace(e *Engine, c *pace) Present {
	var buf [8]voice
	v := c.steepest(c.point.slopes(buf[:0]))
	p := Present{Quantity: c.point.quantity}
	switch {
	case v == nil:
		p.take(e, c.point.furthest(NoSide))
	case v.doubt != "":
		p.doubted(e, v.of[0], v.course.V[v.course.N-1])
	default:
		p.take(e, v.of[0])
	}
	p.Rate = nil
	l := c.limit()
	if l.Set {
		p.Limit = &l.Value
	}
	if v != nil && p.Live {
		rate := v.now
		p.Rate = &rate
		if l.Set {
			d := c.sign*rate - l.Value
			p.Beyond = &d
		}
	}
	return p
}

// presentControl is the temperature, or the humidity, where the thermostat hangs.
func presentControl(e *Engine, a *alarm) Present {
	p := Present{}
	if b, ok := a.works.bulbOf(&a.found.last); ok {
		if pt := b.place.point(b.quantity); pt != nil {
			p = presentValue(e, pt, NoSide)
		}
	}
	if f := a.found.last; f.TempKnown {
		p.First, p.FirstAt = &f.Temp, a.works.at(f.Due)
	}
	return p
}

// presentProbe is the last that was heard of what a probe or place measures:
// of the quantity that a is of, else the temperature, else the first of all.
func presentProbe(e *Engine, a *alarm) Present {
	var p Present
	var best *stream
	rank := func(st *stream) int {
		switch {
		case st == nil || !st.Has || st.point == nil:
			return 0
		case st.plan.Quantity == a.quantity:
			return 3
		case st.plan.Quantity == Temperature:
			return 2
		}
		return 1
	}
	for _, st := range a.streams() {
		if r := rank(st); r > rank(best) || r > 0 && r == rank(best) && st.ValueAt > best.ValueAt {
			best = st
		}
	}
	p.take(e, best)
	return p
}

// streams are those of the probe or place that a is of.
func (a *alarm) streams() []*stream {
	if a.probe != nil {
		return a.probe.streams
	}
	if a.place == nil {
		return nil
	}
	var all []*stream
	for _, pr := range a.place.probes {
		all = append(all, pr.streams...)
	}
	return all
}

func (pt *point) side(s Side) *side {
	if s == LowSide {
		return pt.low
	}
	return pt.high
}

func (pt *point) pace(s Side) *pace {
	if s == LowSide {
		return pt.falling
	}
	return pt.rising
}
