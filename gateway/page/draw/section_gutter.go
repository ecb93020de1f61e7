package draw

import (
	"cmp"
	"math"
	"slices"

	"telltale/gateway/page/service"
)

// block is text in a gutter, with a leader to what it says something of.
type block struct {
	spot  service.Position
	room  float64 // kept free above and below where that is drawn, for other leaders pass there
	w, h  float64
	port  float64      // from its top to where the leader ends
	write func(*block) // sets it, once it has its place

	at   point // where spot is drawn
	left bool  // the gutter it stands in
	x, y float64
}

// align is how its text is set: towards the drawing.
func (b *block) align() string {
	if b.left {
		return "end"
	}
	return "start"
}

// away is v as far from the edge of b, away from the drawing.
func (b *block) away(v float64) float64 {
	if b.left {
		return b.x - v
	}
	return b.x + v
}

const (
	gutterEdge  = 3.0  // beside the drawing's edge
	gutterStrip = 15.0 // between text and drawing, where leaders come to the height of their text
	gutterGap   = 7.0  // between two texts
)

// sides gives what is farther left the left gutter, so that both gutters are
// about as full and no leader passes what the other gutter names. It returns
// how wide they are.
func (s *sketch) sides() (left, right float64) {
	slices.SortStableFunc(s.blocks, func(a, b *block) int { return cmp.Compare(a.spot.Across, b.spot.Across) })
	total := 0.0
	for _, b := range s.blocks {
		total += b.h
	}
	sum, fullest, first := 0.0, total, 0
	for i, b := range s.blocks {
		if sum += b.h; max(sum, total-sum) < fullest {
			fullest, first = max(sum, total-sum), i+1
		}
	}
	for i, b := range s.blocks {
		if b.left = i < first; b.left {
			left = max(left, b.w)
		} else {
			right = max(right, b.w)
		}
	}
	return left, right
}

// place puts each block into its gutter, at the height of what it names or as
// near to it as the others let it, and in that order: so no leader crosses
// another. What hangs at about the same height is drawn a little apart.
func (s *sketch) place() {
	s.view.Top, s.view.Height = s.plot.top, s.plot.bottom
	for _, left := range []bool{true, false} {
		var air, ground []*block
		for _, b := range s.blocks {
			if b.left != left {
				continue
			}
			b.at, b.x = s.plot.at(b.spot), s.plot.right+gutterStrip
			if left {
				b.x = s.plot.left - gutterStrip
			}
			if b.spot.Height < 0 {
				ground = append(ground, b)
			} else {
				air = append(air, b)
			}
		}
		apart(air, math.Inf(-1), s.plot.y0)
		apart(ground, s.plot.y0, math.Inf(1))
		s.stack(append(air, ground...))
	}
	s.view.Height -= s.view.Top
}

// apart moves what side names, within lo and hi, until no leader passes through
// a dot or a mark.
func apart(side []*block, lo, hi float64) {
	if len(side) == 0 {
		return
	}
	slices.SortStableFunc(side, func(a, b *block) int { return cmp.Compare(a.at.Y, b.at.Y) })
	want, gaps := make([]float64, len(side)), make([]float64, len(side))
	for i, b := range side {
		want[i] = b.at.Y
		if i > 0 {
			gaps[i] = side[i-1].room + b.room
		}
	}
	for i, y := range spread(want, gaps, lo+side[0].room, hi-side[len(side)-1].room) {
		side[i].at.Y = y
	}
}

// stack sets the heights of the texts of one gutter, from the top.
func (s *sketch) stack(side []*block) {
	if len(side) == 0 {
		return
	}
	want, gaps, total := make([]float64, len(side)), make([]float64, len(side)), 0.0
	for i, b := range side {
		want[i] = b.at.Y - b.port
		if i > 0 {
			gaps[i] = side[i-1].h + gutterGap
		}
		total += gaps[i]
	}
	hi := s.plot.bottom - side[len(side)-1].h
	for i, y := range spread(want, gaps, min(s.plot.top, hi-total), hi) {
		side[i].y = y
	}
	first, last := side[0], side[len(side)-1]
	s.view.Top = math.Floor(min(s.view.Top, first.y-gutterEdge, first.at.Y-first.room))
	s.view.Height = math.Ceil(max(s.view.Height, last.at.Y+last.room))
}

// spread returns what is nearest to want (by the sum of squares) within lo and
// hi, each at least its gap after the one before: of those that are too near to
// each other, as many as it takes are moved together (pool adjacent violators).
func spread(want, gaps []float64, lo, hi float64) []float64 {
	type pool struct{ sum, n float64 }
	var pools []pool
	past := 0.0 // the gaps so far
	for i, w := range want {
		past += gaps[i]
		p := pool{w - past, 1}
		for len(pools) > 0 && pools[len(pools)-1].sum*p.n >= p.sum*pools[len(pools)-1].n {
			last := pools[len(pools)-1]
			p, pools = pool{p.sum + last.sum, p.n + last.n}, pools[:len(pools)-1]
		}
		pools = append(pools, p)
	}
	hi -= past
	out := make([]float64, 0, len(want))
	past = 0
	for _, p := range pools {
		for range int(p.n) {
			past += gaps[len(out)]
			out = append(out, past+max(lo, min(hi, p.sum/p.n)))
		}
	}
	return out
}

// leader is the line from what b names to b, which ends at the height of its port.
func (s *sketch) leader(b *block) string {
	bend, end := point{s.plot.right, b.at.Y}, point{b.away(-3), b.y + b.port}
	if b.left {
		bend.X = s.plot.left
	}
	return through(b.at, bend, end)
}
