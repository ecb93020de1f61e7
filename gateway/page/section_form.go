package page

import (
	"math"

	"telltale/alarms"
)

// Form is what a house looks like in section, seen along its length. Lengths
// are in metres: across is counted from the left wall, height from the ground,
// downwards below zero. A house without one is shown as a list.
type Form struct {
	House  alarms.HouseID
	LeanTo bool // one high wall; else a roof with the ridge in the middle
	Right  bool // the high wall stands on the right
	Width  float64
	Length float64 // 0: not known
	Eaves  float64
	Ridge  float64 // top of the roof
	Bench  []Bench
	Places map[alarms.PlaceID]Position // those that have one
	Drives map[alarms.DriveID]Position
}

// Bench is a bench or a bed from one point across to another.
type Bench struct{ From, To, Height float64 }

// Position is a point in the section.
type Position struct{ Across, Height float64 }

// corners are the outline above the ground, from the foot of the left wall to
// that of the right one.
func (f Form) corners() []Position {
	left, right := f.Eaves, f.Eaves
	if f.LeanTo {
		left, right = f.Ridge, f.Eaves
		if f.Right {
			left, right = right, left
		}
	}
	out := []Position{{0, 0}, {0, left}}
	if !f.LeanTo {
		out = append(out, Position{f.Width / 2, f.Ridge})
	}
	return append(out, Position{f.Width, right}, Position{f.Width, 0})
}

// inside reports whether s is under the roof and above the ground.
func (f Form) inside(s Position) bool {
	if s.Across < 0 || s.Across > f.Width || s.Height < 0 {
		return false
	}
	c := f.corners()[1:]
	for i := 1; i < len(c)-1; i++ {
		a, b := c[i-1], c[i]
		if s.Across >= a.Across && s.Across <= b.Across && b.Across > a.Across {
			return s.Height <= a.Height+(b.Height-a.Height)*(s.Across-a.Across)/(b.Across-a.Across)
		}
	}
	return false
}

// Measures of a drawing in its own units; one is about a pixel on a phone.
const (
	sectionWidth = 344.0
	sectionHouse = 0.61  // of the width, for the house
	sectionWall  = 96.0  // beside the high wall of a lean-to, for words of what sits in it
	sectionTall  = 178.0 // at most, for the house
	sectionDeep  = 168.0 // at most, for the ground down to the deepest pipe
	sectionEdge  = 12.0
	sectionSky   = 30.0
)

// plot turns metres into units.
type plot struct {
	up, down float64 // units a metre, above the ground and in it
	x0, y0   float64 // of the left wall, and of the ground
	height   float64 // of the drawing
	broken   bool    // the ground is drawn on a smaller scale
}

// plotOf fits a form and the pipes under it. Sky is room above the roof, and
// below it under the lowest pipe.
func plotOf(f Form, deepest, sky, below float64) plot {
	p := plot{up: min(sectionHouse*sectionWidth/f.Width, sectionTall/f.Ridge)}
	p.down = p.up
	if deepest*p.down > sectionDeep {
		p.down, p.broken = sectionDeep/deepest, true
	}
	top := f.Ridge
	for _, s := range f.Places {
		top = max(top, s.Height)
	}
	for _, s := range f.Drives {
		top = max(top, s.Height)
	}
	p.x0 = round1((sectionWidth - p.up*f.Width) / 2)
	if room := sectionWidth - p.up*f.Width - sectionEdge; f.LeanTo && f.Right {
		p.x0 = round1(max(sectionEdge, room-sectionWall))
	} else if f.LeanTo {
		p.x0 = round1(min(room, sectionWall))
	}
	p.y0 = round1(sky + p.up*top)
	p.height = math.Ceil(p.y0 + p.down*deepest + below)
	return p
}

// at returns where s is drawn. What is far outside is drawn at the edge.
func (p plot) at(s Position) point {
	y := p.y0 - p.up*s.Height
	if s.Height < 0 {
		y = p.y0 - p.down*s.Height
	}
	return point{round1(min(max(p.x0+p.up*s.Across, sectionEdge), sectionWidth-sectionEdge)), round1(min(y, p.height-sectionEdge))}
}
