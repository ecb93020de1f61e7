package draw

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// YearChart is a course of temperature over a year beside the one that is expected,
// in a drawing 240 wide and 134 high.
type YearChart struct {
	Values         []tick
	Months         []TimeLabel // At is how far right; those without a text are marks
	Course, Beside string      // paths
}

// The drawing of a YearChart.
const (
	yearLeft, yearRight  = 30.0, 236.0
	yearTop, yearBottom  = 8.0, 112.0
	yearMarks            = 3.0 // about so many spaces between the values
	yearGap              = 3 * 24 * time.Hour
	yearShown, yearEvery = 1, 3 // of months: the first has a label, and each third
)

// YearCharts draws one chart for each course, all to the same scale, so that they can
// be compared.
func YearCharts(w words.Words, year report.Span, courses, beside [][]service.Point) (out []YearChart) {
	var all []float64
	for _, points := range append(slices.Clone(courses), beside...) {
		for _, p := range usable(points, year) {
			all = append(all, p.Value)
		}
	}
	v0, v1, marks := valueAxis(w, alarms.Temperature, all, yearMarks)
	ys := scale{v0: v0, v1: v1, x0: yearBottom, x1: yearTop}
	x := func(t time.Time) float64 {
		return yearLeft + across(year, t)/acrossUnits*(yearRight-yearLeft)
	}
	line := func(points []service.Point) string {
		path := strings.Builder{}
		var last time.Time
		for _, p := range usable(points, year) {
			to := "L"
			if last.IsZero() || p.At.Sub(last) > yearGap {
				to = "M"
			}
			at := pathPoint(x(p.At), ys.at(w.Shown(alarms.Temperature, p.Value)))
			if path.WriteString(to + at); to == "M" {
				path.WriteString("h.1") // a day alone is a dot
			}
			last = p.At
		}
		return path.String()
	}
	for i := range courses {
		c := YearChart{Course: line(courses[i]), Beside: line(beside[i])}
		for _, m := range marks {
			c.Values = append(c.Values, tick{round1(ys.at(m)), w.Number(m, digitsFor(marks))})
		}
		for _, m := range report.Months(year, w.Zone) {
			label := TimeLabel{At: round1(x(m.From))}
			if month := m.From.In(w.Zone).Month(); int(month)%yearEvery == yearShown {
				label.Text = w.Date(m.From.In(w.Zone), "Jan")
			}
			c.Months = append(c.Months, label)
		}
		out = append(out, c)
	}
	return out
}
