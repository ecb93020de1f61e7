package page

import (
	"math"
	"slices"

	"telltale/alarms"
)

// sectionView is a house in section, with its readings where the probes hang
// and its drives as they now are. All lengths are in units of the drawing.
type sectionView struct {
	Anchor        string
	Top           float64
	Width, Height float64
	Caption       string
	Earth         box
	Ground, Hatch string // paths
	Glass         string
	Wall          string
	Benches       []string
	Break         string // where the ground is not to the scale of the house
	Pipes         []pipeDrawn
	Air           *airDrawn
	Drives        []driveDrawn
	Labels        []labelDrawn
	Reads         []readLine // what stands in the drawing, as a list
	Beside        []readLine // what does not
}

// sketch is a drawing being made.
type sketch struct {
	words  words
	house  alarms.HousePicture
	form   Form
	plot   plot
	view   *sectionView
	canvas canvas
	blocks []*toPlace
	finish []func() // of the blocks, once they are placed
}

// sectionOf draws h, or returns nil where nothing is known of its form.
func (k *arrangements) sectionOf(w words, forms []Form, h alarms.HousePicture, points map[string]pointView) *sectionView {
	i := slices.IndexFunc(forms, func(f Form) bool { return f.House == h.ID })
	if i < 0 {
		return nil
	}
	prepare := func(sky float64) *sketch {
		s := &sketch{words: w, house: h, form: forms[i]}
		s.prepare(sky, points)
		return s
	}
	s, ok := k.arrange(prepare)
	if !ok {
		return nil // then the list says it all
	}
	for _, f := range s.finish {
		f()
	}
	s.crop()
	s.lists(points)
	return s.view
}

// prepare draws all but text that must find its room, with so much more sky.
func (s *sketch) prepare(more float64, points map[string]pointView) {
	deepest, below := 0.0, 30.0
	if s.house.Loop != nil {
		for _, p := range s.house.Loop.Pipes {
			deepest, below = max(deepest, p.Depth), 48
		}
	}
	for _, at := range s.form.Places {
		deepest = max(deepest, -at.Height)
	}
	s.plot = plotOf(s.form, deepest, sectionSky+more, below)
	s.view = &sectionView{Anchor: anchor("section", string(s.house.ID)), Width: sectionWidth, Height: s.plot.height,
		Caption: s.caption()}
	s.canvas = canvas{all: box{3, 3, sectionWidth - 6, s.plot.height - 6}, zones: s.zoneOf}
	s.outline()
	s.pipes()
	s.drives()
	s.air()
	s.labels(points)
}

func (s *sketch) caption() string {
	metres := func(v float64) string { return s.words.number(v, 1) + noBreak + "m" }
	out := "Seen along the house: " + metres(s.form.Width) + " wide, " + metres(s.form.Ridge) + " high"
	if s.form.Length > 0 {
		out += ", " + metres(s.form.Length) + " long"
	}
	if s.plot.broken {
		out += ". The depth of the ground is drawn smaller"
	}
	return out + "."
}

// Zones of a drawing.
const (
	zoneHouse = iota
	zoneGround
	zoneOutside
	zoneMixed
)

func (s *sketch) zoneOf(b box) int {
	switch {
	case b.Y >= s.plot.y0:
		return zoneGround
	case b.Y+b.H > s.plot.y0:
		return zoneMixed
	}
	inside := 0
	for _, c := range []point{{b.X, b.Y}, {b.X + b.W, b.Y}, {b.X, b.Y + b.H}, {b.X + b.W, b.Y + b.H}} {
		if s.form.inside(s.metres(c)) {
			inside++
		}
	}
	switch inside {
	case 4:
		return zoneHouse
	case 0:
		return zoneOutside
	}
	return zoneMixed
}

// metres is the way back from units, above the ground.
func (s *sketch) metres(p point) Position {
	return Position{(p.X - s.plot.x0) / s.plot.up, (s.plot.y0 - p.Y) / s.plot.up}
}

func (s *sketch) zoneAt(at Position) int {
	switch {
	case at.Height < 0:
		return zoneGround
	case s.form.inside(at):
		return zoneHouse
	}
	return zoneOutside
}

// solid keeps text off b; b is kept within the drawing's width.
func (s *sketch) solid(b box) { s.canvas.solid = append(s.canvas.solid, b) }

func (s *sketch) stroke(cost float64, points ...point) {
	for i := 1; i < len(points); i++ {
		s.canvas.lines = append(s.canvas.lines, inked{line{points[i-1], points[i]}, cost})
	}
}

// leader is the line from where a probe hangs to its text, "" where they touch.
func leader(from point, b box) string {
	to := b.nearest(from)
	if math.Hypot(to.X-from.X, to.Y-from.Y) < 7 {
		return ""
	}
	return "M" + xy(from) + "L" + xy(to)
}
