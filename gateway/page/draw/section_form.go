package draw

import (
	"math"

	"telltale/gateway/page/service"
)

// cornersOf is the outline of f above the ground, from the foot of the left wall to
// that of the right one.
func cornersOf(f service.Form) []service.Position {
	left, right := f.Eaves, f.Eaves
	if f.LeanTo {
		left, right = f.Ridge, f.Eaves
		if f.Right {
			left, right = right, left
		}
	}
	out := []service.Position{{Across: 0, Height: 0}, {Across: 0, Height: left}}
	if !f.LeanTo {
		out = append(out, service.Position{Across: f.Width / 2, Height: f.Ridge})
	}
	return append(out, service.Position{Across: f.Width, Height: right}, service.Position{Across: f.Width, Height: 0})
}

// Measures of a drawing in its own units; one is about a pixel on a phone.
const (
	sectionWidth = 376.0
	sectionTall  = 170.0 // at most, for the house
	sectionDeep  = 130.0 // at most, for the ground down to the deepest pipe
	sectionEdge  = 11.0  // beside the house, where what hangs outside is drawn
	sectionSky   = 24.0
	sectionFoot  = 14.0 // of ground, below what is in it
)

// plot turns metres into units.
type plot struct {
	up, down    float64 // units a metre, above the ground and in it
	x0, y0      float64 // of the left wall, and of the ground
	left, right float64 // between which all but text is drawn
	top, bottom float64 // where the sky begins, and the ground ends
	broken      bool    // the ground is drawn on a smaller scale
}

// plotOf fits a form and the ground under it between gutters that are so wide.
func plotOf(f service.Form, deepest, left, right float64) plot {
	p := plot{left: gutterEdge + gutterStrip + left, right: sectionWidth - gutterEdge - gutterStrip - right}
	p.up = min((p.right-p.left-2*sectionEdge)/f.Width, sectionTall/f.Ridge)
	p.down = p.up
	if deepest*p.down > sectionDeep {
		p.down, p.broken = sectionDeep/deepest, true
	}
	p.x0 = round1((p.left + p.right - p.up*f.Width) / 2)
	p.y0 = round1(sectionSky + p.up*f.Ridge)
	p.bottom = math.Ceil(p.y0 + p.down*deepest + sectionFoot)
	return p
}

// at returns where s is drawn. What is far outside is drawn at the edge.
func (p plot) at(s service.Position) point {
	y := p.y0 - p.up*s.Height
	if s.Height < 0 {
		y = p.y0 - p.down*s.Height
	}
	return point{round1(min(max(p.x0+p.up*s.Across, p.left+dotRoom), p.right-dotRoom)), round1(max(y, dotRoom))}
}
