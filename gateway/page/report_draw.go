package page

import (
	"fmt"
	"math"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
)

// reportChart is a small drawing of lowest, mean and highest over a span.
type reportChart struct {
	Title, Text       string
	Band, Bars, Means string // paths
	Values, Times     []reportTick
}

type reportTick struct {
	At   string // coordinate
	Text string
}

// The drawing's room, in its own units.
const (
	reportWide, reportTall           = 640.0, 150.0
	reportLeft, reportTop, reportLow = 44.0, 8.0, 126.0
	mostReportCharts                 = 8

	// Largest sizes of its text; on a phone only every second time is shown.
	reportSmall, reportLarge = 15.0, 24.0
)

// charts draws the temperatures, those with a band before all.
func (w reportWords) charts() (out []reportChart) {
	banded := false
	for _, m := range w.r.Measures {
		banded = banded || m.Banded && m.Quantity == alarms.Temperature
	}
	for _, m := range w.r.Measures {
		if m.Quantity == alarms.Temperature && m.Known > 0 && m.Banded == banded && len(out) < mostReportCharts {
			out = append(out, w.chart(m))
		}
	}
	return out
}

// scale maps a span and a range of values to the drawing.
type reportScale struct {
	span   report.Span
	lo, hi float64
}

func (s reportScale) x(t time.Time) float64 {
	share := float64(t.Sub(s.span.From)) / float64(s.span.Len())
	return reportLeft + min(max(share, 0), 1)*(reportWide-reportLeft)
}

func (s reportScale) y(v float64) float64 {
	share := (v - s.lo) / (s.hi - s.lo)
	return reportLow - min(max(share, 0), 1)*(reportLow-reportTop)
}

func (w reportWords) chart(m report.Measure) reportChart {
	q := m.Quantity
	c := reportChart{Title: w.place(m.Place) + ", " + q.Word() + ", " + strings.TrimSpace(strings.ReplaceAll(w.unit(q), noBreak, " "))}
	each := "day"
	if len(m.Cells) > 1 && m.Cells[0].Len() <= time.Hour {
		each = "hour"
	}
	c.Text = fmt.Sprintf("Each bar is one %s, from its lowest to its highest; the line across is its mean.", each)
	s := reportScale{span: w.r.Span}
	bands := bandsOver(m)
	step := 0.0
	s.lo, s.hi, step = w.reportRange(m, bands)
	var band, bars, means strings.Builder
	for _, b := range bands {
		if b.Low.Set || b.High.Set {
			top, bottom := s.hi, s.lo
			if b.High.Set {
				top = w.shown(q, b.High.Value)
			}
			if b.Low.Set {
				bottom = w.shown(q, b.Low.Value)
			}
			band.WriteString(barPath(s.x(b.From), s.y(top), s.x(b.To), s.y(bottom)))
		}
	}
	for _, cell := range m.Cells {
		if cell.Known == 0 {
			continue
		}
		x0, x1 := s.x(cell.From), s.x(cell.To)
		gap := min(1.5, (x1-x0)/6)
		bars.WriteString(barPath(x0+gap, s.y(w.shown(q, cell.Max)), x1-gap, s.y(w.shown(q, cell.Min))))
		fmt.Fprintf(&means, "M%.1f,%.1fH%.1f", x0+gap, s.y(w.shown(q, cell.Mean)), x1-gap)
	}
	c.Band, c.Bars, c.Means = band.String(), bars.String(), means.String()
	for v := s.lo; v <= s.hi+step/2; v += step {
		c.Values = append(c.Values, reportTick{fmt.Sprintf("%.1f", s.y(v)), w.number(v, 0)})
	}
	c.Times = w.reportTimes(m, s)
	return c
}

// barPath is the path of a rectangle, which is at least half a unit tall.
func barPath(x0, y0, x1, y1 float64) string {
	if y1-y0 < 0.5 {
		y0, y1 = y0-0.25, y1+0.25
	}
	return fmt.Sprintf("M%.1f,%.1fH%.1fV%.1fH%.1fz", x0, y0, x1, y1, x0)
}

// bandsOver are the limits to draw: as they were over a short time, over a long
// one the widest of each cell.
func bandsOver(m report.Measure) []alarms.BandStep {
	if m.Len() < 10*24*time.Hour {
		return m.Bands
	}
	var out []alarms.BandStep
	for _, c := range m.Cells {
		one := alarms.BandStep{From: c.From, To: c.To}
		for _, b := range m.Bands {
			if !b.From.Before(c.To) || !b.To.After(c.From) {
				continue
			}
			if b.Low.Set && (!one.Low.Set || b.Low.Value < one.Low.Value) {
				one.Low = b.Low
			}
			if b.High.Set && (!one.High.Set || b.High.Value > one.High.Value) {
				one.High = b.High
			}
		}
		out = append(out, one)
	}
	return out
}

// reportRange is the range of values drawn, and the step of its labels.
func (w reportWords) reportRange(m report.Measure, bands []alarms.BandStep) (lo, hi, step float64) {
	lo, hi = w.shown(m.Quantity, m.Min), w.shown(m.Quantity, m.Max)
	for _, b := range bands {
		for _, l := range []alarms.Limit{b.Low, b.High} {
			if l.Set {
				lo, hi = min(lo, w.shown(m.Quantity, l.Value)), max(hi, w.shown(m.Quantity, l.Value))
			}
		}
	}
	for _, step = range []float64{1, 2, 5, 10, 20, 50, 100} {
		if (hi-lo)/step <= 4 {
			break
		}
	}
	return math.Floor(lo/step) * step, math.Max(math.Ceil(hi/step), math.Floor(lo/step)+1) * step, step
}

// reportTimes labels at most about eight cells.
func (w reportWords) reportTimes(m report.Measure, s reportScale) (out []reportTick) {
	layout := "2 Jan"
	switch {
	case len(m.Cells) == 0:
		return nil
	case m.Cells[0].Len() <= time.Hour:
		layout = "15:04"
	case len(m.Cells) <= 8:
		layout = "Mon 2"
	}
	every := (len(m.Cells) + 7) / 8
	for i := 0; i < len(m.Cells); i += every {
		x, text := s.x(m.Cells[i].From), w.stamped(m.Cells[i].From, layout)
		size := reportSmall
		if len(out)%2 == 0 {
			size = reportLarge
		}
		if x+wide(text, size) <= reportWide {
			out = append(out, reportTick{fmt.Sprintf("%.1f", x), text})
		}
	}
	return out
}
