package draw

import (
	"math"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/words"
)

// benchAhead is a bench at 20 °C that in two hours is likely at 24 °C, with 30 °C
// within what 9 in 10 stay below.
func benchAhead(tune func(*alarms.PlacePicture)) *alarms.PlacePicture {
	p := &alarms.PlacePicture{ID: "bench", Name: "Bench",
		Points: []alarms.PointPicture{{Quantity: alarms.Temperature, HasValue: true, Live: true, Value: 20}},
		Outlook: &alarms.OutlookPicture{At: scenes.Noon, Sentence: "It is expected.",
			Ahead: []alarms.AheadPicture{
				{In: time.Hour, Lowest: []float64{19, 19.5, 20, 20, 20, 20, 20}, Highest: []float64{20, 20, 21, 22, 23, 24, 25}},
				{In: 2 * time.Hour, Lowest: []float64{18, 19, 20, 20, 20, 20, 20}, Highest: []float64{20, 21, 22, 24, 26, 28, 30}}},
			Limits: []alarms.LimitOutlook{
				{Side: alarms.HighSide, Level: alarms.Outer, Limit: 25, Likely: []float64{0.2, 0.4}, Soon: 30 * time.Minute, Middle: time.Hour, Late: 2 * time.Hour},
				{Side: alarms.HighSide, Level: alarms.Inner, Limit: 40, Likely: []float64{0, 0.01}},
				{Side: alarms.LowSide, Level: alarms.Outer, Limit: 5, Likely: []float64{0, 0}}}}}
	if tune != nil {
		tune(p)
	}
	return p
}

func aheadPanel(t *testing.T, p *alarms.PlacePicture) (Panel, string) {
	t.Helper()
	w := words.New(alarms.Words{})
	ask, why := AheadOf(w, p, scenes.Noon)
	whole := report.Span{From: scenes.Noon.Add(-24 * time.Hour), To: scenes.Noon}
	return PanelOf(w, PanelAsk{Place: "Bench", Quantity: alarms.Temperature, Whole: whole, Tall: 130, Ahead: ask}, nil), why
}

// The axis covers 18 to 30 °C, in steps of 5 from 15 to 30, over 130 px below 18:
// 30 is at 18, 15 at 148, and one kelvin is 130/15 px.
func TestAheadIsBandsWithinBands(t *testing.T) {
	c, why := aheadPanel(t, benchAhead(nil))
	if c.Ahead == nil || why != "" {
		t.Fatalf("nothing is drawn: %q", why)
	}
	y := func(v float64) float64 { return 148 - (v-15)*130/15 }
	point := func(x, v float64) string { return pathPoint(x, y(v)) }
	want := "M" + strings.Join([]string{point(0, 20), point(500, 25), point(1000, 30), point(1000, 18), point(500, 19), point(0, 20)}, "L") + "Z"
	if len(c.Ahead.Bands) != 3 || c.Ahead.Bands[0] != want {
		t.Errorf("bands: got %q, want three, the first %q", c.Ahead.Bands, want)
	}
	want = "M" + strings.Join([]string{point(0, 20), point(500, 23), point(1000, 26), point(1000, 20), point(500, 20), point(0, 20)}, "L") + "Z"
	if c.Ahead.Bands[2] != want {
		t.Errorf("the likeliest band: got %q, want %q", c.Ahead.Bands[2], want)
	}
	if want := "M" + strings.Join([]string{point(0, 20), point(500, 22), point(1000, 24)}, "L"); c.Ahead.Middle != want {
		t.Errorf("middle: got %q, want %q", c.Ahead.Middle, want)
	}
	if want := "M" + point(0, 25) + "H1000"; c.Ahead.Limits != want {
		t.Errorf("limits: got %q, want %q: the others have no place in the plot", c.Ahead.Limits, want)
	}
	if len(c.Ahead.Crossings) != 1 {
		t.Fatalf("crossings: got %+v, want one", c.Ahead.Crossings)
	}
	m := c.Ahead.Crossings[0]
	if m.X != 50 || m.Y != round1(y(25)) || m.Inner || m.Between != "M"+point(250, 25)+"H1000" {
		t.Errorf("crossing: got %+v", m)
	}
	if len(m.Notches) != 2 || m.Notches[0].Text != "4 in 10" || m.Notches[1].Text != "13:00" {
		t.Errorf("words beside it: got %+v, want 4 in 10 and 13:00", m.Notches)
	}
	if c.Ahead.Word.Text != "likely" {
		t.Errorf("the band is not named: %+v", c.Ahead.Word)
	}
}

