package say

import (
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/outlook"
)

// benchAhead is a bench on its way to 35 °C.
func benchAhead(at time.Time) alarms.PlacePicture {
	return alarms.PlacePicture{ID: "bench", Points: []alarms.PointPicture{{Quantity: alarms.Temperature, HasValue: true, Live: true, Value: 31.2}},
		Outlook: &alarms.OutlookPicture{At: at,
			Ahead: []alarms.AheadPicture{{In: 2 * time.Hour,
				Lowest: []float64{30.1, 31.04, 31.2, 31.2, 31.2, 31.2, 31.2}, Highest: []float64{31.5, 32, 34, 35.2, 35.6, 35.9, 36.2}}},
			Limits: []alarms.LimitOutlook{
				{Side: alarms.HighSide, Limit: 35, Likely: []float64{0, 0.1, 0.3, 0.68}, Soon: 18 * time.Minute, Middle: 33 * time.Minute, Late: 80 * time.Minute},
				{Side: alarms.HighSide, Limit: 38, Likely: []float64{0, 0, 0.01, 0.04}},
				{Side: alarms.LowSide, Limit: 5, Likely: []float64{0, 0, 0, 0}}},
			Record: alarms.WarningRecord{Right: 12, False: 2, Spare: 48*time.Minute + 10*time.Second}}}
}

func TestExpectedInWords(t *testing.T) {
	at := time.Date(2026, 6, 21, 13, 40, 0, 0, time.UTC)
	for _, tt := range []struct {
		name string
		in   Locale
		tune func(*alarms.PlacePicture)
		want string
	}{
		{"as it is", Locale{}, func(*alarms.PlacePicture) {},
			"Until 15:40 it is expected to stay between 31 and 36 °C (8 in 10). 35.0 °C is likely to be reached (7 in 10), then at about 14:15 (14:00 to 15:00)."},
		{"Fahrenheit and 12 hours", Locale{Fahrenheit: true, Hours12: true}, func(*alarms.PlacePicture) {},
			"Until 3:40\u00a0pm it is expected to stay between 88 and 97 °F (8 in 10). 95.0 °F is likely to be reached (7 in 10), then at about 2:15\u00a0pm (2:00\u00a0pm to 3:00\u00a0pm)."},
		{"rather not", Locale{Decimal: ","}, func(p *alarms.PlacePicture) { p.Outlook.Limits[0].Likely = []float64{0.1, 0.1, 0.1, 0.23} },
			"Until 15:40 it is expected to stay between 31 and 36 °C (8 in 10). 35,0 °C may be reached (2 in 10), then at about 14:15 (14:00 to 15:00)."},
		{"as it is now", Locale{}, func(p *alarms.PlacePicture) {
			p.Outlook.Ahead[0].Lowest[1], p.Outlook.Ahead[0].Highest[5], p.Outlook.Limits = 19.8, 20.2, nil
		}, "Until 15:40 it is expected to stay between 19 and 21 °C (8 in 10)."},
		{"no limit", Locale{}, func(p *alarms.PlacePicture) { p.Outlook.Limits = p.Outlook.Limits[1:] },
			"Until 15:40 it is expected to stay between 31 and 36 °C (8 in 10). No limit is likely to be reached."},
		{"beyond it already", Locale{}, func(p *alarms.PlacePicture) { p.Points[0].Value, p.Outlook.Limits = 35.3, p.Outlook.Limits[:1] },
			"Until 15:40 it is expected to stay between 31 and 36 °C (8 in 10)."},
		{"too new", Locale{}, func(p *alarms.PlacePicture) { p.Outlook.Lacks = outlook.Days },
			"Nothing can be said yet of the next two hours: two days of readings are needed first."},
		{"unknown why", Locale{}, func(p *alarms.PlacePicture) { p.Outlook.Lacks = 99 }, "Nothing can be said yet of the next two hours."},
	} {
		p := benchAhead(at)
		kept := p.Outlook
		tt.tune(&p)
		expectations{tt.in}.draw(&p, at)
		if got := p.Outlook.Sentence; got != tt.want {
			t.Errorf("%s:\ngot  %q\nwant %q", tt.name, got, tt.want)
		}
		if kept.Sentence != "" {
			t.Errorf("%s: a picture that is shared was written into", tt.name)
		}
	}
}

