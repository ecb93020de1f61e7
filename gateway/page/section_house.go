package page

import (
	"fmt"
	"math"
	"strings"

	"telltale/alarms"
)

func xy(p point) string { return fmt.Sprintf("%g %g", round1(p.X), round1(p.Y)) }

// through is the path of straight lines through points.
func through(points ...point) string {
	parts := make([]string, len(points))
	for i, p := range points {
		parts[i] = xy(p)
	}
	return "M" + strings.Join(parts, "L")
}

// outline draws ground, wall, glazing and benches.
func (s *sketch) outline() {
	p, v := s.plot, s.view
	v.Earth = box{0, p.y0, sectionWidth, p.height - p.y0}
	v.Ground = through(point{0, p.y0}, point{sectionWidth, p.y0})
	s.stroke(costEdge, point{0, p.y0}, point{sectionWidth, p.y0})
	for x := 8.0; x < sectionWidth; x += 22 {
		v.Hatch += through(point{x, p.y0 + 3}, point{x - 6, p.y0 + 10})
	}
	var corners []point
	for _, c := range s.form.corners() {
		corners = append(corners, p.at(c))
	}
	v.Glass = through(corners...)
	s.stroke(costEdge, corners...)
	if s.form.LeanTo {
		v.Wall = s.wall(corners)
	}
	for _, b := range s.form.Bench {
		left, right := p.at(Position{b.From, b.Height}), p.at(Position{b.To, b.Height})
		inset := min(5, (right.X-left.X)/6)
		v.Benches = append(v.Benches, through(left, right)+
			through(point{left.X + inset, left.Y}, point{left.X + inset, p.y0})+through(point{right.X - inset, right.Y}, point{right.X - inset, p.y0}))
		s.stroke(costInk, left, right)
	}
	if p.broken {
		y := p.y0 + 17
		v.Break = fmt.Sprintf("M2 %gl6-4 6 8 6-8 6 8 6-4", y)
		s.solid(box{0, y - 8, 36, 16})
	}
}

// wall is the high wall of a lean-to, beside the glazing.
func (s *sketch) wall(corners []point) string {
	const thick = 7.0
	foot, top, out := corners[0], corners[1], -thick
	if s.form.Right {
		foot, top, out = corners[len(corners)-1], corners[len(corners)-2], thick
	}
	s.stroke(costEdge, point{foot.X + out, foot.Y}, point{top.X + out, top.Y})
	return through(foot, top, point{top.X + out, top.Y - 4}, point{foot.X + out, foot.Y}) + "z"
}

// crop takes off what of the sky and of the ground nothing was put in.
func (s *sketch) crop() {
	top, bottom := s.plot.y0, s.plot.y0+14
	take := func(b box) { top, bottom = min(top, b.Y), max(bottom, b.Y+b.H) }
	for _, b := range s.blocks {
		take(b.box)
		take(square(b.at, 5))
	}
	for _, b := range s.canvas.solid {
		take(b)
	}
	for _, l := range s.canvas.lines {
		take(box{l.A.X, l.A.Y - 6, 0, 14})
	}
	s.view.Top = math.Floor(max(0, top-4))
	s.view.Height = math.Ceil(min(s.plot.height, bottom+8)) - s.view.Top
	s.view.Earth.H = s.view.Top + s.view.Height - s.plot.y0
}

// pipeDrawn is a pipe of the ground loop.
type pipeDrawn struct {
	Path   string
	Moving bool
	Flow   string // arrows along it, while air moves
	Depth  string
	X, Y   float64 // of the depth's text, which ends there
	Long   float64 // and is set so long
}

