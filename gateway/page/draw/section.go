package draw

import (
	"slices"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// Section is a house in section with its drives as they now are, between two
// gutters in which its readings stand. All lengths are in units of the drawing.
type Section struct {
	Anchor        string
	Top           float64
	Width, Height float64
	Caption       string
	Plain         *service.Form // nobody has said the form; how that is written, with this one as the example
	Earth         rectangle
	Ground, Hatch string // paths
	Glass         string
	Wall          string
	Benches       []string
	Break         string // where the ground is not to the scale of the house
	Pipes         []pipeDrawn
	Air           *airDrawn
	Drives        []*driveDrawn
	Labels        []*labelDrawn
	Reads         []readLine // what stands in the drawing, as a list
	Beside        []readLine // what does not
}

type point struct{ X, Y float64 }

// rectangle has its top left corner at X, Y.
type rectangle struct{ X, Y, W, H float64 }

// sketch is a drawing being made.
type sketch struct {
	words  words.Words
	house  alarms.HousePicture
	form   service.Form
	plot   plot
	view   *Section
	blocks []*block
}

// SectionOf draws h, or returns nil where nothing is known of its form.
func SectionOf(w words.Words, forms []service.Form, h alarms.HousePicture, points map[string]Reading) *Section {
	i := slices.IndexFunc(forms, func(f service.Form) bool { return f.House == h.ID })
	if i < 0 {
		return nil
	}
	return sketchOf(w, forms[i], h, points).view
}

func sketchOf(w words.Words, form service.Form, h alarms.HousePicture, points map[string]Reading) *sketch {
	s := &sketch{words: w, house: h, form: form, view: &Section{Anchor: words.Anchor("section", string(h.ID)), Width: sectionWidth}}
	s.drives()
	s.labels(points)
	left, right := s.sides()
	s.plot = plotOf(form, s.deepest(), left, right)
	s.place()
	s.outline()
	s.pipes()
	s.air()
	for _, b := range s.blocks {
		b.write(b)
	}
	s.lists(points)
	s.view.Caption = s.caption()
	if form.Plain {
		s.view.Plain = &form
	}
	return s
}

// deepest is how deep the ground is drawn, in metres.
func (s *sketch) deepest() float64 {
	out := 0.0
	if s.house.Loop != nil {
		for _, p := range s.house.Loop.Pipes {
			out = max(out, p.Depth)
		}
	}
	for _, b := range s.blocks {
		out = max(out, -b.spot.Height)
	}
	return out
}

func (s *sketch) caption() string {
	if s.form.Plain {
		return s.words.Say("A plain house: what %s looks like, and where in it the probes hang, nobody has said yet.", s.house.Name)
	}
	metres := func(v float64) string { return s.words.Number(v, 1) + words.NoBreak + "m" }
	out := s.words.Say("Seen along the house: %s wide, %s high", metres(s.form.Width), metres(s.form.Ridge))
	if s.form.Length > 0 {
		out += s.words.Say(", %s long", metres(s.form.Length))
	}
	if s.plot.broken {
		out += ". " + s.words.Say("The depth of the ground is drawn smaller")
	}
	return out + "."
}
