package draw

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"telltale/alarms/report"
	"telltale/gateway/page/service"
)

// usable keeps the finite points of the span, oldest first.
func usable(points []service.Point, s report.Span) []service.Point {
	kept := make([]service.Point, 0, len(points))
	for _, p := range points {
		bad := math.IsNaN(p.Value) || math.IsInf(p.Value, 0)
		if bad || p.At.Before(s.From) || p.At.After(s.To) {
			continue
		}
		if !(p.Min <= p.Value && p.Value <= p.Max) || math.IsInf(p.Min, 0) || math.IsInf(p.Max, 0) {
			p.Min, p.Max = p.Value, p.Value
		}
		kept = append(kept, p)
	}
	slices.SortStableFunc(kept, func(a, b service.Point) int { return a.At.Compare(b.At) })
	return kept
}

// pointsAcross is how many points fill a strip: a step over three of them wide
// is a gap.
const pointsAcross = 150

// runs cuts points where data is missing: where the step to the next point is
// over three times the usual one and over three points of a strip wide.
func runs(points []service.Point, whole time.Duration) [][]service.Point {
	if len(points) == 0 {
		return nil
	}
	gap := max(3*medianStep(points), 3*whole/pointsAcross)
	var out [][]service.Point
	start := 0
	for i := 1; i < len(points); i++ {
		if points[i].At.Sub(points[i-1].At) > gap {
			out = append(out, points[start:i])
			start = i
		}
	}
	return append(out, points[start:])
}

func medianStep(points []service.Point) time.Duration {
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

// drawRuns draws each run as a line within the cloud from lowest to highest, and
// a reading that stands alone as a dot.
func (c *Panel) drawRuns(rs [][]service.Point, x func(time.Time) float64, y func(float64) float64) {
	for _, run := range rs {
		if len(run) == 1 && run[0].Min == run[0].Max {
			c.Dots += "M" + pathPoint(x(run[0].At), y(run[0].Value)) + "h0"
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
		c.Line += "M" + strings.Join(line, "L")
		if spread && len(run) > 1 {
			slices.Reverse(lower)
			c.Cloud += "M" + strings.Join(append(upper, lower...), "L") + "Z"
		}
	}
}

// drawBars draws each cell from lowest to highest, with its mean across.
func (c *Panel) drawBars(points []service.Point, cuts []time.Time, x func(time.Time) float64, y func(float64) float64) {
	var bars, means strings.Builder
	for _, p := range points {
		i, found := slices.BinarySearchFunc(cuts, p.At, time.Time.Compare)
		if !found || i+1 >= len(cuts) {
			continue
		}
		x0, x1 := x(cuts[i]), x(cuts[i+1])
		if inset := (x1 - x0) * 0.12; x1-x0 > 5 {
			x0, x1 = x0+inset, x1-inset
		}
		top, bottom := y(p.Max), y(p.Min)
		if bottom-top < 1 {
			top, bottom = top-0.5, bottom+0.5
		}
		bars.WriteString(boxPath(x0, top, x1, bottom))
		means.WriteString("M" + pathPoint(x0, y(p.Value)) + "H" + short(x1))
	}
	c.Bars, c.Means = bars.String(), means.String()
}

// short writes a coordinate with at most one decimal.
func short(v float64) string { return strconv.FormatFloat(round1(v), 'f', -1, 64) }

func pathPoint(x, y float64) string { return short(x) + "," + short(y) }

// boxPath is the path of a rectangle.
func boxPath(x0, y0, x1, y1 float64) string {
	return "M" + pathPoint(x0, y0) + "H" + short(x1) + "V" + short(y1) + "H" + short(x0) + "z"
}
