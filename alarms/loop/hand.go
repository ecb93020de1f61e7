package loop

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"telltale/alarms"
	"telltale/alarms/ground"
)

// What is set by hand at a ground loop, by the positions of selectors: how much air
// passes, which way, and which pipes are shut off. What is learned of a pipe is kept
// for each way in which air passes through it, and comes back with that.

// byHand is what is set by hand at a loop.
type byHand struct {
	flow float64 // m³/s through all pipes together; 0: as the plan has it
	up   bool
	shut []alarms.PlaceID
}

// byHand finds what the selectors say of l.
func (l *Loop) byHand() byHand {
	var b byHand
	for i := range l.house.Plan().Selectors {
		if pos := l.house.Position(i); pos != nil {
			b.flow = max(b.flow, pos.Flow)
			b.up = b.up || pos.Direction == alarms.Up
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

// flowOf is the air through all pipes of l together, by the plan, m³/s.
func flowOf(l *alarms.Loop) (sum float64) {
	for i := range l.Pipes {
		sum += l.Pipes[i].Flow
	}
	return sum
}

// volume is the air through p, m³/s: its share, by the plan, of what passes in all
// while no pipe is shut.
func (p *pipe) volume() float64 {
	if f := p.loop.hand.flow; f > 0 {
		return f * p.plan.Flow / flowOf(p.loop.plan)
	}
	return p.plan.Flow
}

func (p *pipe) shut() bool { return slices.Contains(p.loop.hand.shut, p.plan.Outlet) }

// figures are what was learned of a pipe in one way in which air passes.
type figures struct {
	Decline ground.Decline `json:"decline"`
	Learned learned        `json:"learned"`
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

// waysOf are the ways in which air may pass through the loop of h, by its selectors.
func waysOf(h *alarms.House) []byHand {
	flows, ups := []float64{0}, []bool{false}
	for i := range h.Selectors {
		for _, p := range h.Selectors[i].Positions {
			if !slices.Contains(flows, p.Flow) {
				flows = append(flows, p.Flow)
			}
			if p.Direction == alarms.Up && len(ups) == 1 {
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

// waysSoFar is what the loop brought in each way, nil where there is one way only.
func (l *Loop) waysSoFar(today alarms.LoopEnergy) []alarms.WayPicture {
	var all []alarms.WayPicture
	for _, b := range l.ways {
		sum := l.Ways[b.key()]
		if b.key() == l.By && len(l.ways) > 1 {
			sum = sum.Plus(today).Minus(l.Counted)
		}
		if sum.Run > 0 {
			all = append(all, alarms.WayPicture{Flow: cmp.Or(b.flow, flowOf(l.plan)), Up: b.up, LoopEnergy: sum})
		}
	}
	if len(all) < 2 {
		return nil
	}
	return all
}

// depthNames are the pipes of Depths, by their outlets.
func (l *Loop) depthNames() (named [3]alarms.PlaceID) {
	for i, n := range l.Depths {
		named[i] = l.outlet(n)
	}
	return named
}
