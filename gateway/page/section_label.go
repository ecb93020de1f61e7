package page

import (
	"slices"
	"strings"

	"telltale/alarms"
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
type sillDrawn struct{ X, Y, From, Span, Tick float64 }

const (
	sillWidth   = 62.0
	watchedNear = 2.2 // how much more a place that has limits has its number where it hangs
)

// labels asks for room for the readings of every place that has a position.
func (s *sketch) labels(points map[string]pointView) {
	s.view.Labels = make([]labelDrawn, 0, len(s.house.Places))
	for _, pl := range s.house.Places {
		spot, ok := s.form.Places[pl.ID]
		shown := drawnPoints(pl)
		if !ok || len(shown) == 0 {
			continue
		}
		at := s.plot.at(spot)
		s.view.Labels = append(s.view.Labels, labelDrawn{Anchor: anchor("drawn", string(s.house.ID), string(pl.ID), "readings"),
			Name: s.labelName(pl), Dot: at})
		l := &s.view.Labels[len(s.view.Labels)-1]
		block := &toPlace{at: at, zone: s.zoneAt(spot), near: 1, size: s.labelSizes(l.Name, shown)}
		if slices.ContainsFunc(shown, func(pt alarms.PointPicture) bool { return anyLimit(pt.Limits) }) {
			block.near = watchedNear
		}
		s.blocks = append(s.blocks, block)
		s.finish = append(s.finish, func() { s.write(l, block, pl, shown, points) })
	}
}

// labelName is the name in the drawing; a pipe's depth is written beside it.
func (s *sketch) labelName(pl alarms.PlacePicture) string {
	if s.house.Loop != nil {
		for _, p := range s.house.Loop.Pipes {
			if p.Outlet == pl.ID {
				return ""
			}
		}
	}
	return shortName(pl.Name)
}

func drawnPoints(pl alarms.PlacePicture) []alarms.PointPicture {
	var out []alarms.PointPicture
	for _, pt := range pl.Points {
		if drawnQuantities[pt.Quantity] {
			out = append(out, pt)
		}
	}
	return out
}

// labelSizes is the room that a label takes: its numbers below each other, or,
// where none has a band, in a row.
func (s *sketch) labelSizes(name string, shown []alarms.PointPicture) []size {
	most := max(wide(name, textSmall), wide(longestBrief, textSmall))
	row, rowed := -besideGap, len(shown) > 1
	for i, pt := range shown {
		w := s.numberWidth(i, pt)
		most, row = max(most, w), row+besideGap+w
		rowed = rowed && !anyLimit(pt.Limits)
	}
	out := []size{{most, labelHeight(name, shown)}}
	if rowed {
		out = append(out, size{max(row, most), labelHeight(name, shown[:1])})
	}
	return out
}

// figureSize is the size of the number i of a place.
func figureSize(i int) float64 {
	if i == 0 {
		return textBig
	}
	return textNext
}

// besideGap parts the numbers of a row.
const besideGap = 8.0

func (s *sketch) numberWidth(i int, pt alarms.PointPicture) float64 {
	number, unit, _ := strings.Cut(s.words.widestValue(pt.Quantity), noBreak)
	w := longNumber(number, noBreak+unit, tagOf(pt.Quantity), figureSize(i))
	if anyLimit(pt.Limits) {
		w += markRoom
	}
	return w
}

func longNumber(value, unit, tag string, at float64) float64 {
	w := wide(value, at) + wide(unit, textUnit)
	if tag != "" {
		w += wide(" "+tag, textSmall)
	}
	return w
}

// Heights of the lines of a label.
const (
	nameLine  = 15.0
	bigLine   = 24.0
	nextLine  = 19.0
	wordsLine = 14.0
)

func labelHeight(name string, shown []alarms.PointPicture) float64 {
	h, shared := 2.0, false
	if name != "" {
		h += nameLine
	}
	for i, pt := range shown {
		h += numberLine(i)
		if anyLimit(pt.Limits) {
			h += wordsLine
		} else {
			shared = true
		}
	}
	if shared {
		h += wordsLine
	}
	return h
}

func numberLine(i int) float64 {
	if i == 0 {
		return bigLine
	}
	return nextLine
}

// write sets the lines of a label into the room that was found for it.
func (s *sketch) write(l *labelDrawn, b *toPlace, pl alarms.PlacePicture, shown []alarms.PointPicture, points map[string]pointView) {
	l.X, l.Align = round1(b.box.X), "start"
	right := b.box.middle().X < b.at.X-b.box.W/3
	if right {
		l.X, l.Align = round1(b.box.X+b.box.W), "end"
	}
	y := b.box.Y
	if l.Name != "" {
		l.Long = fitted(l.Name, textSmall, b.box.W)
		y += nameLine
		l.NameY = round1(y - 3.5)
	}
	c := column{s: s, right: right, inRow: b.form == 1, x: l.X, edge: l.X, y: y, shown: shown}
	if c.inRow && right {
		for i := len(shown) - 1; i > 0; i-- {
			c.x -= s.numberWidth(i, shown[i]) + besideGap
		}
	}
	for i, pt := range shown {
		l.Points = append(l.Points, c.next(i, pt, points[pointAnchor(s.house.ID, pl.ID, pt.Quantity)]))
	}
	for i := range l.Points {
		l.Points[i].WordsLong = fitted(l.Points[i].Words, textSmall, b.box.W)
	}
	written := b.box
	if c.worded > 0 {
		l.Points[c.worded-1].WordsY = round1(c.y + wordsLine - 3.5)
	} else {
		written.H = c.y - written.Y
	}
	l.Leader = leader(b.at, written)
}

// column is where the next number of a label stands.
type column struct {
	s            *sketch
	shown        []alarms.PointPicture
	right, inRow bool
	x, y, edge   float64
	worded       int // one more than the number whose words stand at the end; those without a band share that line
}

func (c *column) next(i int, pt alarms.PointPicture, v pointView) numberDrawn {
	n := c.s.number(pt, v)
	if i == 0 || !c.inRow {
		c.y += numberLine(i)
	}
	n.Next, n.Y = i > 0, round1(c.y-4)
	n.Long = min(longNumber(n.Value, n.Unit, n.Tag, figureSize(i)), c.s.numberWidth(i, pt))
	if n.Mark != "" {
		n.Long = min(n.Long, c.s.numberWidth(i, pt)-markRoom)
	}
	n.Long = round1(n.Long)
	n.stand(c.x, c.right)
	switch {
	case anyLimit(pt.Limits):
		c.y += wordsLine
		n.WordsY = round1(c.y - 3.5)
		if v.Strip != nil && n.Words == "" && n.Mark == "well" {
			n.Sill = sillOf(v.Strip, c.edge, n.WordsY-8.5, c.right)
		}
	case n.Words != "" && c.worded == 0:
		c.worded = i + 1
	default:
		n.Words = ""
	}
	switch {
	case c.inRow && !c.right:
		c.x += c.s.numberWidth(i, pt) + besideGap
	case c.inRow && i+1 < len(c.shown):
		c.x += c.s.numberWidth(i+1, c.shown[i+1]) + besideGap
	}
	return n
}

// stand puts a number, and the mark before or behind it, at x.
func (n *numberDrawn) stand(x float64, right bool) {
	n.X = round1(x)
	if n.Mark == "" {
		return
	}
	n.MarkX, n.MarkY, n.X = round1(x), round1(n.Y-15.5), round1(x+markRoom)
	if right {
		n.MarkX, n.X = round1(x-15), round1(x-markRoom)
	}
}

func pointAnchor(house alarms.HouseID, place alarms.PlaceID, q alarms.Quantity) string {
	return anchor("point", string(house), string(place), string(q))
}

func (s *sketch) number(pt alarms.PointPicture, v pointView) numberDrawn {
	n := numberDrawn{Anchor: v.Anchor + "_drawn", Value: v.Value, Unit: v.Unit, Tag: tagOf(pt.Quantity), Words: briefly(pt, v.Standing), Old: !v.Live}
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
func sillOf(st *strip, x, y float64, right bool) *sillDrawn {
	if right {
		x -= sillWidth
	}
	scaled := func(v float64) float64 { return round1(x + v/stripWidth*sillWidth) }
	return &sillDrawn{X: round1(x), Y: round1(y + 4), From: scaled(st.From), Span: round1(st.Span() / stripWidth * sillWidth), Tick: scaled(st.Mark)}
}

// BandY is the top of the band.
func (s sillDrawn) BandY() float64 { return s.Y - 2 }
