package alarms

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"telltale/alarms/ground"
)

// What is set by hand at a ground loop, by the positions of selectors: how much air
// passes, which way, and which pipes are shut off. What is learned of a pipe is kept
// for each way in which air passes through it, and comes back with that.

// Direction is which way air passes through the pipes.
type Direction string

// Directions.
const (
	// Down is as the plan describes a loop: the fan blows air of the place that the
	// loop is from down into the pipes, and it leaves at their outlets, into the house.
	Down Direction = "down"
	// Up is the other way round: air of the house enters where the pipes have their
	// outlets, and the fan draws it up and lets it out at the place that the loop is
	// from, whose probe must hang in that air. There the air of all pipes is mixed:
	// what they bring together is known, and one of them is judged only while air
	// passes through no other.
	Up Direction = "up"
)

// byHand is what is set by hand at a loop.
type byHand struct {
	flow float64 // m³/s through all pipes together; 0: as the plan has it
	up   bool
	shut []PlaceID
}

// byHand finds what the selectors of h say of its loop.
func (h *house) byHand() byHand {
	var b byHand
	for i := range h.plan.Selectors {
		if pos := h.position(i); pos != nil {
			b.flow = max(b.flow, pos.Flow)
			b.up = b.up || pos.Direction == Up
			b.shut = append(b.shut, pos.Shut...)
		}
	}
	return b
}

// key names the way in which air passes, for what is learned of it.
func (b byHand) key() string {
	if b.flow == 0 && !b.up {
		return ""
	}
	return fmt.Sprintf("%g up=%t", b.flow, b.up)
}

// all is the air through all pipes of l together, by the plan, m³/s.
func (l *Loop) all() (sum float64) {
	for i := range l.Pipes {
		sum += l.Pipes[i].Flow
	}
	return sum
}

// volume is the air through p, m³/s: its share, by the plan, of what passes in all
// while no pipe is shut.
func (p *pipe) volume() float64 {
	if f := p.loop.hand.flow; f > 0 {
		return f * p.plan.Flow / p.loop.plan.all()
	}
	return p.plan.Flow
}

func (p *pipe) shut() bool { return slices.Contains(p.loop.hand.shut, p.plan.Outlet) }

// figures are what was learned of a pipe in one way in which air passes.
type figures struct {
	Decline ground.Decline `json:"decline"`
	Learned learned        `json:"learned"`
}

// turnLoop takes what is set by hand at h's loop, and counts what it brings from now on.
func (e *Engine) turnLoop(h *house, now instant) {
	l := h.loop
	l.hand = h.byHand()
	if key := l.hand.key(); key != l.By {
		depths := l.depthNames()
		l.DepthsBy = with(l.DepthsBy, l.By, depths)
		for i, outlet := range l.DepthsBy[key] {
			l.Depths[i] = l.number(outlet)
		}
		l.DepthsBy = with(l.DepthsBy, key, [3]PlaceID{})
		for _, p := range l.pipes {
			p.change(l.By, key)
			e.forgetDecline(p, now)
		}
		l.countWay(ahead(l.Day, now.utc()))
		l.By, l.Best, l.Held, l.Passing = key, 0, 0, 0
	}
	for _, p := range l.pipes {
		e.turnPipe(p, now)
	}
	e.countLoop(h, now)
}

// with returns m with v under a key, without it where v is zero. It changes no map
// that a snapshot may hold.
func with[V comparable](m map[string]V, key string, v V) map[string]V {
	m = maps.Clone(m)
	var zero V
	switch {
	case v == zero:
		delete(m, key)
	case m == nil:
		m = map[string]V{key: v}
	default:
		m[key] = v
	}
	if len(m) == 0 {
		return nil
	}
	return m
}

// countWay adds what a day brought so far, day, and was not added before, to what the
// loop brought in the present way.
func (l *loop) countWay(day LoopEnergy) {
	if len(l.ways) < 2 {
		return
	}
	l.Ways = with(l.Ways, l.By, l.Ways[l.By].Plus(day).minus(l.Counted))
	l.Counted = day
}

// ways are the ways in which air may pass through the loop of h, by its selectors.
func (h *House) ways() []byHand {
	flows, ups := []float64{0}, []bool{false}
	for i := range h.Selectors {
		for _, p := range h.Selectors[i].Positions {
			if !slices.Contains(flows, p.Flow) {
				flows = append(flows, p.Flow)
			}
			if p.Direction == Up && len(ups) == 1 {
				ups = append(ups, true)
			}
		}
	}
	var all []byHand
	for _, up := range ups {
		for _, flow := range flows {
			all = append(all, byHand{flow: flow, up: up})
		}
	}
	return all
}

