package engine

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/timing"
)

// present is a Present being filled in.
type present struct{ alarms.Present }

// remember fills in what a was raised with, and its worst.
func (p *present) remember(a *alarm) {
	e := a.e
	if m := a.First; m.At != 0 {
		p.First, p.FirstAt = &m.Value, e.panel.Clock.At(m.At)
	}
	if m := a.Peak; m.At != 0 {
		v := m.Value
		if a.Kind == alarms.RuleRate && a.Side == alarms.LowSide {
			v = -v
		}
		p.Worst, p.WorstAt = &v, e.panel.Clock.At(m.At)
	}
}

// presentValue is what is known of pt, of its worse probe on one side.
func presentValue(e *Engine, pt *point, side alarms.Side) present {
	p := present{alarms.Present{Quantity: pt.quantity}}
	if pt.quantity.Derived() {
		if t, h := pt.place.pair(); t != nil && pt.has {
			v := pt.value
			p.Value, p.At, p.Live = &v, e.panel.Clock.At(min(t.ValueAt, h.ValueAt)), e.link.up()
		}
		return p
	}
	p.take(e, pt.furthest(side))
	return p
}

// doubted takes v, which st says and is doubted for.
func (p *present) doubted(e *Engine, st *stream, v float64) {
	p.Value, p.At, p.Probe, p.Live, p.Rate = &v, e.panel.Clock.At(st.RawAt), st.probe.plan.ID, e.link.up(), nil
	p.Beside = len(st.point.streams) > 1
}

// take fills in the value of st, nil for none.
func (p *present) take(e *Engine, st *stream) {
	if st == nil || !st.Has {
		return
	}
	v := st.Value
	p.Quantity, p.Value, p.At, p.Probe = st.plan.Quantity, &v, e.panel.Clock.At(st.ValueAt), st.probe.plan.ID
	if p.Live = st.usable() && e.link.up(); !p.Live {
		return
	}
	if pt := st.point; pt != nil {
		if r, ok := st.Course.recent(pt.window()); ok {
			p.Rate = &r
		}
		p.Beside = len(pt.streams) > 1
	}
}

// furthest returns the stream whose value stands for one side of pt: of the
// usable ones that furthest out, of unusable ones the newest; nil for none.
func (pt *point) furthest(side alarms.Side) *stream {
	best := pt.shown()
	if best == nil || !best.usable() || side == alarms.NoSide {
		return best
	}
	for _, st := range pt.streams {
		if st.usable() && (side == alarms.HighSide && st.Value > best.Value || side == alarms.LowSide && st.Value < best.Value) {
			best = st
		}
	}
	return best
}

// bound fills in the limit of s that the value is beyond, else that a tells of.
func (p *present) bound(s *side) {
	outer, inner := s.point.inForce().High, s.point.inForce().HighHigh
	if s.sign < 0 {
		outer, inner = s.point.inForce().Low, s.point.inForce().LowLow
	}
	l := alarms.Limit{}
	switch {
	case inner.Set && (!outer.Set || p.Value != nil && s.over(*p.Value, inner)):
		p.Level, l = alarms.Inner, inner
	default:
		p.Level, l = alarms.Outer, outer
	}
	if l.Set {
		p.beyond(l.Value, s.sign)
	}
}

// beyond fills in how far the value is beyond a limit.
func (p *present) beyond(limit, sign float64) {
	p.Limit = &limit
	if p.Value != nil {
		d := sign * (*p.Value - limit)
		p.Beyond = &d
	}
}

