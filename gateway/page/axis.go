package page

import (
	"math"
	"strings"
	"time"

	"telltale/alarms"
)

// axisUnit names the unit for a chart's title.
func (w words) axisUnit(q alarms.Quantity) string {
	if u := strings.TrimPrefix(w.unit(q), noBreak); u != "" {
		return ", " + u
	}
	return ""
}

// valueAxis returns the range of the value axis and its labels, in the unit
// shown. It covers the data and both ends of the band.
func (w words) valueAxis(ask chartAsk, points []Point) (v0, v1 float64, marks []float64) {
	if ask.Quantity == alarms.Contact {
		return -0.25, 1.25, []float64{0, 1}
	}
	v0, v1 = math.Inf(1), math.Inf(-1)
	cover := func(v float64) { v0, v1 = min(v0, w.shown(ask.Quantity, v)), max(v1, w.shown(ask.Quantity, v)) }
	for _, p := range points {
		cover(p.Min)
		cover(p.Max)
	}
	low, high := bandEnds(ask.Limits)
	if low.Set {
		cover(low.Value)
	}
	if high.Set {
		cover(high.Value)
	}
	if v0 > v1 {
		v0, v1 = 0, 1
	}
	least := w.shownDifference(ask.Quantity, 2*closeBy[ask.Quantity])
	if least == 0 {
		least = 1
	}
	if v1-v0 < least {
		middle := (v0 + v1) / 2
		v0, v1 = middle-least/2, middle+least/2
	}
	step := roundStep((v1 - v0) / 4)
	v0, v1 = math.Floor(v0/step)*step, math.Ceil(v1/step)*step
	for i := 0; i <= int(math.Round((v1-v0)/step)); i++ {
		marks = append(marks, v0+float64(i)*step)
	}
	return v0, v1, marks
}

// roundStep returns the next of 1, 2 or 5 times a power of ten.
func roundStep(v float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if v <= m*power*(1+1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// digitsFor returns how many digits the labels of an axis need.
func digitsFor(marks []float64) int {
	if len(marks) < 2 {
		return 0
	}
	return max(0, int(math.Ceil(-math.Log10(marks[1]-marks[0])-1e-9)))
}

type timeMark struct {
	at   time.Time
	text string
}

// timeMarks returns the labels of a time axis: full hours of the local clock,
// and the day at midnight. Days are counted on the calendar, so that a day of
// 23 or 25 hours is drawn as long as it is.
func (w words) timeMarks(from, to time.Time) []timeMark {
	every := 1
	switch hours := to.Sub(from).Hours(); {
	case hours > 48:
		every = 24
	case hours > 12:
		every = 6
	case hours > 3:
		every = 2
	}
	var out []timeMark
	y, m, d := from.In(w.zone).Date()
	for day := 0; day < 16; day++ {
		for hour := 0; hour < 24; hour += every {
			at := time.Date(y, m, d+day, hour, 0, 0, 0, w.zone)
			if at.After(to) {
				return out
			}
			if at.Before(from) || at.Hour() != hour { // an hour that this day does not have
				continue
			}
			out = append(out, timeMark{at, hourWord(at, every)})
		}
	}
	return out
}

func hourWord(t time.Time, every int) string {
	if every == 24 {
		return t.Format("Mon 2 Jan")
	}
	if t.Hour() == 0 {
		return t.Format("Mon")
	}
	return t.Format("15:04")
}

// chartText says in words what a chart shows.
func (w words) chartText(ask chartAsk, points []Point) string {
	q := ask.Quantity
	if len(points) == 0 {
		return "Nothing was recorded in this time."
	}
	lowest, highest, last := points[0], points[0], points[len(points)-1]
	for _, p := range points {
		if p.Min < lowest.Min {
			lowest = p
		}
		if p.Max > highest.Max {
			highest = p
		}
	}
	if q == alarms.Contact {
		return "Last " + w.value(q, last.Value) + " at " + w.clock(last.At, ask.To) + "."
	}
	text := "Last " + w.value(q, last.Value) + " at " + w.clock(last.At, ask.To) +
		"; lowest " + w.value(q, lowest.Min) + " at " + w.clock(lowest.At, ask.To) +
		", highest " + w.value(q, highest.Max) + " at " + w.clock(highest.At, ask.To)
	if anyLimit(ask.Limits) {
		text += "; band now " + w.bandRange(q, ask.Limits)
	}
	return text + "."
}
