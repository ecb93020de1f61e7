package page

import (
	"math"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zone below, on any machine

	"telltale/alarms"
)

func ask(hours int, l alarms.Limits) chartAsk {
	return chartAsk{Name: "Bench", Quantity: alarms.Temperature, Limits: l, From: noon.Add(-time.Duration(hours) * time.Hour), To: noon}
}

func at(minutesAgo int, v float64) Point {
	return Point{At: noon.Add(-time.Duration(minutesAgo) * time.Minute), Value: v, Min: v, Max: v}
}

func TestChartValueOnALimitIsOnTheBandsEdge(t *testing.T) {
	for _, f := range []bool{false, true} {
		w := newWords(alarms.Words{Fahrenheit: f})
		c := w.chartOf(ask(6, limits(8, 12, 32, 38)), []Point{at(120, 32), at(119, 32), at(60, 12)})
		if got, want := strings.Count(c.Lines[0], pathPoint(0, c.BandTop)[4:]), 2; got != want {
			t.Errorf("°F %v: %d points of %q are at the band's upper edge %v, want %d", f, got, c.Lines[0], c.BandTop, want)
		}
		if len(c.Dots) != 1 || c.Dots[0].Y != c.BandBottom {
			t.Errorf("°F %v: got %v, want a point on the lower edge %v", f, c.Dots, c.BandBottom)
		}
	}
	p := alarms.PointPicture{Quantity: alarms.Temperature, HasValue: true, Live: true, Value: 32, Limits: limits(8, 12, 32, 38)}
	if s := stripOf(p, standing{Mark: "near"}, ""); s.Mark != s.To {
		t.Errorf("strip: a value on the high limit is at %v, the band ends at %v", s.Mark, s.To)
	}
	p.Value = 12
	if s := stripOf(p, standing{Mark: "near"}, ""); s.Mark != s.From {
		t.Errorf("strip: a value on the low limit is at %v, the band starts at %v", s.Mark, s.From)
	}
}

func TestChartGapsStayGaps(t *testing.T) {
	w := newWords(alarms.Words{})
	var points []Point
	for m := 360; m > 0; m -= 2 {
		if m < 200 && m > 120 {
			continue
		}
		points = append(points, at(m, 20))
	}
	if c := w.chartOf(ask(6, alarms.Limits{}), points); len(c.Lines) != 2 {
		t.Errorf("got %d lines, want 2 around the gap: %v", len(c.Lines), c.Lines)
	}
	// A probe that sends every half hour has no gap in six hours.
	points = nil
	for m := 360; m > 0; m -= 30 {
		points = append(points, at(m, 20))
	}
	if c := w.chartOf(ask(6, alarms.Limits{}), points); len(c.Lines) != 1 {
		t.Errorf("slow probe: got %d lines, want 1", len(c.Lines))
	}
}

func TestChartStaysInItsFrame(t *testing.T) {
	w := newWords(alarms.Words{})
	points := []Point{at(300, -200), at(299, math.NaN()), at(298, math.Inf(1)), {At: noon.Add(-200 * time.Minute), Value: 90, Min: 80, Max: 1e3},
		at(500, 7), at(-5, 7)}
	c := w.chartOf(ask(6, limits(8, 12, 32, 38)), points)
	for _, line := range append(append([]string{}, c.Lines...), c.Clouds...) {
		if strings.Contains(line, "NaN") || strings.Contains(line, "Inf") {
			t.Errorf("not a drawing: %s", line)
		}
	}
	for _, d := range c.Dots {
		if d.X < c.Left || d.X > c.Right || d.Y < c.Top || d.Y > c.Bottom {
			t.Errorf("%v is outside of the frame", d)
		}
	}
	if len(c.Values) > 9 || len(c.Values) < 3 {
		t.Errorf("%d labels on the value axis", len(c.Values))
	}
	wantAll(t, strings.ReplaceAll(c.Text, noBreak, " "), "lowest −200.0 °C at 07:02", "highest 1000.0 °C at 08:42", "band now 12 to 32 °C")
	if c := w.chartOf(ask(6, alarms.Limits{}), nil); !c.Empty || c.Text != "Nothing was recorded in this time." || c.HasBand {
		t.Errorf("no data: got %+v", c)
	}
}

func TestChartEnvelope(t *testing.T) {
	w := newWords(alarms.Words{})
	p := at(100, 20)
	p.Min, p.Max = 15, 30
	c := w.chartOf(ask(6, alarms.Limits{}), []Point{p, at(98, 20)})
	if len(c.Clouds) != 1 || len(c.Lines) != 1 {
		t.Fatalf("got %d clouds and %d lines, want one each", len(c.Clouds), len(c.Lines))
	}
	wantAll(t, strings.ReplaceAll(c.Text, noBreak, " "), "lowest 15.0 °C", "highest 30.0 °C", "Last 20.0 °C at 10:24")
	if c := w.chartOf(ask(6, alarms.Limits{}), []Point{at(100, 20), at(98, 21)}); len(c.Clouds) != 0 {
		t.Error("single readings have no envelope")
	}
}

// In this zone clocks went from 02:00 to 03:00 on 29 March 2026 and from 03:00
// to 02:00 on 25 October 2026 (last Sundays, Directive 2000/84/EC).
func TestTimeMarksOnDaysThatAreNotLikeOthers(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	w := newWords(alarms.Words{Zone: zone})
	for _, day := range []time.Time{time.Date(2026, 3, 29, 12, 0, 0, 0, zone), time.Date(2026, 10, 25, 12, 0, 0, 0, zone)} {
		marks := w.timeMarks(day.Add(-24*time.Hour), day)
		var got []string
		for _, m := range marks {
			got = append(got, m.text)
			if m.at.Minute() != 0 || m.at.Hour()%6 != 0 {
				t.Errorf("%v is no full hour of the clock", m.at)
			}
		}
		if s := strings.Join(got, " "); s != "18:00 Sun 06:00 12:00" && s != "12:00 18:00 Sun 06:00 12:00" {
			t.Errorf("%v: got %s", day, s)
		}
	}
	marks := w.timeMarks(time.Date(2026, 3, 28, 12, 0, 0, 0, zone), time.Date(2026, 3, 31, 12, 0, 0, 0, zone))
	if len(marks) != 3 || marks[0].text != "Sun 29 Mar" || marks[1].at.Sub(marks[0].at) != 23*time.Hour {
		t.Errorf("three days: got %v", marks)
	}
}

func TestChartsPage(t *testing.T) {
	st := start(t, Options{Watch: newFake()})
	_, text := st.get("/charts?house=low-house&hours=24")
	wantAll(t, reading(text), "The last 24 hours in Low House", "Propagation bed, soil temperature, °C", "lowest 17.6 °C at 02:02",
		"Nothing was recorded in this time.", "up to 12:02")
	wantNone(t, reading(text), "Bench")
	_, part := st.get("/charts?house=low-house&part=1")
	wantAll(t, part, "The last 6 hours in Low House")
	wantNone(t, part, "<html", "<body")
	if a, _ := st.get("/charts?house=elsewhere"); a.StatusCode != 404 {
		t.Errorf("no such house: got status %d, want 404", a.StatusCode)
	}
}
