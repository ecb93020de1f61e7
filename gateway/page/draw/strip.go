package draw

import (
	"fmt"
	"math"

	"telltale/alarms"
	"telltale/gateway/page/words"
)

// Size of a strip in its own units.
const (
	stripWidth  = 160.0
	stripHeight = 20.0
	stripInset  = 8.0 // room for the mark at both ends
	wellInside  = 0.4 // of what is on the other side of a value
)

// strip is a band drawn as a line: the band thick, each limit a tick, the value
// a mark above it.
type strip struct {
	Width, Height float64
	From, To      float64   // x of the two ends of the band
	Ticks         []float64 // x of the further limits
	Mark          float64   // x of the value
	HasMark       bool
	Class         string // as in standing
	Left, Right   bool   // the value is off the end of the strip
	Open          string // path of the arrowhead where the band goes on beyond the strip
	Title         string
}

// scale maps values to a length linearly.
type scale struct{ v0, v1, x0, x1 float64 }

func (s scale) at(v float64) float64 {
	if s.v1 == s.v0 {
		return (s.x0 + s.x1) / 2
	}
	return s.x0 + (v-s.v0)/(s.v1-s.v0)*(s.x1-s.x0)
}

// stripOf draws p, or returns nil where there is no band to draw.
func stripOf(p alarms.PointPicture, st words.Standing, title string) *strip {
	if !words.AnyLimit(p.Limits) {
		return nil
	}
	low, high := words.BandEnds(p.Limits)
	sc := stripScale(p)
	open := arrows(!low.Set, !high.Set, 0, stripWidth, 13, 5)
	// A band that is open on one side runs off the strip there: its end would look like a limit.
	out := &strip{Width: stripWidth, Height: stripHeight, From: 0, To: stripWidth, Class: st.Mark, Title: title, Open: open}
	if low.Set {
		out.From = round1(sc.at(low.Value))
	}
	if high.Set {
		out.To = round1(sc.at(high.Value))
	}
	for _, far := range []alarms.Limit{p.Limits.LowLow, p.Limits.HighHigh} {
		if far.Set && far != low && far != high {
			out.Ticks = append(out.Ticks, round1(sc.at(far.Value)))
		}
	}
	if p.HasValue && !math.IsNaN(p.Value) {
		x := sc.at(p.Value)
		out.HasMark, out.Left, out.Right = true, x < sc.x0, x > sc.x1
		out.Mark = round1(min(max(x, sc.x0), sc.x1))
	}
	return out
}

// stripScale covers all limits and some way past them, and where there is no limit also
// the value: it lies in the band, however far from the other one.
func stripScale(p alarms.PointPicture) scale {
	v0, v1, near, l := math.Inf(1), math.Inf(-1), p.Quantity.Facts().Near, p.Limits
	for _, lim := range []alarms.Limit{l.LowLow, l.Low, l.High, l.HighHigh} {
		if lim.Set {
			v0, v1 = min(v0, lim.Value), max(v1, lim.Value)
		}
	}
	low, high := words.BandEnds(l)
	pad := (v1 - v0) * 0.15
	if least := near * 2; pad < least {
		pad = least
	}
	v0, v1 = v0-pad, v1+pad
	if !low.Set { // open downwards: most of the strip is band
		v0 -= 8 * near
	}
	if !high.Set {
		v1 += 8 * near
	}
	// A value within a band that is open on its side stands well inside of it, or the end
	// of the strip would look like a limit that it is near to.
	if known := p.HasValue && !math.IsNaN(p.Value) && !math.IsInf(p.Value, 0); known && !low.Set {
		v0 = min(v0, p.Value-max(near, wellInside*(v1-p.Value)))
	} else if known && !high.Set {
		v1 = max(v1, p.Value+max(near, wellInside*(p.Value-v0)))
	}
	return scale{v0: v0, v1: v1, x0: stripInset, x1: stripWidth - stripInset}
}

// arrows are the heads of arrows at the ends of a line, where a band goes on beyond it.
func arrows(left, right bool, x0, x1, y, size float64) (path string) {
	if left {
		path += fmt.Sprintf("M%g %gl%g %gl%g %g", x0+size, y-size, -size, size, size, size)
	}
	if right {
		path += fmt.Sprintf("M%g %gl%g %gl%g %g", x1-size, y-size, size, size, -size, size)
	}
	return path
}

func round1(v float64) float64 { return math.Round(v*10) / 10 }

// Span is the width of the band.
func (s *strip) Span() float64 { return round1(s.To - s.From) }

// Pin is the path of the value's mark: it points down at its place, or out
// where the value is off the strip. What is beyond a limit is drawn larger, what
// is far beyond also with a bar, so that shape alone tells.
func (s *strip) Pin() string {
	x := s.Mark
	switch {
	case s.Left:
		return fmt.Sprintf("M%g 13l9-7v14z", x-7)
	case s.Right:
		return fmt.Sprintf("M%g 13l-9-7v14z", x+7)
	case s.Class == "far-beyond":
		return fmt.Sprintf("M%g 13l-6-8h12zM%g 1h12v2.4h-12z", x, x-6)
	case s.Class == "beyond":
		return fmt.Sprintf("M%g 13l-6-10h12z", x)
	default:
		return fmt.Sprintf("M%g 12l-4-8h8z", x)
	}
}