// Where nothing can be said nothing is drawn, and why is said.
func TestNothingIsDrawnAhead(t *testing.T) {
	lacking := "Nothing can be said yet."
	for name, tt := range map[string]struct {
		tune func(*alarms.PlacePicture)
		why  string
	}{
		"no limit":     {func(p *alarms.PlacePicture) { p.Outlook = nil }, ""},
		"too new":      {func(p *alarms.PlacePicture) { p.Outlook = scenes.TooNew(); p.Outlook.Sentence = lacking }, lacking},
		"not looked":   {func(p *alarms.PlacePicture) { p.Outlook.Ahead, p.Outlook.Sentence = nil, lacking }, lacking},
		"an old look":  {func(p *alarms.PlacePicture) { p.Outlook.At = scenes.Noon.Add(-17 * time.Minute) }, "Nothing can be said now of the next two hours: what was expected at 11:45 is too old."},
		"a later look": {func(p *alarms.PlacePicture) { p.Outlook.At = scenes.Noon.Add(17 * time.Minute) }, "Nothing can be said now of the next two hours: what was expected at 12:19 is too old."},
		"no number": {func(p *alarms.PlacePicture) {
			p.Outlook.Ahead[0].Lowest[3] = math.NaN()
			p.Outlook.Ahead[1].Highest[6] = math.Inf(1)
		}, "Nothing can be said now of the next two hours."},
		"too few":       {func(p *alarms.PlacePicture) { p.Outlook.Ahead = p.Outlook.Ahead[:1]; p.Outlook.Ahead[0].Highest = nil }, "Nothing can be said now of the next two hours."},
		"nothing known": {func(p *alarms.PlacePicture) { p.Points, p.Outlook.Ahead = nil, p.Outlook.Ahead[:1] }, "Nothing can be said now of the next two hours."},
	} {
		c, why := aheadPanel(t, benchAhead(tt.tune))
		if c.Ahead != nil || why != tt.why {
			t.Errorf("%s: got %+v and %q, want nothing and %q", name, c.Ahead, why, tt.why)
		}
	}
}

// A look of some minutes ago, as where readings are rare, is drawn from now on.
func TestAheadBeginsNow(t *testing.T) {
	c, _ := aheadPanel(t, benchAhead(func(p *alarms.PlacePicture) {
		p.Outlook.At = scenes.Noon.Add(-15 * time.Minute)
		p.Outlook.Ahead[0].Highest = []float64{30, 30, 30, 30, 30, 30, 30}
		soon := alarms.AheadPicture{In: 10 * time.Minute, Highest: []float64{22, 22, 22, 22, 22, 22, 22}, Lowest: p.Outlook.Ahead[0].Lowest}
		p.Outlook.Ahead = append([]alarms.AheadPicture{soon}, p.Outlook.Ahead...)
	}))
	// Ten minutes were over five minutes ago, at 22 °C; the next 50 lead to 30 °C, so it is at 22.8 °C now.
	want := "M" + pathPoint(0, 148-(22.8-15)*130/15) + "L" + pathPoint(375, 148-15*130.0/15)
	if !strings.HasPrefix(c.Ahead.Bands[0], want) {
		t.Errorf("got %q, want it to begin with %q", c.Ahead.Bands[0], want)
	}
	if m := c.Ahead.Crossings[0]; m.X != 37.5 || m.Notches[1].Text != "12:45" {
		t.Errorf("the limit comes an hour after the look: got %+v, want it in 45 minutes", m)
	}
}

// A limit that is passed is not ahead, and words have room beside each other.
func TestCrossingsKeepTheirWordsApart(t *testing.T) {
	c, _ := aheadPanel(t, benchAhead(func(p *alarms.PlacePicture) { p.Points[0].Value = 25.5 }))
	if len(c.Ahead.Crossings) != 0 {
		t.Errorf("a limit that is passed is marked: %+v", c.Ahead.Crossings)
	}
	c, _ = aheadPanel(t, benchAhead(func(p *alarms.PlacePicture) {
		l := p.Outlook.Limits[0]
		l.Limit, l.Level = 26, alarms.Inner
		p.Outlook.Limits = append(p.Outlook.Limits, l)
	}))
	if len(c.Ahead.Crossings) != 2 || len(c.Ahead.Crossings[0].Notches) != 2 || c.Ahead.Crossings[1].Notches != nil || !c.Ahead.Crossings[1].Inner {
		t.Errorf("two limits beside each other: got %+v, want two marks, and words at the first", c.Ahead.Crossings)
	}
}

// What is ahead has its own labels, and those of the past make room for them.
func TestLabelsAheadKeepTheirRoom(t *testing.T) {
	whole := report.Span{From: scenes.Noon.Add(-24 * time.Hour), To: scenes.Noon}
	past, ahead := TimeLabelsAhead(words.New(alarms.Words{}), whole)
	if len(ahead) != 3 || ahead[0].Text != "now" || ahead[0].X != PastShare || ahead[1].Text != "14:02" || ahead[1].X != 100 || ahead[1].Anchor != "end" {
		t.Errorf("ahead: got %+v", ahead)
	}
	shown := 0
	for _, p := range past {
		if p.X > PastShare {
			t.Errorf("%+v lies beyond now", p)
		}
		if p.Text == "12:00" && !p.Minor {
			t.Errorf("%+v lies on now", p)
		}
		if p.Text != "" {
			shown++
		}
	}
	if shown < 4 {
		t.Errorf("only %d labels of the past are left: %+v", shown, past)
	}
}
