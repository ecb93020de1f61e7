package page

import (
	"math"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zone below, on any machine

	"telltale/alarms"
)

// hours asks for a panel that ends at noon, with one band all along.
func hours(n int, l alarms.Limits) panelAsk {
	whole := Stretch{noon.Add(-time.Duration(n) * time.Hour), noon}
	return panelAsk{place: "Bench", quantity: alarms.Temperature, whole: whole, tall: 112,
		bands: []alarms.BandStep{{From: whole.From, To: whole.To, Limits: l}}}
}

func at(minutesAgo int, v float64) Point {
	return Point{At: noon.Add(-time.Duration(minutesAgo) * time.Minute), Value: v, Min: v, Max: v}
}

func TestChartValueOnALimitIsOnTheBandsEdge(t *testing.T) {
	for _, f := range []bool{false, true} {
		w := newWords(alarms.Words{Fahrenheit: f})
		c := w.panelOf(hours(6, limits(8, 12, 32, 38)), []Point{at(120, 32), at(119, 32), at(60, 12)})
		edges := strings.Split(strings.TrimPrefix(c.Edge, "M"), "M")
		if len(edges) != 2 {
			t.Fatalf("got edges %q, want a lower and an upper one", c.Edge)
		}
		lower, _, _ := strings.Cut(strings.TrimPrefix(edges[0], "0,"), "V")
		upper, _, _ := strings.Cut(strings.TrimPrefix(edges[1], "0,"), "V")
		if got := strings.Count(c.Line, ","+upper); got != 2 {
			t.Errorf("°F %v: %d points of %q are on the band's upper edge %s, want 2", f, got, c.Line, upper)
		}
		if !strings.HasSuffix(c.Dots, ","+lower+"h0") {
			t.Errorf("°F %v: got dot %q, want it on the lower edge %s", f, c.Dots, lower)
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
	if c := w.panelOf(hours(6, alarms.Limits{}), points); strings.Count(c.Line, "M") != 2 {
		t.Errorf("got %d lines, want 2 around the gap: %v", strings.Count(c.Line, "M"), c.Line)
	}
	// A probe that sends every half hour has no gap in six hours.
	points = nil
	for m := 360; m > 0; m -= 30 {
		points = append(points, at(m, 20))
	}
	if c := w.panelOf(hours(6, alarms.Limits{}), points); strings.Count(c.Line, "M") != 1 {
		t.Errorf("slow probe: got %d lines, want 1", strings.Count(c.Line, "M"))
	}
}

func TestChartTakesWhatCannotBeDrawn(t *testing.T) {
	w := newWords(alarms.Words{})
	c := w.panelOf(hours(6, limits(8, 12, 32, 38)), []Point{at(10, math.NaN()), at(9, math.Inf(1)), at(5000, 1), at(-60, 2),
		{At: noon.Add(-200 * time.Minute), Value: 1000, Min: math.Inf(-1), Max: math.Inf(1)}, at(300, -200)})
	for _, path := range []string{c.Line, c.Cloud, c.Dots, c.Band, c.Edge} {
		wantNone(t, path, "NaN", "Inf")
	}
	if len(c.Values) > 9 || len(c.Values) < 2 {
		t.Errorf("%d labels on the value axis", len(c.Values))
	}
	wantAll(t, strings.ReplaceAll(c.Text, noBreak, " "), "Lowest −200.0 °C at 07:02", "highest 1000.0 °C at 08:42", "band 12 to 32 °C")
	if c := w.panelOf(hours(6, alarms.Limits{}), nil); !c.Empty || c.Text != "Nothing was recorded in this time." || c.Band != "" {
		t.Errorf("no data: got %+v", c)
	}
}

func TestChartEnvelope(t *testing.T) {
	w := newWords(alarms.Words{})
	p := at(100, 20)
	p.Min, p.Max = 15, 30
	c := w.panelOf(hours(6, alarms.Limits{}), []Point{p, at(98, 20)})
	if strings.Count(c.Cloud, "M") != 1 || strings.Count(c.Line, "M") != 1 {
		t.Fatalf("got cloud %q and line %q, want one each", c.Cloud, c.Line)
	}
	wantAll(t, strings.ReplaceAll(c.Text, noBreak, " "), "Lowest 15.0 °C", "highest 30.0 °C")
	if c := w.panelOf(hours(6, alarms.Limits{}), []Point{at(100, 20), at(98, 21)}); c.Cloud != "" {
		t.Error("single readings have no envelope")
	}
}

// In this zone clocks went from 02:00 to 03:00 on 29 March 2026 and from 03:00
// to 02:00 on 25 October 2026 (last Sundays, Directive 2000/84/EC).
func berlin(t *testing.T) words {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	return newWords(alarms.Words{Zone: zone})
}

func TestTimeMarksOnDaysThatAreNotLikeOthers(t *testing.T) {
	w := berlin(t)
	for _, day := range []time.Time{time.Date(2026, 3, 29, 12, 0, 0, 0, w.zone), time.Date(2026, 10, 25, 12, 0, 0, 0, w.zone)} {
		var got []string
		for _, m := range w.timeMarks(day.Add(-24*time.Hour), day) {
			got = append(got, m.text)
			if m.at.Minute() != 0 || m.at.Hour()%3 != 0 {
				t.Errorf("%v is no full hour of the clock", m.at)
			}
		}
		if s := strings.TrimPrefix(strings.Join(got, " "), "12:00 "); s != "15:00 18:00 21:00 Sun "+day.Format("2")+" 03:00 06:00 09:00 12:00" {
			t.Errorf("%v: got %s", day, s)
		}
	}
	marks := w.timeMarks(time.Date(2026, 3, 26, 12, 0, 0, 0, w.zone), time.Date(2026, 4, 2, 12, 0, 0, 0, w.zone))
	if len(marks) != 7 || marks[2].text != "Sun 29" || marks[3].at.Sub(marks[2].at) != 23*time.Hour {
		t.Errorf("a week: got %v", marks)
	}
}

// Whatever the length, there are marks, and not so many that they touch.
func TestTimeMarksAtEveryLength(t *testing.T) {
	w := berlin(t)
	for _, z := range zooms {
		for _, years := range []int{0, 2, 30} {
			s, _ := w.stretch(z, noon, noon.AddDate(-years, 0, -3))
			marks := w.timeMarks(s.From, s.To)
			wide, narrow := 0, 0
			for _, m := range marks {
				wide++
				if !m.minor {
					narrow++
				}
			}
			if wide > 31 || narrow > 20 || wide == 0 {
				t.Errorf("%s over %d years: got %d labels, %d on a narrow screen", z.Key, years, wide, narrow)
			}
		}
	}
}