// presentTrend is how fast the value that moves fastest moves now.
func presentTrend(e *Engine, c *trend) present {
	var buf [8]voice
	v := c.steepest(c.point.slopes(buf[:0]))
	p := present{alarms.Present{Quantity: c.point.quantity}}
	switch {
	case v == nil:
		p.take(e, c.point.furthest(alarms.NoSide))
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

// presentProbe is the last that was heard of what a probe or place measures:
// of the quantity that a is of, else the temperature, else the first of all.
func (a *alarm) presentProbe() present {
	var p present
	var best *stream
	rank := func(st *stream) int {
		switch {
		case st == nil || !st.Has || st.point == nil:
			return 0
		case st.plan.Quantity == a.Quantity:
			return 3
		case st.plan.Quantity == alarms.Temperature:
			return 2
		}
		return 1
	}
	for _, st := range a.streams() {
		if r := rank(st); r > rank(best) || r > 0 && r == rank(best) && st.ValueAt > best.ValueAt {
			best = st
		}
	}
	p.take(a.e, best)
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

// loss says why what a stream gives counts for nothing, of one on whose word an
// alarm rests.
func (e *Engine) loss(key string, now timing.Instant) alarms.Ailment {
	id, q, _ := strings.Cut(key, "/")
	l := alarms.Ailment{Probe: alarms.ProbeID(id), Quantity: alarms.Quantity(q), How: alarms.AilsUnplanned}
	st := e.streams[streamKey{l.Probe, l.Quantity}]
	if st == nil {
		return l
	}
	l.Since = e.panel.Clock.At(st.Heard)
	switch {
	case st.probe.Out:
		l.How = alarms.AilsOut
		return l
	case st.Silent:
		l.How = alarms.AilsSilent
		return l
	}
	for _, f := range st.Faults.names() {
		if f.Blinds() {
			l.How, l.Why = alarms.AilsFault, st.probe.shows(f, now)
			return l
		}
	}
	if l.How = alarms.AilsDoubted; !st.mute() {
		l.How = alarms.AilsScarce
	}
	return l
}

// ails says what ails the probes of a dark place.
func (p *place) ails(e *Engine) []alarms.Ailment {
	var all []alarms.Ailment
	for _, pr := range p.probes {
		switch id := pr.plan.ID; {
		case pr.Out:
			all = append(all, alarms.Ailment{Probe: id, How: alarms.AilsOut})
		case pr.node.silent():
			all = append(all, alarms.Ailment{Probe: id, How: alarms.AilsSilent, Since: pr.node.why().Since})
		default:
			for _, st := range pr.streams {
				if st.leaf && st.Silent {
					all = append(all, alarms.Ailment{Probe: id, Quantity: st.plan.Quantity, How: alarms.AilsMissing, Since: e.panel.Clock.At(max(st.Heard, st.Base))})
				}
			}
			for _, st := range pr.streams {
				for _, f := range st.Faults.names() {
					if f.Blinds() {
						all = append(all, alarms.Ailment{Probe: id, Quantity: st.plan.Quantity, How: alarms.AilsFault, Why: pr.shows(f, e.panel.Now)})
					}
				}
			}
		}
	}
	return all
}

// shows is what shows fault f of p, whenever that is asked.
func (p *probe) shows(f alarms.Fault, now timing.Instant) *alarms.Reason {
	r := p.whyFault(f, now)
	if r.Since.Equal(p.place.house.wall.At(now)) {
		r.Since = time.Time{} // it is not known since when
	}
	return &r
}

func (n *node) witnessFacts() *alarms.Witness {
	w := n.alarm.witness()
	if w == nil {
		return nil
	}
	f := &alarms.Witness{Probe: w.plan.ID, Out: w.Out, Contradicted: w.contradicted(), Heard: w.denied()}
	f.Elsewhere = n.heardElsewhere(n.e)
	return f
}

// lastLoss says how the temperatures of a's house were lost; nil where a says so
// itself, of the whole house.
func (a *alarm) lastLoss() *alarms.LastLoss {
	places := a.house.aired
	switch {
	case a.house.unserved > 0:
		return &alarms.LastLoss{Out: true}
	case a.place != nil:
		places = []*place{a.place}
	case a.circuit == nil:
		return nil
	}
	l := &alarms.LastLoss{}
	for _, p := range places {
		if p.last {
			l.Places++
			l.Heard = l.Heard || slices.ContainsFunc(p.air.streams, func(st *stream) bool { return st.Has })
		}
	}
	return l
}

// calm says why o does no harm any more.
func (o *opening) calm(r alarms.Reason) alarms.Calm {
	out := r.Opening.Outside
	switch {
	case o.shows.probe.Out:
		return alarms.CalmOut
	case r.Opening.By.IsZero() && o.plan.ShutBy >= 0:
		return alarms.CalmDay
	case out != nil && *out >= o.low()+openNight:
		return alarms.CalmMild
	}
	return ""
}

// firstOpening finds a door, a window or a lid that is known to be open in the cold,
// or shut in the heat, where p is too cold or too hot.
func (p *place) firstOpening(r *alarms.Reason, f *alarms.First) {
	cold := r.Side == alarms.LowSide
	if r.Quantity != alarms.Temperature && r.Quantity != alarms.Surface || cold && f.NeedsAir {
		return
	}
	for _, o := range p.house.openings {
		if !o.airs(p) || !o.known() || o.Open != cold || o.Closed != 0 {
			continue
		}
		if f.Opening = o.plan.ID; cold {
			f.Since = o.engine.panel.Clock.At(o.Since)
		}
		return
	}
}

// lookFirst decides what to look at first where a value of p is beyond a limit.
func (p *place) lookFirst(r *alarms.Reason, f *alarms.First) {
	h := p.house
	f.NeedsAir, f.Covers, f.Doors = h.needs()&control.NeedsAir != 0, h.allCovers(), h.knowsDoors(p)
	p.firstOpening(r, f)
}

// wordFacts are why those are lost on whose word the alarm of t rests.
func (pt *point) wordFacts(t *alarms.Transition, f *alarms.Background) {
	e := pt.place.house.e
	for _, key := range t.Reason.Lost {
		f.Losses = append(f.Losses, e.loss(key, timing.At(t.Core)))
	}
	if p := e.probes[t.Reason.Probe]; p != nil && len(t.Reason.Lost) > 0 {
		f.Speaks = p.speaksAfter()
	}
}
