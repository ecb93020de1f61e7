package draw

import (
	"cmp"
	"encoding/json"
	"math"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/alarms/tongue"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// acrossUnits is the width of a strip in the units of its drawing, which are
// stretched to the width of the page; heights are pixels.
const acrossUnits = 1000.0

// Panel is one quantity of one place over a strip.
type Panel struct {
	ID, Title, Text   string
	Y, Top, Bottom    float64 // of the title's room, and of the plot
	Band, Edge        string  // paths, as the other strings below
	Cloud, Line, Dots string
	Bars, Means       string
	Values            []tick
	Read              string // JSON for the script that says what is under the pointer
	Empty             bool
	Points            []service.Point
	Quantity          alarms.Quantity
	Ahead             *Ahead // nil: nothing is expected
}

// tick is one label of an axis.
type tick struct {
	At   float64
	Text string
}

// PanelAsk is what a panel shows.
type PanelAsk struct {
	Place    string // name
	Quantity alarms.Quantity
	Bands    []alarms.BandStep
	Whole    report.Span
	Cuts     []time.Time // not nil: the cells, each of which is a bar
	// BandsAsTheyWere draws them so also over cells, and not the widest of each.
	BandsAsTheyWere bool
	Named           bool      // the name stands where the uppermost value would
	Ahead           *AheadAsk // nil: nothing is drawn beyond now
	Y, Tall         float64
}

// PanelHead is the room above a plot for its name, px.
const PanelHead = 18.0

// across places t on a strip of s.
func across(s report.Span, t time.Time) float64 {
	x := float64(t.Sub(s.From)) / float64(s.To.Sub(s.From)) * acrossUnits
	return min(max(x, 0), acrossUnits)
}

// PanelOf draws points, which need not be sorted, in the units shown.
func PanelOf(w words.Words, ask PanelAsk, points []service.Point) Panel {
	points = usable(points, ask.Whole)
	c := Panel{Title: words.Capital(ask.Place) + ", " + w.Core.Word(ask.Quantity) + axisUnit(w, ask.Quantity), Empty: len(points) == 0,
		Y: ask.Y, Top: ask.Y + PanelHead, Bottom: ask.Y + PanelHead + ask.Tall, Points: points, Quantity: ask.Quantity}
	bands := ask.Bands
	if ask.Cuts != nil && !ask.BandsAsTheyWere {
		bands = widest(bands, ask.Cuts)
	}
	v0, v1, marks := valueAxis(w, ask.Quantity, append(toCover(points, bands), ask.Ahead.toCover()...), max(2, math.Round(ask.Tall/34)))
	ys := scale{v0: v0, v1: v1, x0: c.Bottom, x1: c.Top}
	x := func(t time.Time) float64 { return across(ask.Whole, t) }
	y := func(v float64) float64 { return ys.at(w.Shown(ask.Quantity, v)) }
	for i, m := range marks {
		if ask.Named && i == len(marks)-1 && len(marks) > 2 && ask.Quantity != alarms.Contact {
			continue
		}
		text := w.Number(m, digitsFor(marks))
		if ask.Quantity == alarms.Contact {
			text = w.Value(ask.Quantity, m)
		}
		c.Values = append(c.Values, tick{round1(ys.at(m)), text})
	}
	c.drawBands(bands, ask.Whole, y)
	if ask.Cuts != nil {
		c.drawBars(points, ask.Cuts, x, y)
	} else {
		c.drawRuns(runs(points, ask.Whole.To.Sub(ask.Whole.From)), x, y)
	}
	c.drawAhead(w, ask.Ahead, y)
	c.Read = readable(w, ask, ys)
	c.say(w, ask)
	return c
}

// readable is how values are read off a plot: its name, unit, decimals and decimal mark,
// and two values with their heights.
func readable(w words.Words, ask PanelAsk, ys scale) string {
	number, unit := w.Parts(ask.Quantity, 1.0/3)
	_, fraction, _ := strings.Cut(number, ".")
	var states []string
	if ask.Quantity == alarms.Contact {
		states, unit = []string{w.Value(ask.Quantity, 0), w.Value(ask.Quantity, 1)}, ""
	}
	text, _ := json.Marshal(struct { // numbers and text can always be written
		Name     string     `json:"n"`
		Unit     string     `json:"u"`
		Point    string     `json:"p"`
		Decimals int        `json:"d"`
		States   []string   `json:"s,omitempty"` // of what is either one or the other
		Values   [2]float64 `json:"v"`
		Heights  [2]float64 `json:"y"`
	}{words.Capital(ask.Place) + ", " + w.Core.Word(ask.Quantity), strings.Trim(unit, words.NoBreak+" "), cmp.Or(w.Decimal, "."), len(fraction), states, [2]float64{ys.v0, ys.v1}, [2]float64{ys.x0, ys.x1}})
	return string(text)
}

// toCover lists the values that an axis must have room for.
func toCover(points []service.Point, bands []alarms.BandStep) (all []float64) {
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
	low, high := words.BandEnds(l)
	return [2]alarms.Limit{low, high}
}

// drawBands shades what lies between the ends of each band, cut to the plot,
// and draws the ends as steps.
func (c *Panel) drawBands(bands []alarms.BandStep, whole report.Span, y func(float64) float64) {
	var edges [2]string
	var goesOn [2]bool
	for _, b := range bands {
		x0, x1 := across(whole, b.From), across(whole, b.To)
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
			l, h := words.BandEnds(bands[j].Limits)
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
func (c *Panel) say(w words.Words, ask PanelAsk) {
	q := ask.Quantity
	if len(c.Points) == 0 {
		c.Text = w.Say("Nothing was recorded in this time.")
		return
	}
	lowest, highest, last := c.Points[0], c.Points[0], c.Points[len(c.Points)-1]
	for _, p := range c.Points {
		if p.Min < lowest.Min {
			lowest = p
		}
		if p.Max > highest.Max {
			highest = p
		}
	}
	at := func(p service.Point) string {
		if ask.Cuts != nil {
			return w.Say("on %s", cellName(w, ask.Cuts, p.At))
		}
		return w.Say("at %s", w.Clock(p.At, ask.Whole.To))
	}
	if q == alarms.Contact {
		c.Text = w.Say("Last %s %s.", w.Value(q, last.Value), at(last))
		return
	}
	c.Text = w.Say("Lowest %s %s, highest %s %s.", w.Value(q, lowest.Min), at(lowest), w.Value(q, highest.Max), at(highest))
	if n := len(ask.Bands); n > 0 && words.AnyLimit(ask.Bands[n-1].Limits) && ask.Cuts == nil {
		c.Text += " " + w.Say("In the end the %s.", w.Band(q, ask.Bands[n-1].Limits))
	}
}

// CellWord is day, week or month.
func CellWord(cuts []time.Time) tongue.Text {
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
func cellName(w words.Words, cuts []time.Time, from time.Time) string {
	switch CellWord(cuts) {
	case "month":
		return w.Stamp(from, "Jan 2006")
	case "week":
		return w.Say("the week from %s", w.Stamp(from, "2 Jan 2006"))
	}
	return w.Stamp(from, "Mon 2 Jan 2006")
}

// Nights is the path of the nights among what held, as tall as is said.
func Nights(held []alarms.Held, whole report.Span, tall float64) (path string) {
	for _, n := range nights(held) {
		path += boxPath(across(whole, n.From), 0, across(whole, n.To), tall)
	}
	return path
}

// nights joins what held by night, however often the season changed in it.
func nights(held []alarms.Held) (out []report.Span) {
	for _, h := range held {
		if h.Daypart != alarms.Night {
			continue
		}
		if n := len(out); n > 0 && out[n-1].To.Equal(h.From) {
			out[n-1].To = h.To
			continue
		}
		out = append(out, report.Span{From: h.From, To: h.To})
	}
	return out
}
