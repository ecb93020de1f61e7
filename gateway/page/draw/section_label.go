package draw

import (
	"strings"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// labelDrawn is what hangs at one place.
type labelDrawn struct {
	Anchor string
	Name   string
	Long   float64 // the name is set so long
	X      float64 // where the text begins, or ends
	NameY  float64
	Align  string
	Dot    point
	Leader string
	Points []numberDrawn
}

// numberDrawn is one reading in the drawing.
type numberDrawn struct {
	Anchor      string
	Value, Unit string
	Tag         string
	Next        bool   // not the place's main number
	Mark        string // as in standing, "" for none
	MarkX       float64
	MarkY       float64
	X, Y        float64
	Long        float64 // value, unit and tag are set so long
	Words       string
	WordsLong   float64
	WordsY      float64
	Sill        *sillDrawn // while all is well: where in its band it is
	Old         bool
}

// sillDrawn is a band under a number, with a tick where the value stands.
type sillDrawn struct {
	X, Y, From, Span, Tick float64
	Open                   string // path of the arrowheads where the band goes on
}

const (
	sillWidth = 62.0
	markSize  = 15.0
	dotRoom   = 5.0
)

// labels asks for room for the readings of every place that has a position, and
// for the depths of the pipes that have none at their outlets.
func (s *sketch) labels(points map[string]Reading) {
	var pipes []alarms.PipePicture
	if s.house.Loop != nil {
		pipes = s.house.Loop.Pipes
	}
	named := map[alarms.PlaceID]bool{}
	for _, pl := range s.house.Places {
		spot, ok := s.form.Places[pl.ID]
		shown := drawnPoints(pl)
		if !ok || len(shown) == 0 {
			continue
		}
		tag := tagOf(s.words, shown[0].Quantity)
		name := shortName(pl.Name, longestName-widthOf(tag, textSmall)) + tag
		for _, p := range pipes {
			if p.Outlet == pl.ID {
				name = s.words.Say("%s deep", s.depth(p))
			}
		}
		named[pl.ID] = true
		s.label(spot, words.Anchor("drawn", string(s.house.ID), string(pl.ID), "readings"), name, shown, func(pt alarms.PointPicture) Reading {
			return points[pointAnchor(s.house.ID, pl.ID, pt.Quantity)]
		})
	}
	for _, p := range pipes {
		if !named[p.Outlet] {
			s.label(service.Position{Across: s.loopMouth(0.15), Height: -p.Depth}, words.Anchor("drawn", string(s.house.ID), string(p.Outlet), "depth"), s.words.Say("%s deep", s.depth(p)), nil, nil)
		}
	}
}

func drawnPoints(pl alarms.PlacePicture) []alarms.PointPicture {
	var out []alarms.PointPicture
	for _, pt := range pl.Points {
		if drawn(pt.Quantity) {
			out = append(out, pt)
		}
	}
	return out
}

// label asks for room for a name and the numbers below it. The room does not
// follow the values, so that nothing moves when a value does.
func (s *sketch) label(spot service.Position, anchor, name string, shown []alarms.PointPicture, read func(alarms.PointPicture) Reading) {
	l := &labelDrawn{Anchor: anchor, Name: name}
	b := &block{spot: spot, room: dotRoom, w: widthOf(name, textSmall), h: nameLine, port: nameLine / 2}
	shared := 0.0
	for i, pt := range shown {
		b.w = max(b.w, widthOf(s.words.Say(longestBrief), textSmall), s.numberWidth(i, pt))
		b.h += numberLine(i)
		if words.AnyLimit(pt.Limits) {
			b.h += wordsLine
		} else {
			shared = wordsLine
		}
		b.port = nameLine + bigLine/2
	}
	b.h += shared
	b.write = func(b *block) {
		l.X, l.Align, l.Dot, l.Leader = round1(b.x), b.align(), b.at, s.leader(b)
		l.Long, l.NameY = fitted(l.Name, textSmall, b.w), round1(b.y+nameLine-3.5)
		c := column{s: s, block: b, y: b.y + nameLine}
		for i, pt := range shown {
			l.Points = append(l.Points, c.next(i, pt, read(pt)))
		}
		if c.worded > 0 {
			l.Points[c.worded-1].WordsY = round1(c.y + wordsLine - 3.5)
		}
	}
	s.view.Labels = append(s.view.Labels, l)
	s.blocks = append(s.blocks, b)
}

// figureSize is the size of the number i of a place.
func figureSize(i int) float64 {
	if i == 0 {
		return textBig
	}
	return textNext
}

func (s *sketch) numberWidth(i int, pt alarms.PointPicture) float64 {
	number, unit, _ := strings.Cut(widestValue(s.words, pt.Quantity), words.NoBreak)
	w := longNumber(number, words.NoBreak+unit, nextTag(s.words, i, pt.Quantity), figureSize(i))
	if words.AnyLimit(pt.Limits) {
		w += markRoom
	}
	return w
}

func longNumber(value, unit, tag string, at float64) float64 {
	return widthOf(value, at) + widthOf(unit, textUnit) + widthOf(tag, textSmall)
}

// Heights of the lines of a label.
const (
	nameLine  = 15.0
	bigLine   = 24.0
	nextLine  = 19.0
	wordsLine = 14.0
)

func numberLine(i int) float64 {
	if i == 0 {
		return bigLine
	}
	return nextLine
}

// markRise is how far the top of its mark is above the foot of the number i of a place:
// about the middle of the number.
func markRise(i int) float64 {
	if i == 0 {
		return 15.5
	}
	return 14
}

// column is where the next number of a label stands.
type column struct {
	s      *sketch
	block  *block
	y      float64
	worded int // one more than the number whose words stand at the end; those without a band share that line
}

func (c *column) next(i int, pt alarms.PointPicture, v Reading) numberDrawn {
	n := c.s.number(i, pt, v)
	c.y += numberLine(i)
	room := c.s.numberWidth(i, pt)
	n.X, n.Y = round1(c.block.x), round1(c.y-4)
	if n.Mark != "" {
		room -= markRoom
		n.MarkX, n.MarkY, n.X = round1(c.block.x), round1(n.Y-markRise(i)), round1(c.block.away(markRoom))
		if c.block.left {
			n.MarkX = round1(c.block.x - markSize)
		}
	}
	n.Long = round1(min(longNumber(n.Value, n.Unit, n.Tag, figureSize(i)), room))
	switch {
	case words.AnyLimit(pt.Limits):
		c.y += wordsLine
		n.WordsY = round1(c.y - 3.5)
		if v.Strip != nil && n.Words == "" && n.Mark == "well" {
			n.Sill = sillOf(v.Strip, c.block, n.WordsY-8.5)
		}
	case n.Words != "" && c.worded == 0:
		c.worded = i + 1
	default:
		n.Words = ""
	}
	n.WordsLong = fitted(n.Words, textSmall, c.block.w)
	return n
}

func pointAnchor(house alarms.HouseID, place alarms.PlaceID, q alarms.Quantity) string {
	return words.Anchor("point", string(house), string(place), string(q))
}

func (s *sketch) number(i int, pt alarms.PointPicture, v Reading) numberDrawn {
	n := numberDrawn{Anchor: v.Anchor + "_drawn", Value: v.Value, Unit: v.Unit, Tag: nextTag(s.words, i, pt.Quantity), Next: i > 0, Words: briefly(s.words, pt, v.Standing), Old: !v.Live}
	if v.Value == "" {
		n.Value, n.Old = "–", false
	}
	switch v.Standing.Mark {
	case "well", "near", "beyond", "far-beyond":
		n.Mark = v.Standing.Mark
	}
	return n
}

// sillOf draws the strip of the list small, under the number.
func sillOf(st *strip, b *block, y float64) *sillDrawn {
	x := min(b.x, b.away(sillWidth))
	scaled := func(v float64) float64 { return round1(x + v/stripWidth*sillWidth) }
	return &sillDrawn{X: round1(x), Y: round1(y + 4), Open: arrows(st.From == 0, st.To == stripWidth, round1(x), round1(x+sillWidth), round1(y+4), 3.5), From: scaled(st.From), Span: round1(st.Span() / stripWidth * sillWidth), Tick: scaled(st.Mark)}
}

// BandY is the top of the band.
func (s sillDrawn) BandY() float64 { return s.Y - 2 }