func TestRecordInWords(t *testing.T) {
	for _, tt := range []struct {
		r    alarms.WarningRecord
		want string
	}{
		{alarms.WarningRecord{}, ""},
		{alarms.WarningRecord{Right: 1, Spare: 48 * time.Minute}, "The one warning of the last 30 days came true, with 48 min to spare."},
		{alarms.WarningRecord{False: 1}, "The one warning of the last 30 days did not come true."},
		{alarms.WarningRecord{False: 3}, "Of 3 warnings in the last 30 days none came true."},
		{alarms.WarningRecord{Right: 12, False: 2, Spare: 48 * time.Minute}, "Of 14 warnings in the last 30 days 12 came true, with 48 min to spare."},
	} {
		if got := (expectations{}).record(tt.r); got != tt.want {
			t.Errorf("got %q, want %q", got, tt.want)
		}
	}
	for p, want := range map[float64]string{0: "less than 1 in 10", 0.1: "1 in 10", 0.68: "7 in 10", 0.94: "9 in 10", 0.96: "more than 9 in 10"} {
		if got := (Locale{}).InTen(p); got != want {
			t.Errorf("%g: got %q, want %q", p, got, want)
		}
	}
}

// What is too near a thermostat's set point is said in the season and the part of the day
// that is now, and not where nobody wants to be warned.
func TestTooNearInWords(t *testing.T) {
	at := time.Date(2026, 6, 21, 13, 40, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		tune func(*alarms.House)
		want string
	}{
		"hot":    {func(*alarms.House) {}, " No warning could come in time before 32.0 °C: the dial by the door, with its tolerance, may switch on only at 32.5 °C. Set it lower, or the limit higher."},
		"far":    {func(h *alarms.House) { h.Controls[0].Stages[0].SetPoint = 30 }, ""},
		"silent": {func(h *alarms.House) { h.Places[0].NoEarlyWarning = true }, ""},
		"cold": {func(h *alarms.House) {
			h.Controls[0].Stages[0] = alarms.Stage{Name: "cold", Mode: alarms.Heating, SetPoint: 6, Tolerance: 1.5}
			h.Places[0].Bands[0].Limits = alarms.Limits{Low: alarms.At(5)}
		}, " No warning could come in time before 5.0 °C: the dial by the door, with its tolerance, may switch on only at 4.5 °C. Set it higher, or the limit lower."},
		"not in summer": {func(h *alarms.House) { h.Controls[0].Stages[0].Seasons = []alarms.Season{alarms.SeasonWinter} }, ""},
	} {
		h := alarms.House{ID: "long-house", Places: []alarms.Place{{ID: "bench", Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(32)}}}}},
			Controls: []alarms.Control{{ID: "dial", Name: "dial by the door", Place: "bench", Stages: []alarms.Stage{{Name: "hot", Mode: alarms.Cooling, SetPoint: 31, Tolerance: 1.5}}}}}
		c.tune(&h)
		plan := alarms.Plan{Houses: []alarms.House{h}}
		pic := alarms.Picture{At: at, Houses: []alarms.HousePicture{{ID: "long-house", Season: alarms.SeasonOpen, Daypart: alarms.Day,
			Places: []alarms.PlacePicture{{ID: "bench", Outlook: &alarms.OutlookPicture{Lacks: outlook.Days}}}}}}
		got := Picture(&plan, pic, Locale{}).Houses[0].Places[0].Outlook.Sentence
		if want := "Nothing can be said yet of the next two hours: two days of readings are needed first." + c.want; got != want {
			t.Errorf("%s:\ngot  %q\nwant %q", name, got, want)
		}
	}
}
