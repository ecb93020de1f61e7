package draw

import (
	"fmt"
	"math"
	"strings"

	"telltale/alarms"
	"telltale/alarms/walk"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

func xy(p point) string { return fmt.Sprintf("%g %g", round1(p.X), round1(p.Y)) }

// through is the path of straight lines through points.
func through(points ...point) string {
	return "M" + strings.Join(walk.Each(points, xy), "L")
}

// outline draws ground, wall, glazing and benches.
func (s *sketch) outline() {
	p, v := s.plot, s.view
	v.Earth = rectangle{p.left, p.y0, p.right - p.left, v.Top + v.Height - p.y0}
	v.Ground = through(point{p.left, p.y0}, point{p.right, p.y0})
	for x := p.left + 8; x < p.right; x += 22 {
		v.Hatch += through(point{x, p.y0 + 3}, point{x - 6, p.y0 + 10})
	}
	corners := walk.Each(cornersOf(s.form), p.at)
	v.Glass = through(corners...)
	if s.form.LeanTo {
		v.Wall = s.wall(corners)
	}
	for _, b := range s.form.Bench {
		left, right := p.at(service.Position{Across: b.From, Height: b.Height}), p.at(service.Position{Across: b.To, Height: b.Height})
		inset := min(5, (right.X-left.X)/6)
		v.Benches = append(v.Benches, through(left, right)+
			through(point{left.X + inset, left.Y}, point{left.X + inset, p.y0})+through(point{right.X - inset, right.Y}, point{right.X - inset, p.y0}))
	}
	if p.broken {
		v.Break = fmt.Sprintf("M%g %gl6-4 6 8 6-8 6 8 6-4", p.left+2, p.y0+17)
	}
}

// wall is the high wall of a lean-to, beside the glazing.
func (s *sketch) wall(corners []point) string {
	const thick = 7.0
	foot, top, out := corners[0], corners[1], -thick
	if s.form.Right {
		foot, top, out = corners[len(corners)-1], corners[len(corners)-2], thick
	}
	return through(foot, top, point{top.X + out, top.Y - 4}, point{foot.X + out, foot.Y}) + "z"
}

// pipeDrawn is a pipe of the ground loop.
type pipeDrawn struct {
	Path   string
	Moving bool
	Flow   string // arrows along it, while air moves
	Depth  string
}

// pipes draws the loop: down where the loop fan draws air in, along in the
// ground, and up to the mouth. A deeper pipe goes around the others.
func (s *sketch) pipes() {
	if s.house.Loop == nil {
		return
	}
	pipes := s.house.Loop.Pipes
	in, out := s.plot.at(service.Position{Across: s.loopMouth(0.15), Height: 0}), s.plot.at(service.Position{Across: s.loopMouth(0.88), Height: 0})
	away := math.Copysign(7, out.X-in.X)
	for _, p := range pipes {
		inner := 0.0 // how many deeper ones go around it
		for _, o := range pipes {
			if o.Depth > p.Depth {
				inner++
			}
		}
		y := s.plot.at(service.Position{Across: 0, Height: -p.Depth}).Y
		a, b := in.X+away*inner, out.X-away*inner
		run := []point{{a, s.plot.y0 - 2}, {a, y}, {b, y}, {b, s.plot.y0 - 6}}
		d := pipeDrawn{Path: through(run...), Moving: p.Moving, Depth: s.depth(p)}
		if p.Moving {
			for _, share := range []float64{0.2, 0.5, 0.8} {
				x := a + (b-a)*share
				d.Flow += fmt.Sprintf("M%g %gl%g 4.5l%g 4.5", round1(x), round1(y-4.5), math.Copysign(5, away), -math.Copysign(5, away))
			}
		}
		s.view.Pipes = append(s.view.Pipes, d)
	}
}

func (s *sketch) depth(p alarms.PipePicture) string {
	return s.words.Number(p.Depth, 1) + words.NoBreak + "m"
}

// loopMouth is a point across, counted from the high wall.
func (s *sketch) loopMouth(share float64) float64 {
	if s.form.LeanTo && s.form.Right {
		share = 1 - share
	}
	return share * s.form.Width
}

// airDrawn is the way that air takes through the house while it is drawn out.
type airDrawn struct {
	Path, Head string
	Guessed    bool
}

// air draws how it passes from the shutter to an exhaust fan that runs.
func (s *sketch) air() {
	var fan, shutter *driveDrawn
	for _, d := range s.view.Drives {
		switch {
		case d.Kind == alarms.ExhaustFan && fan == nil && d.Shape == string(alarms.DriveRunning):
			fan = d
		case d.Kind == alarms.IntakeShutter && shutter == nil:
			shutter = d
		}
	}
	if fan == nil {
		return
	}
	from := s.plot.at(service.Position{Across: 0.04 * s.form.Width, Height: 0.15 * s.form.Eaves})
	if shutter != nil {
		from = shutter.block.at
	}
	to, centre := fan.block.at, s.plot.at(service.Position{Across: s.form.Width * 0.5}).X
	a, z := point{from.X + math.Copysign(14, centre-from.X), from.Y}, point{to.X + math.Copysign(14, centre-to.X), to.Y}
	c1, c2 := point{centre, a.Y}, point{centre, z.Y}
	if math.Abs(a.X-centre) < 20 {
		c1.X += 0.3 * s.form.Width * s.plot.up
	}
	if math.Abs(z.X-centre) < 20 {
		z = point{to.X, to.Y + 14}
		c2 = point{centre, z.Y + 40}
	}
	s.view.Air = &airDrawn{Guessed: fan.Guessed, Head: arrow(c2, z),
		Path: "M" + xy(a) + "C" + xy(c1) + " " + xy(c2) + " " + xy(z)}
}

// arrow is the head of an arrow that comes from a and ends at z.
func arrow(a, z point) string {
	turn := math.Atan2(z.Y-a.Y, z.X-a.X)
	side := func(by float64) point { return point{z.X - 9*math.Cos(turn+by), z.Y - 9*math.Sin(turn+by)} }
	return through(side(0.5), z, side(-0.5))
}
