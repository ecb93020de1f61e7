package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// Size of a chart in its own units: about the width of a narrow phone, so that
// its words are readable there.
const (
	chartWidth, chartHeight = 340.0, 140.0
	plotLeft, plotRight     = 40.0, 334.0
	plotTop, plotBottom     = 8.0, 118.0
	chartPoints             = 150 // asked of History: one for two units of width
)

// chartAsk is what a chart shows.
type chartAsk struct {
	Name     string // of the place
	Quantity alarms.Quantity
	Limits   alarms.Limits // in force now
	From, To time.Time
}

// chart is a drawing ready for the template, in chart units.
type chart struct {
	ID, Title, Text     string
	Width, Height       float64
	Left, Right         float64
	Top, Bottom         float64
	HasBand             bool
	BandTop, BandBottom float64
	Edges               []float64 // y of the limits at the band's ends
	Lines               []string  // one path for each run without a gap
	Clouds              []string  // min to max of each run, where they differ
	Dots                []dot     // readings that stand alone
	Values              []tick    // value axis
	Times               []tick    // time axis
	Empty               bool
}

type dot struct{ X, Y float64 }

// tick is one label of an axis.
type tick struct {
	At   float64
	Text string
}

// chartOf draws points, which need not be sorted, in the units shown.
func (w words) chartOf(ask chartAsk, points []Point) chart {
	points = usable(points, ask.From, ask.To)
	c := chart{
		Title: ask.Name + ", " + ask.Quantity.Word() + w.axisUnit(ask.Quantity),
		Text:  w.chartText(ask, points),
		Width: chartWidth, Height: chartHeight, Left: plotLeft, Right: plotRight, Top: plotTop, Bottom: plotBottom,
		Empty: len(points) == 0,
	}
	xs := scale{v0: 0, v1: ask.To.Sub(ask.From).Seconds(), x0: plotLeft, x1: plotRight}
	x := func(t time.Time) float64 { return xs.at(t.Sub(ask.From).Seconds()) }
	v0, v1, marks := w.valueAxis(ask, points)
	ys := scale{v0: v0, v1: v1, x0: plotBottom, x1: plotTop}
	y := func(v float64) float64 { return ys.at(w.shown(ask.Quantity, v)) }
	for _, m := range marks {
		text := w.number(m, digitsFor(marks))
		if ask.Quantity == alarms.Contact {
			text = w.value(ask.Quantity, m)
		}
		c.Values = append(c.Values, tick{round1(ys.at(m)), text})
	}
	for _, t := range w.timeMarks(ask.From, ask.To) {
		c.Times = append(c.Times, tick{round1(x(t.at)), t.text})
	}
	c.drawBand(ask.Limits, y)
	c.drawRuns(runs(points, ask.To.Sub(ask.From)), x, y)
	return c
}

// usable keeps the finite points of the span, oldest first.
func usable(points []Point, from, to time.Time) []Point {
	kept := make([]Point, 0, len(points))
	for _, p := range points {
		bad := math.IsNaN(p.Value) || math.IsInf(p.Value, 0)
		if bad || p.At.Before(from) || p.At.After(to) {
			continue
		}
		if !(p.Min <= p.Value && p.Value <= p.Max) || math.IsInf(p.Min, 0) || math.IsInf(p.Max, 0) {
			p.Min, p.Max = p.Value, p.Value
		}
		kept = append(kept, p)
	}
	slices.SortStableFunc(kept, func(a, b Point) int { return a.At.Compare(b.At) })
	return kept
}

// runs cuts points where data is missing: where the step to the next point is
// over three times the usual one and over three chart points wide.
func runs(points []Point, whole time.Duration) [][]Point {
	if len(points) == 0 {
		return nil
	}
	gap := max(3*medianStep(points), 3*whole/chartPoints)
	var out [][]Point
	start := 0
	for i := 1; i < len(points); i++ {
		if points[i].At.Sub(points[i-1].At) > gap {
			out = append(out, points[start:i])
			start = i
		}
	}
	return append(out, points[start:])
}

func medianStep(points []Point) time.Duration {
	steps := make([]time.Duration, 0, len(points))
	for i := 1; i < len(points); i++ {
		steps = append(steps, points[i].At.Sub(points[i-1].At))
	}
	if len(steps) == 0 {
		return 0
	}
	slices.SortFunc(steps, cmp.Compare[time.Duration])
	return steps[(len(steps)-1)/2]
}

// drawBand shades what lies between the ends of the band, cut to the plot.
func (c *chart) drawBand(l alarms.Limits, y func(float64) float64) {
	low, high := bandEnds(l)
	if !low.Set && !high.Set {
		return
	}
	c.HasBand, c.BandTop, c.BandBottom = true, c.Top, c.Bottom
	if high.Set {
		c.BandTop = round1(y(high.Value))
		c.Edges = append(c.Edges, c.BandTop)
	}
	if low.Set {
		c.BandBottom = round1(y(low.Value))
		c.Edges = append(c.Edges, c.BandBottom)
	}
}

// BandHeight is for the template.
func (c chart) BandHeight() float64 { return round1(c.BandBottom - c.BandTop) }

// PlotWidth, LabelX and LabelY are for the template.
func (c chart) PlotWidth() float64 { return c.Right - c.Left }

// LabelX is the right edge of the value axis's labels.
func (c chart) LabelX() float64 { return c.Left - 4 }

// LabelY is the line of the time axis's labels.
func (c chart) LabelY() float64 { return c.Bottom + 14 }

// Anchor keeps the label at x within the drawing.
func (c chart) Anchor(x float64) string {
	switch {
	case x > c.Right-16:
		return "end"
	case x < c.Left+8:
		return "start"
	default:
		return "middle"
	}
}

func (c *chart) drawRuns(rs [][]Point, x func(time.Time) float64, y func(float64) float64) {
	for _, run := range rs {
		if len(run) == 1 && run[0].Min == run[0].Max {
			c.Dots = append(c.Dots, dot{round1(x(run[0].At)), round1(y(run[0].Value))})
			continue
		}
		var line, upper, lower []string
		spread := false
		for _, p := range run {
			at := round1(x(p.At))
			line = append(line, pathPoint(at, y(p.Value)))
			upper = append(upper, pathPoint(at, y(p.Max)))
			lower = append(lower, pathPoint(at, y(p.Min)))
			spread = spread || p.Max > p.Min
		}
		if len(run) == 1 {
			line = []string{upper[0], lower[0]}
		}
		c.Lines = append(c.Lines, "M"+strings.Join(line, "L"))
		if spread && len(run) > 1 {
			slices.Reverse(lower)
			c.Clouds = append(c.Clouds, "M"+strings.Join(append(upper, lower...), "L")+"Z")
		}
	}
}

func pathPoint(x, y float64) string { return fmt.Sprintf("%.1f,%.1f", x, y) }
