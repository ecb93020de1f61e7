package page

import "math"

type point struct{ X, Y float64 }

// box is a rectangle with its top left corner.
type box struct{ X, Y, W, H float64 }

func (b box) meets(o box, gap float64) bool {
	return b.X < o.X+o.W+gap && o.X < b.X+b.W+gap && b.Y < o.Y+o.H+gap && o.Y < b.Y+b.H+gap
}

func (b box) within(o box) bool {
	return b.X >= o.X && b.Y >= o.Y && b.X+b.W <= o.X+o.W && b.Y+b.H <= o.Y+o.H
}

// nearest is the point of b that is nearest to p.
func (b box) nearest(p point) point {
	return point{min(max(p.X, b.X), b.X+b.W), min(max(p.Y, b.Y), b.Y+b.H)}
}

func (b box) far(p point) float64 {
	n := b.nearest(p)
	return math.Hypot(n.X-p.X, n.Y-p.Y)
}

func (b box) middle() point { return point{b.X + b.W/2, b.Y + b.H/2} }

func square(p point, r float64) box { return box{p.X - r, p.Y - r, 2 * r, 2 * r} }

// line is a straight piece of the drawing.
type line struct{ A, B point }

// crosses reports whether l passes through b (the slab method).
func (l line) crosses(b box) bool {
	from, to := 0.0, 1.0
	for _, s := range [2][4]float64{{l.A.X, l.B.X - l.A.X, b.X, b.X + b.W}, {l.A.Y, l.B.Y - l.A.Y, b.Y, b.Y + b.H}} {
		start, step, lo, hi := s[0], s[1], s[2], s[3]
		if step == 0 {
			if start < lo || start > hi {
				return false
			}
			continue
		}
		a, z := (lo-start)/step, (hi-start)/step
		from, to = max(from, min(a, z)), min(to, max(a, z))
	}
	return from <= to
}
