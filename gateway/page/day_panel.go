package page

import (
	"math"
	"time"

	"telltale/alarms"
)

// acrossUnits is the width of a strip in the units of its drawing, which are
// stretched to the width of the page; heights are pixels.
const acrossUnits = 1000.0

// panel is one quantity of one place over a strip.
type panel struct {
	ID, Title, Text   string
	Y, Top, Bottom    float64 // of the title's room, and of the plot
	Band, Edge        string  // paths, as the other strings below
	Cloud, Line, Dots string
	Bars, Means       string
	Values            []tick
	Empty             bool
	points            []Point
	quantity          alarms.Quantity
}

// tick is one label of an axis.
type tick struct {
	At   float64
	Text string
}

// panelAsk is what a panel shows.
type panelAsk struct {
	place    string // name
	quantity alarms.Quantity
	bands    []alarms.BandStep
	whole    Stretch
	cuts     []time.Time // not nil: days or longer
	y, tall  float64
}

const panelHead = 18.0 // px above a plot, for its name

// across places times on a strip.
func (s Stretch) across(t time.Time) float64 {
	x := float64(t.Sub(s.From)) / float64(s.To.Sub(s.From)) * acrossUnits
	return min(max(x, 0), acrossUnits)
}

// panelOf draws points, which need not be sorted, in the units shown.
func (w words) panelOf(ask panelAsk, points []Point) panel {
	points = usable(points, ask.whole)
	c := panel{Title: asTitle(ask.place) + ", " + ask.quantity.Word() + w.axisUnit(ask.quantity), Empty: len(points) == 0,
		Y: ask.y, Top: ask.y + panelHead, Bottom: ask.y + panelHead + ask.tall, points: points, quantity: ask.quantity}
	bands := ask.bands
	if ask.cuts != nil {
		bands = widest(bands, ask.cuts)
	}
	v0, v1, marks := w.valueAxis(ask.quantity, toCover(points, bands), max(2, math.Round(ask.tall/34)))
	ys := scale{v0: v0, v1: v1, x0: c.Bottom, x1: c.Top}
	y := func(v float64) float64 { return ys.at(w.shown(ask.quantity, v)) }
	for i, m := range marks {
		if i == len(marks)-1 && len(marks) > 2 && ask.quantity != alarms.Contact { // there stands the name
			continue
		}
		text := w.number(m, digitsFor(marks))
		if ask.quantity == alarms.Contact {
			text = w.value(ask.quantity, m)
		}
		c.Values = append(c.Values, tick{round1(ys.at(m)), text})
	}
	c.drawBands(bands, ask.whole, y)
	if ask.cuts != nil {
		c.drawBars(points, ask.cuts, ask.whole.across, y)
	} else {
		c.drawRuns(runs(points, ask.whole.To.Sub(ask.whole.From)), ask.whole.across, y)
	}
	c.say(w, ask)
	return c
}

// toCover lists the values that an axis must have room for.
func toCover(points []Point, bands []alarms.BandStep) (all []float64) {
	for _, p := range points {
		all = append(all, p.Min, p.Max)
	}
	for _, b := range bands {
		for _, end := range ends(b.Limits) {
			if end.Set {
				all = append(all, end.Value)
			}
		}
	}
	return all
}

func ends(l alarms.Limits) [2]alarms.Limit {
	low, high := bandEnds(l)
	return [2]alarms.Limit{low, high}
}

// drawBands shades what lies between the ends of each band, cut to the plot,
// and draws the ends as steps.
func (c *panel) drawBands(bands []alarms.BandStep, whole Stretch, y func(float64) float64) {
	var edges [2]string
	var goesOn [2]bool
	for _, b := range bands {
		x0, x1 := whole.across(b.From), whole.across(b.To)
		sides := [2]float64{c.Bottom, c.Top}
		limits := ends(b.Limits)
		for i, end := range limits {
			if end.Set {
				sides[i] = y(end.Value)
				if !goesOn[i] {
					edges[i] += "M" + pathPoint(x0, sides[i])
				}
				edges[i] += "V" + short(sides[i]) + "H" + short(x1)
			}
			goesOn[i] = end.Set
		}
		if limits[0].Set || limits[1].Set {
			c.Band += boxPath(x0, sides[1], x1, sides[0])
		}
	}
	c.Edge = edges[0] + edges[1]
}

// widest gives each cell the widest band of its time: what is beyond it was
// beyond at any time of that day.
func widest(bands []alarms.BandStep, cuts []time.Time) (out []alarms.BandStep) {
	next := 0
	for i := 0; i+1 < len(cuts); i++ {
		from, to := cuts[i], cuts[i+1]
		for next < len(bands) && !bands[next].To.After(from) {
			next++
		}
		var low, high alarms.Limit
		for j := next; j < len(bands) && bands[j].From.Before(to); j++ {
			l, h := bandEnds(bands[j].Limits)
			first := j == next
			low, high = wider(low, l, first, -1), wider(high, h, first, 1)
		}
		step := alarms.BandStep{From: from, To: to, Limits: alarms.Limits{Low: low, High: high}}
		if n := len(out); n > 0 && out[n-1].Limits == step.Limits {
			out[n-1].To = to
			continue
		}
		out = append(out, step)
	}
	return out
}

// wider is the limit of two that allows more; none allows most.
func wider(a, b alarms.Limit, first bool, sign float64) alarms.Limit {
	switch {
	case first:
		return b
	case !a.Set || !b.Set:
		return alarms.Limit{}
	case sign*b.Value > sign*a.Value:
		return b
	}
	return a
}

// say writes in words what the panel shows.
func (c *panel) say(w words, ask panelAsk) {
	q := ask.quantity
	if len(c.points) == 0 {
		c.Text = "Nothing was recorded in this time."
		return
	}
	lowest, highest, last := c.points[0], c.points[0], c.points[len(c.points)-1]
	for _, p := range c.points {
		if p.Min < lowest.Min {
			lowest = p
		}
		if p.Max > highest.Max {
			highest = p
		}
	}
	at := func(p Point) string {
		if ask.cuts != nil {
			return "on " + w.cellName(ask.cuts, p.At)
		}
		return "at " + w.clock(p.At, ask.whole.To)
	}
	if q == alarms.Contact {
		c.Text = "Last " + w.value(q, last.Value) + " " + at(last) + "."
		return
	}
	c.Text = "Lowest " + w.value(q, lowest.Min) + " " + at(lowest) + ", highest " + w.value(q, highest.Max) + " " + at(highest) + "."
	if n := len(ask.bands); n > 0 && anyLimit(ask.bands[n-1].Limits) && ask.cuts == nil {
		c.Text += " In the end the " + w.band(q, ask.bands[n-1].Limits) + "."
	}
}

// cellWord is day, week or month.
func cellWord(cuts []time.Time) string {
	width := time.Duration(0)
	if len(cuts) > 1 {
		width = cuts[1].Sub(cuts[0])
	}
	switch {
	case width > 8*24*time.Hour:
		return "month"
	case width > 2*24*time.Hour:
		return "week"
	}
	return "day"
}

// cellName names the day, week or month that begins at from.
func (w words) cellName(cuts []time.Time, from time.Time) string {
	switch cellWord(cuts) {
	case "month":
		return w.stamp(from, "Jan 2006")
	case "week":
		return "the week from " + w.stamp(from, "2 Jan 2006")
	}
	return w.stamp(from, "Mon 2 Jan 2006")
}