// forgetWays drops what is kept of ways in which the plan lets no air pass any more.
func (l *loop) forgetWays() {
	none := func(key string) bool {
		return !slices.ContainsFunc(l.ways, func(b byHand) bool { return b.key() == key })
	}
	for _, key := range slices.Sorted(maps.Keys(l.DepthsBy)) {
		if none(key) {
			l.DepthsBy = with(l.DepthsBy, key, [3]PlaceID{})
		}
	}
	for _, p := range l.pipes {
		for _, key := range slices.Sorted(maps.Keys(p.Others)) {
			if none(key) {
				p.Others = with(p.Others, key, figures{})
			}
		}
	}
}

// waysSentence says what the loop brought in each way, after a blank; "" where there
// is one way only.
func (e *Engine) waysSentence(l *loop, today LoopEnergy) string {
	var all []string
	for _, b := range l.ways {
		sum := l.Ways[b.key()]
		if b.key() == l.By && len(l.ways) > 1 {
			sum = sum.Plus(today).minus(l.Counted)
		}
		if sum.Run > 0 {
			all = append(all, fmt.Sprintf("%s in %s with %s", sum.Brought(), Span(sum.Run), e.plan.Words.way(b, l.plan.all())))
		}
	}
	if len(all) < 2 {
		return ""
	}
	return " By the way in which air passed it brought " + list(all) + "."
}

// way says how air passes: "144 m³/h drawn up".
func (w Words) way(b byHand, usual float64) string {
	if b.flow == 0 {
		b.flow = usual
	}
	if b.up {
		return w.flow(b.flow) + " drawn up"
	}
	return w.flow(b.flow)
}

func (l LoopEnergy) minus(m LoopEnergy) LoopEnergy {
	return LoopEnergy{Heat: l.Heat - m.Heat, Cold: l.Cold - m.Cold, Wet: l.Wet - m.Wet, Dried: l.Dried - m.Dried,
		Fan: l.Fan - m.Fan, Run: l.Run - m.Run, Watched: l.Watched - m.Watched}
}

// change lays aside what was learned of p while air passed in one way, and goes on
// with what is known of another.
func (p *pipe) change(from, to string) {
	was := p.Others[to]
	p.Others = with(with(p.Others, from, figures{p.Decline, p.Learned}), to, figures{})
	p.Decline, p.Learned = was.Decline, was.Learned
	p.Follow, p.Water = ground.Follow{}, ground.Water{}
}

// turnPipe brings the alarms of p to what is set by hand.
func (e *Engine) turnPipe(p *pipe, now instant) {
	if p.shut() || p.loop.hand.up { // what was found is of air that was drawn otherwise
		p.Follow, p.Water = ground.Follow{}, ground.Water{}
		e.found(p.noFlow, false, now)
		e.found(p.wet, false, now)
	}
	if trend, ok := p.Decline.Trend(); p.declining.Condition != Within && !(ok && math.Abs(trend.Over) >= declineBack) {
		e.found(p.declining, false, now)
	}
}

// depthNames are the pipes of Depths, by their outlets.
func (l *loop) depthNames() (named [3]PlaceID) {
	for i, n := range l.Depths {
		named[i] = l.outlet(n)
	}
	return named
}

// alone reports whether what leaves p is seen by itself.
func (s sight) alone(l *loop, i int) bool {
	if !l.hand.up {
		return true
	}
	for k, p := range s.pipes {
		if k != i && (p.moving || !p.known) {
			return false
		}
	}
	return true
}

// inside is the air of the house that enters the pipes of l: drawn up it enters at
// their outlets.
func (s sight) inside(l *loop) ground.Air {
	if !l.hand.up {
		return s.from
	}
	sum, n := 0.0, 0.0
	for _, p := range s.pipes {
		if t := p.mouth.Temperature; !math.IsNaN(t) {
			sum, n = sum+t, n+1
		}
	}
	return ground.Dry(sum / n) // no number where nothing is known
}

// handSentence says what is set by hand at l, after a blank; "" for nothing.
func (e *Engine) handSentence(l *loop) string {
	w, b := e.plan.Words, l.hand
	var all []string
	if b.up {
		all = append(all, "air is drawn up through the pipes")
	}
	if b.flow > 0 {
		all = append(all, w.flow(b.flow)+" in all")
	}
	for _, p := range l.pipes {
		if p.shut() {
			all = append(all, "the pipe at "+w.depth(p.plan.Depth)+" is shut")
		}
	}
	if len(all) == 0 {
		return ""
	}
	return " Set by hand: " + list(all) + "."
}

// flow writes a flow of air: "144 m³/h", with °F "85 cfm".
func (w Words) flow(v float64) string {
	if w.inFahrenheit() {
		return number(v*60/(0.3048*0.3048*0.3048), 0) + " cfm"
	}
	return number(v*3600, 0) + " m³/h"
}