// pipes draws the loop: down where the loop fan draws air in, along in the
// ground, and up to the mouth. A deeper pipe goes around the others.
func (s *sketch) pipes() {
	if s.house.Loop == nil {
		return
	}
	pipes := s.house.Loop.Pipes
	in, out := s.plot.at(Position{s.loopMouth(0.15), 0}), s.plot.at(Position{s.loopMouth(0.88), 0})
	away := math.Copysign(7, out.X-in.X)
	for _, p := range pipes {
		inner := 0.0 // how many deeper ones go around it
		for _, o := range pipes {
			if o.Depth > p.Depth {
				inner++
			}
		}
		y := s.plot.at(Position{0, -p.Depth}).Y
		a, b := in.X+away*inner, out.X-away*inner
		run := []point{{a, s.plot.y0 - 2}, {a, y}, {b, y}, {b, s.plot.y0 - 6}}
		s.stroke(costPipe, run...)
		left := min(a, b)
		d := pipeDrawn{Path: through(run...), Moving: p.Moving, Depth: s.words.number(p.Depth, 1) + noBreak + "m", X: round1(left - 9), Y: round1(y + 4.5)}
		if p.Moving {
			for _, share := range []float64{0.2, 0.5, 0.8} {
				x := a + (b-a)*share
				d.Flow += fmt.Sprintf("M%g %gl%g 4.5l%g 4.5", round1(x), round1(y-4.5), math.Copysign(5, away), -math.Copysign(5, away))
			}
		}
		d.Long = fitted(d.Depth, textSmall, d.X)
		s.solid(box{d.X - d.Long, y - 8, d.Long, 16})
		s.view.Pipes = append(s.view.Pipes, d)
	}
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

// air draws how it passes from the shutter to an exhaust fan that runs. Text
// keeps off it whether it is drawn or not, so that nothing moves.
func (s *sketch) air() {
	var fan, shutter *driveDrawn
	for i := range s.view.Drives {
		d := &s.view.Drives[i]
		switch {
		case d.Kind == alarms.ExhaustFan && (fan == nil || d.Shape == string(alarms.DriveRunning) && fan.Shape != d.Shape):
			fan = d
		case d.Kind == alarms.IntakeShutter && shutter == nil:
			shutter = d
		}
	}
	if fan == nil {
		return
	}
	from := s.plot.at(Position{0.04 * s.form.Width, 0.15 * s.form.Eaves})
	if shutter != nil {
		from = shutter.at
	}
	centre := s.plot.at(Position{s.form.Width * 0.5, 0}).X
	a, z := point{from.X + math.Copysign(16, centre-from.X), from.Y}, point{fan.at.X + math.Copysign(17, centre-fan.at.X), fan.at.Y}
	c1, c2 := point{centre, a.Y}, point{centre, z.Y}
	if math.Abs(a.X-centre) < 20 {
		c1.X += 0.3 * s.form.Width * s.plot.up
	}
	if math.Abs(z.X-centre) < 20 {
		z = point{fan.at.X, fan.at.Y + 17}
		c2 = point{centre, z.Y + 40}
	}
	last := a
	for i := 1; i <= 8; i++ {
		next := bezier(a, c1, c2, z, float64(i)/8)
		s.stroke(costAir, last, next)
		last = next
	}
	if fan.Shape != string(alarms.DriveRunning) {
		return
	}
	before := bezier(a, c1, c2, z, 0.93)
	s.view.Air = &airDrawn{Guessed: fan.Guessed, Head: arrow(before, z),
		Path: "M" + xy(a) + "C" + xy(c1) + " " + xy(c2) + " " + xy(z)}
}

func bezier(a, b, c, d point, t float64) point {
	u := 1 - t
	at := func(a, b, c, d float64) float64 { return u*u*u*a + 3*u*u*t*b + 3*u*t*t*c + t*t*t*d }
	return point{at(a.X, b.X, c.X, d.X), at(a.Y, b.Y, c.Y, d.Y)}
}

// arrow is the head of an arrow that comes from a and ends at z.
func arrow(a, z point) string {
	turn := math.Atan2(z.Y-a.Y, z.X-a.X)
	side := func(by float64) point { return point{z.X - 9*math.Cos(turn+by), z.Y - 9*math.Sin(turn+by)} }
	return through(side(0.5), z, side(-0.5))
}
