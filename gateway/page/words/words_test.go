package words

import (
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

var noon = time.Date(2026, 6, 21, 12, 2, 10, 0, time.UTC)

func TestNumbers(t *testing.T) {
	c, f := New(alarms.Words{}), New(alarms.Words{Fahrenheit: true})
	for _, x := range []struct{ got, want string }{
		// Fixed points of the scales: water freezes at 32 °F and boils at
		// 212 °F, and both scales meet at -40.
		{f.Value(alarms.Temperature, 0), "32.0 °F"}, {f.Value(alarms.Temperature, 100), "212.0 °F"},
		{f.Value(alarms.Surface, -40), "−40.0 °F"}, {c.Value(alarms.Soil, -40), "−40.0 °C"},
		{f.Difference(alarms.Temperature, -10), "18.0 °F"}, {f.Difference(alarms.DewMargin, 1), "1.8 °F"},
		{f.Value(alarms.VPD, 1.204), "1.20 kPa"}, {f.Value(alarms.Humidity, 70.4), "70 %"},
		{c.Value(alarms.Temperature, -0.04), "0.0 °C"}, {c.Difference(alarms.Temperature, 0.01), "less than 0.1 °C"},
		{c.Difference(alarms.Humidity, 0.2), "less than 1 %"}, {c.Difference(alarms.Humidity, 0), "0 %"},
		{c.limit(alarms.Temperature, 32), "32"}, {c.limit(alarms.Temperature, 12.5), "12.5"}, {c.limit(alarms.Humidity, 80), "80"},
		{c.Value(alarms.Contact, 1), "closed"}, {c.Value(alarms.Temperature, math.NaN()), "– °C"},
	} {
		if got := strings.ReplaceAll(x.got, NoBreak, " "); got != x.want {
			t.Errorf("got %q, want %q", got, x.want)
		}
	}
}

// What is drawn and what is written must be in the same unit.
func TestDrawingAgreesWithWords(t *testing.T) {
	for _, w := range []Words{New(alarms.Words{}), New(alarms.Words{Fahrenheit: true})} {
		for _, q := range alarms.Quantities {
			if q == alarms.Contact {
				continue
			}
			for _, v := range []float64{-12.5, 0, 23.75, 101300} {
				number, _ := w.Parts(q, v)
				said, err := strconv.ParseFloat(strings.Replace(number, "−", "-", 1), 64)
				if drawn := w.Shown(q, v); err != nil || math.Abs(drawn-said) > 0.51 {
					t.Errorf("%s %v: written as %s, drawn as %v", q, v, number, drawn)
				}
			}
			number, _, _ := strings.Cut(w.Core.Distance(q, 2.5), " ")
			said, err := strconv.ParseFloat(number, 64)
			if drawn := w.ShownDifference(q, 2.5); err != nil || math.Abs(drawn-said) > 0.51 {
				t.Errorf("%s: a difference of 2.5 is written as %s, drawn as %v", q, number, drawn)
			}
		}
	}
}

func TestTimes(t *testing.T) {
	w := New(alarms.Words{Zone: time.FixedZone("", 3600)})
	for back, want := range map[time.Duration]struct{ age, clock string }{
		0: {"just now", "13:02"}, 24 * time.Second: {"20 s ago", "13:01"}, 90 * time.Second: {"1 min ago", "13:00"},
		3*time.Hour + 5*time.Minute: {"3 h 5 min ago", "09:57"}, 14 * time.Hour: {"14 h ago", "Sat 23:02"},
		80 * time.Hour: {"3 days ago", "Thu 05:02"}, 60 * 24 * time.Hour: {"60 days ago", "22 Apr 13:02"},
		300 * 24 * time.Hour: {"300 days ago", "25 Aug 2025 13:02"},
	} {
		at := noon.Add(-back)
		if got := (Words{}).Age(at, noon); got != want.age {
			t.Errorf("age of %v: got %q, want %q", back, got, want.age)
		}
		if got := w.Clock(at, noon); got != want.clock {
			t.Errorf("clock of %v: got %q, want %q", back, got, want.clock)
		}
	}
	if (Words{}).Age(time.Time{}, noon) != "never" || (Words{}).Age(noon.Add(time.Minute), noon) != "just now" {
		t.Error("no time, or a time to come, must not get an age")
	}
}

func TestNearness(t *testing.T) {
	w := New(alarms.Words{})
	point := func(v float64, l alarms.Limits, level alarms.Level, side alarms.Side) alarms.PointPicture {
		return alarms.PointPicture{Quantity: alarms.Temperature, HasValue: true, Live: true, Value: v, Limits: l, Level: level, Side: side}
	}
	all := alarms.Limits{LowLow: alarms.At(8), Low: alarms.At(12), High: alarms.At(32), HighHigh: alarms.At(38)}
	for _, x := range []struct {
		p           alarms.PointPicture
		mark, words string
	}{
		{point(20, all, alarms.Within, 0), "well", "in band 12 to 32 °C"},
		{point(31.2, all, alarms.Within, 0), "near", "in band 12 to 32 °C, only 0.8 °C below the high limit"},
		{point(12.3, all, alarms.Within, 0), "near", "in band 12 to 32 °C, only 0.3 °C above the low limit"},
		{point(32, all, alarms.Within, 0), "near", "in band 12 to 32 °C, on the high limit"},
		{point(33, all, alarms.Outer, alarms.HighSide), "beyond", "1.0 °C above the high limit 32 °C"},
		{point(11, all, alarms.Outer, alarms.LowSide), "beyond", "1.0 °C below the low limit 12 °C"},
		{point(7.5, all, alarms.Inner, alarms.LowSide), "far-beyond", "0.5 °C below the limit 8 °C"},
		{point(31.8, all, alarms.Outer, alarms.HighSide), "beyond", "just back inside the high limit 32 °C, not settled yet"},
		{point(20, alarms.Limits{}, alarms.Within, 0), "none", "no band set"},
		{point(20, alarms.Limits{LowLow: alarms.At(5)}, alarms.Within, 0), "well", "in band from 5 °C"},
	} {
		if got := w.Stand(x.p); got.Mark != x.mark || strings.ReplaceAll(got.Words, NoBreak, " ") != x.words {
			t.Errorf("%v: got %+v, want %s: %s", x.p.Value, got, x.mark, x.words)
		}
	}
	old := point(33, all, alarms.Outer, alarms.HighSide)
	old.Live = false
	if got := w.Stand(old); got.Mark != "old" || got.Words != "band 12 to 32"+NoBreak+"°C" {
		t.Errorf("an old value must not be judged: got %+v", got)
	}
}
