package reports

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/draw"
	"telltale/gateway/page/service"
)

// reportChart is a small drawing of lowest, mean and highest over a span.
type reportChart struct {
	draw.Panel
	Says  string
	Times []draw.TimeLabel
}

const (
	mostReportCharts      = 8
	reportTop, reportTall = 8.0, 118.0 // of a plot, in its own units
)

// charts draws the temperatures, those with a band before all.
func (w reportWords) charts() (out []reportChart) {
	banded := slices.ContainsFunc(w.r.Measures, func(m report.Measure) bool { return m.Banded && m.Quantity == alarms.Temperature })
	for _, m := range w.r.Measures {
		if m.Quantity == alarms.Temperature && m.Known > 0 && m.Banded == banded && len(out) < mostReportCharts {
			out = append(out, w.chart(m))
		}
	}
	return out
}

func (w reportWords) chart(m report.Measure) reportChart {
	says := w.Say("Each bar is one day, from its lowest to its highest; the line across is its mean.")
	if len(m.Cells) > 1 && m.Cells[0].Len() <= time.Hour {
		says = w.Say("Each bar is one hour, from its lowest to its highest; the line across is its mean.")
	}
	ask := draw.PanelAsk{Place: w.place(m.Place), Quantity: m.Quantity, Bands: m.Bands, BandsAsTheyWere: m.Len() < 10*24*time.Hour,
		Whole: report.Span{From: w.r.From, To: w.r.To}, Cuts: []time.Time{}, Y: reportTop - draw.PanelHead, Tall: reportTall}
	var points []service.Point
	for i, c := range m.Cells {
		c.From = service.Later(c.From, ask.Whole.From)
		ask.Cuts = append(ask.Cuts, c.From)
		if i == len(m.Cells)-1 {
			ask.Cuts = append(ask.Cuts, c.To)
		}
		if c.Known > 0 {
			points = append(points, service.Point{At: c.From, Value: c.Mean, Min: c.Min, Max: c.Max})
		}
	}
	return reportChart{Panel: draw.PanelOf(w.Words, ask, points), Times: draw.TimeLabels(w.Words, ask.Whole),
		Says: says}
}
