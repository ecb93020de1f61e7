package reports

import (
	"telltale/alarms/ground"
	"telltale/alarms/report"
	"telltale/gateway/page/draw"
	"telltale/gateway/page/service"
)

// yearChart is one depth over the year.
type yearChart struct {
	draw.YearChart
	Title string
	Says  string
}

// charts draws the means of the days at each depth beside the undisturbed ground.
func (w yearWords) charts() (out []yearChart) {
	var air, soil [][]service.Point
	for _, d := range w.shown() {
		var a, s []service.Point
		for _, day := range d.Days {
			if day.Known > 0 {
				a = append(a, point(day.Span, day.Mean))
			}
		}
		if w.y.Soil != nil {
			for _, day := range report.Days(w.y.Span, w.Zone) {
				p := point(day, 0)
				p.Value = w.y.Soil.At(d.Depth, ground.Day(p.At.In(w.Zone)))
				s = append(s, p)
			}
		}
		air, soil = append(air, a), append(soil, s)
	}
	for i, c := range draw.YearCharts(w.Words, w.y.Span, air, soil) {
		out = append(out, yearChart{c, w.Say("At %s", w.Depth(w.y.Depths[i].Depth)) + ", " + w.unit(), w.Say("Solid: the air from the pipe, day by day. Dashed: the undisturbed ground.")})
	}
	return out
}

// point is a value in the middle of a day.
func point(day report.Span, v float64) service.Point {
	return service.Point{At: day.From.Add(day.To.Sub(day.From) / 2), Value: v}
}
