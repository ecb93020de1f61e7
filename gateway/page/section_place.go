package page

import (
	"cmp"
	"math"
	"slices"
)

// toPlace is a block of text that must find a free spot near its anchor.
type toPlace struct {
	at   point
	size []size  // forms that it can take; the first is as good as the others
	form int     // which it took
	zone int     // which of the canvas's zones the anchor is in
	near float64 // how much it matters that it is near; 1 for a reading
	box  box     // where it was put
	cost float64 // of that
}

// size is one form of a block.
type size struct{ w, h float64 }

// inked is a line of the drawing, and what it costs to write over it.
type inked struct {
	line
	cost float64
}

// canvas is what is drawn already, and where text may go.
type canvas struct {
	all   box
	solid []box   // nothing may lie on these
	lines []inked // text had better not lie on these
	zones func(box) int
}

// Costs of a place for text, in units of distance.
const (
	costInk     = 30.0  // the text lies on a line of the drawing
	costPipe    = 55.0  // on a pipe
	costEdge    = 130.0 // on the outline of the house
	costAir     = 5.0   // on a piece of the way of the air
	costDot     = 150.0 // it hides where something else hangs
	costZone    = 45.0  // it says outside what is inside
	costGround  = 130.0 // it says in the ground what is in the air
	costLeader  = 90.0  // its leader passes over other text
	placeStep   = 4.0
	placeReach  = 48.0
	placeGap    = 3.0
	placeRounds = 4
	dotRoom     = 5.0
)

// place puts all blocks so that none lies on another nor on anything solid, and
// returns what it costs: infinity where there is no room. The blocks' sizes do
// not follow the values in them, so that nothing moves when a value does.
func (c canvas) place(blocks []*toPlace) float64 {
	best, kept := math.Inf(1), make([]toPlace, len(blocks))
	for _, order := range ordersOf(blocks) {
		if cost := c.inOrder(order, blocks); cost < best {
			best = cost
			for i, b := range blocks {
				kept[i] = *b
			}
		}
	}
	if !math.IsInf(best, 1) {
		for i, b := range blocks {
			*b = kept[i]
		}
	}
	return best
}

// ordersOf are the orders in which placing is tried, for what is placed first
// has the choice: the largest, the one most to the right, the lowest, the one
// that should be nearest.
func ordersOf(blocks []*toPlace) [][]*toPlace {
	var out [][]*toPlace
	for _, by := range []func(*toPlace) float64{
		func(b *toPlace) float64 { return b.size[0].w * b.size[0].h },
		func(b *toPlace) float64 { return b.at.X },
		func(b *toPlace) float64 { return b.at.Y },
		func(b *toPlace) float64 { return b.near },
	} {
		up := slices.Clone(blocks)
		slices.SortStableFunc(up, func(a, b *toPlace) int { return cmp.Compare(by(a), by(b)) })
		down := slices.Clone(up)
		slices.Reverse(down)
		out = append(out, down)
	}
	return out
}

// inOrder puts one after the other, and then each anew beside all others.
func (c canvas) inOrder(order, all []*toPlace) float64 {
	for _, b := range order {
		b.box = box{}
	}
	total := 0.0
	for range placeRounds {
		before := total
		total = 0
		for _, b := range order {
			if !c.put(b, all) {
				return math.Inf(1)
			}
			total += b.cost
		}
		if total == before {
			break // nothing moves any more
		}
	}
	return total
}

// put finds the best place for b beside what stands already.
func (c canvas) put(b *toPlace, all []*toPlace) bool {
	before := *b
	b.cost = math.Inf(1)
	if before.box.W > 0 {
		c.try(b, before.form, before.box, all) // the others keep off it, so it is free
	}
	// What is farther away than the window costs more than its reach.
	for reach := placeReach; ; reach *= 2 {
		for form, sz := range b.size {
			left, right := max(c.all.X, b.at.X-reach-sz.w), min(c.all.X+c.all.W-sz.w, b.at.X+reach)
			top, foot := max(c.all.Y, b.at.Y-reach-sz.h), min(c.all.Y+c.all.H-sz.h, b.at.Y+reach)
			for y := math.Ceil(top/placeStep) * placeStep; y <= foot; y += placeStep {
				for x := math.Ceil(left/placeStep) * placeStep; x <= right; x += placeStep {
					c.try(b, form, box{x, y, sz.w, sz.h}, all)
				}
			}
		}
		if b.cost <= b.near*reach || reach > c.all.W+c.all.H {
			break
		}
	}
	return !math.IsInf(b.cost, 1)
}

// try takes a place for b where it is free and better than what b has.
func (c canvas) try(b *toPlace, form int, at box, all []*toPlace) {
	m := at.middle()
	cost := b.near * (at.far(b.at) + 0.3*math.Hypot(m.X-b.at.X, m.Y-b.at.Y))
	if cost >= b.cost || !c.free(at, b, all) {
		return
	}
	if cost += c.dear(b, at, all); cost < b.cost {
		b.cost, b.box, b.form = cost, at, form
	}
}

func (c canvas) free(try box, b *toPlace, all []*toPlace) bool {
	for _, s := range c.solid {
		if try.meets(s, placeGap) {
			return false
		}
	}
	for _, o := range all {
		if o != b && o.box.W > 0 && try.meets(o.box, placeGap) {
			return false
		}
	}
	return true
}

// dear is what a free place costs beyond its distance.
func (c canvas) dear(b *toPlace, try box, all []*toPlace) float64 {
	cost := 0.0
	for _, l := range c.lines {
		if l.crosses(try) {
			cost += l.cost
		}
	}
	for _, o := range all {
		if try.meets(square(o.at, dotRoom), 0) {
			cost += costDot
		}
	}
	if zone := c.zones(try); zone != b.zone {
		cost += costZone
		if zone == zoneGround || b.zone == zoneGround {
			cost += costGround
		}
	}
	leader := line{b.at, try.nearest(b.at)}
	for _, o := range all {
		if o == b || o.box.W == 0 {
			continue
		}
		if leader.crosses(o.box) || (line{o.at, o.box.nearest(o.at)}).crosses(try) {
			cost += costLeader
		}
	}
	for _, s := range c.solid {
		if leader.crosses(s) && !square(b.at, 1).meets(s, 0) {
			cost += costLeader
		}
	}
	return cost
}
