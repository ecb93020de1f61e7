package draw

import (
	"math"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// hours asks for a panel that ends at noon, with one band all along.
func hours(n int, l alarms.Limits) PanelAsk {
	whole := report.Span{From: scenes.Noon.Add(-time.Duration(n) * time.Hour), To: scenes.Noon}
	return PanelAsk{Named: true, Place: "Bench", Quantity: alarms.Temperature, Whole: whole, Tall: 112,
		Bands: []alarms.BandStep{{From: whole.From, To: whole.To, Limits: l}}}
}

func at(minutesAgo int, v float64) service.Point {
	return service.Point{At: scenes.Noon.Add(-time.Duration(minutesAgo) * time.Minute), Value: v, Min: v, Max: v}
}

func TestChartValueOnALimitIsOnTheBandsEdge(t *testing.T) {
	for _, f := range []bool{false, true} {
		w := words.New(alarms.Words{Fahrenheit: f})
		c := PanelOf(w, hours(6, scenes.Limits(8, 12, 32, 38)), []service.Point{at(120, 32), at(119, 32), at(60, 12)})
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
	p := alarms.PointPicture{Quantity: alarms.Temperature, HasValue: true, Live: true, Value: 32, Limits: scenes.Limits(8, 12, 32, 38)}
	if s := stripOf(p, words.Standing{Mark: "near"}, ""); s.Mark != s.To {
		t.Errorf("strip: a value on the high limit is at %v, the band ends at %v", s.Mark, s.To)
	}
	p.Value = 12
	if s := stripOf(p, words.Standing{Mark: "near"}, ""); s.Mark != s.From {
		t.Errorf("strip: a value on the low limit is at %v, the band starts at %v", s.Mark, s.From)
	}
}

// Where there is no limit nothing looks like one: the band runs off the strip, and no
// value lies beyond it.
func TestStripOpenOnOneSideHasNoEndThere(t *testing.T) {
	for _, v := range []float64{-40, 0, 12, 31.9, 32, 60} {
		p := alarms.PointPicture{Quantity: alarms.Temperature, HasValue: true, Live: true, Value: v, Limits: alarms.Limits{High: alarms.At(32)}}
		s := stripOf(p, words.Standing{}, "")
		if s.From != 0 || s.Left || v < 32 && s.Mark >= s.To || v > 32 && s.Mark <= s.To && !s.Right {
			t.Errorf("up to 32, %g: the band is from %g to %g, the mark at %g (off to the left: %v)", v, s.From, s.To, s.Mark, s.Left)
		}
		p.Limits = alarms.Limits{Low: alarms.At(12)}
		s = stripOf(p, words.Standing{}, "")
		if s.To != stripWidth || s.Right || v > 12 && s.Mark <= s.From || v < 12 && s.Mark >= s.From && !s.Left {
			t.Errorf("from 12, %g: the band is from %g to %g, the mark at %g (off to the right: %v)", v, s.From, s.To, s.Mark, s.Right)
		}
	}
}

func TestChartGapsStayGaps(t *testing.T) {
	w := words.New(alarms.Words{})
	var points []service.Point
	for m := 360; m > 0; m -= 2 {
		if m < 200 && m > 120 {
			continue
		}
		points = append(points, at(m, 20))
	}
	if c := PanelOf(w, hours(6, alarms.Limits{}), points); strings.Count(c.Line, "M") != 2 {
		t.Errorf("got %d lines, want 2 around the gap: %v", strings.Count(c.Line, "M"), c.Line)
	}
	// A probe that sends every half hour has no gap in six hours.
	points = nil
	for m := 360; m > 0; m -= 30 {
		points = append(points, at(m, 20))
	}
	if c := PanelOf(w, hours(6, alarms.Limits{}), points); strings.Count(c.Line, "M") != 1 {
		t.Errorf("slow probe: got %d lines, want 1", strings.Count(c.Line, "M"))
	}
}

func TestChartTakesWhatCannotBeDrawn(t *testing.T) {
	w := words.New(alarms.Words{})
	c := PanelOf(w, hours(6, scenes.Limits(8, 12, 32, 38)), []service.Point{at(10, math.NaN()), at(9, math.Inf(1)), at(5000, 1), at(-60, 2),
		{At: scenes.Noon.Add(-200 * time.Minute), Value: 1000, Min: math.Inf(-1), Max: math.Inf(1)}, at(300, -200)})
	for _, path := range []string{c.Line, c.Cloud, c.Dots, c.Band, c.Edge} {
		if strings.Contains(path, "NaN") || strings.Contains(path, "Inf") {
			t.Errorf("that cannot be drawn: %q", path)
		}
	}
	if len(c.Values) > 9 || len(c.Values) < 2 {
		t.Errorf("%d labels on the value axis", len(c.Values))
	}
	wantAll(t, strings.ReplaceAll(c.Text, words.NoBreak, " "), "Lowest −200.0 °C at 07:02", "highest 1000.0 °C at 08:42", "band 12 to 32 °C")
	if c := PanelOf(w, hours(6, alarms.Limits{}), nil); !c.Empty || c.Text != "Nothing was recorded in this time." || c.Band != "" {
		t.Errorf("no data: got %+v", c)
	}
}

func TestChartEnvelope(t *testing.T) {
	w := words.New(alarms.Words{})
	p := at(100, 20)
	p.Min, p.Max = 15, 30
	c := PanelOf(w, hours(6, alarms.Limits{}), []service.Point{p, at(98, 20)})
	if strings.Count(c.Cloud, "M") != 1 || strings.Count(c.Line, "M") != 1 {
		t.Fatalf("got cloud %q and line %q, want one each", c.Cloud, c.Line)
	}
	wantAll(t, strings.ReplaceAll(c.Text, words.NoBreak, " "), "Lowest 15.0 °C", "highest 30.0 °C")
	if c := PanelOf(w, hours(6, alarms.Limits{}), []service.Point{at(100, 20), at(98, 21)}); c.Cloud != "" {
		t.Error("single readings have no envelope")
	}
}

func TestTimeMarksOnDaysThatAreNotLikeOthers(t *testing.T) {
	w := words.New(alarms.Words{Zone: scenes.Berlin()})
	for _, day := range []time.Time{time.Date(2026, 3, 29, 12, 0, 0, 0, w.Zone), time.Date(2026, 10, 25, 12, 0, 0, 0, w.Zone)} {
		var got []string
		for _, m := range timeMarks(w, day.Add(-24*time.Hour), day) {
			got = append(got, m.text)
			if m.at.Minute() != 0 || m.at.Hour()%3 != 0 {
				t.Errorf("%v is no full hour of the clock", m.at)
			}
		}
		if s := strings.TrimPrefix(strings.Join(got, " "), "12:00 "); s != "15:00 18:00 21:00 Sun "+day.Format("2")+" 03:00 06:00 09:00 12:00" {
			t.Errorf("%v: got %s", day, s)
		}
	}
	marks := timeMarks(w, time.Date(2026, 3, 26, 12, 0, 0, 0, w.Zone), time.Date(2026, 4, 2, 12, 0, 0, 0, w.Zone))
	if len(marks) != 7 || marks[2].text != "Sun 29" || marks[3].at.Sub(marks[2].at) != 23*time.Hour {
		t.Errorf("a week: got %v", marks)
	}
}

// Whatever the length, there are marks, and not so many that they touch.
func TestTimeMarksAtEveryLength(t *testing.T) {
	w := words.New(alarms.Words{Zone: scenes.Berlin()})
	for _, days := range []int{1, 3, 7, 31, 366, 2*366 + 3, 30 * 366} {
		wide, narrow := 0, 0
		for _, m := range timeMarks(w, scenes.Noon.AddDate(0, 0, -days), scenes.Noon) {
			wide++
			if !m.minor {
				narrow++
			}
		}
		if wide > 31 || narrow > 20 || wide == 0 {
			t.Errorf("%d days: got %d labels, %d on a narrow screen", days, wide, narrow)
		}
	}
}

func wantAll(t *testing.T, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(text, p) {
			t.Errorf("%q is not in %q", p, text)
		}
	}
}
