package scenes

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/outlook"
)

// rising is what is expected of a bench at 31.3 °C that will likely pass 33 °C, in
// a house whose fan has failed before.
func rising(now time.Time) *alarms.OutlookPicture {
	min := time.Minute
	still := []float64{31, 31.1, 31.2, 31.3, 31.3, 31.3, 31.3}
	return &alarms.OutlookPicture{At: now.Add(-20 * time.Second),
		Sentence: "Until 14:01 it is expected to stay between 31 and 36 °C (8 in 10). 33.0 °C is likely to be reached (8 in 10), then at about 12:35 (12:20 to 13:20). 37.0 °C may be reached (1 in 10), then at about 13:45 (13:20 to 14:00).",
		Ahead: []alarms.AheadPicture{
			{In: 15 * min, Lowest: still, Highest: []float64{31.3, 31.4, 31.7, 31.9, 32.1, 32.4, 32.6}},
			{In: 30 * min, Lowest: []float64{30.7, 30.9, 31.1, 31.3, 31.3, 31.3, 31.3}, Highest: []float64{31.4, 31.6, 32.2, 32.6, 33.0, 33.5, 33.8}},
			{In: 60 * min, Lowest: []float64{30.3, 30.6, 31.0, 31.3, 31.3, 31.3, 31.3}, Highest: []float64{31.6, 32.1, 32.9, 33.5, 34.1, 35.0, 35.5}},
			{In: 120 * min, Lowest: []float64{29.5, 30.1, 30.9, 31.2, 31.3, 31.3, 31.3}, Highest: []float64{31.9, 32.4, 33.5, 34.3, 35.1, 36.6, 37.4}}},
		Limits: []alarms.LimitOutlook{
			{Side: alarms.HighSide, Level: alarms.Outer, Limit: 33, Likely: []float64{0.02, 0.28, 0.66, 0.78}, Soon: 18 * min, Middle: 33 * min, Late: 78 * min, Warned: true},
			{Side: alarms.HighSide, Level: alarms.Inner, Limit: 37, Likely: []float64{0, 0, 0.02, 0.1}, Soon: 78 * min, Middle: 103 * min, Late: 118 * min},
			{Side: alarms.LowSide, Level: alarms.Outer, Limit: 10, Likely: []float64{0, 0, 0, 0}}},
		Days: []alarms.DayAhead{{Side: alarms.HighSide, Value: 34.6, From: 33.1, To: 36.8, At: now.Add(100 * min), Reaches: new(33.0),
			Sentence: "Today likely up to 35 °C at about 13:40 (33 to 37 °C)."}},
		Record: alarms.WarningRecord{Right: 12, False: 2, Spare: 48 * min, Sentence: "Of 14 warnings in the last 30 days 12 came true, with 48 min to spare."},
		Drives: []alarms.DriveFailure{
			{Drive: "exhaust", Side: alarms.HighSide, Limit: 37, Known: true, Soon: 9 * min, Middle: 14 * min, Late: 22 * min,
				Sentence: "If the exhaust fan fails now: 15 min to 37.0 °C (9 min to 20 min). A guess for plants, not for people or animals; see to it at once if it fails."},
			{Drive: "loop", Side: alarms.LowSide, Limit: 5, Known: true, Holds: true, Soon: 10 * time.Hour,
				Sentence: "If the loop fan fails now, 5.0 °C is likely not reached by sunrise. A guess for plants, not for people or animals; see to it at once if it fails."}},
		Figure: []alarms.FigurePicture{
			{Name: alarms.FigureWarming, Unit: "K/h", Value: 14, From: 11, To: 18, Sentence: "In full sun, with nothing running, it warms by 14.0 °C an hour at first (11.0 °C to 18.0 °C)."},
			{Name: alarms.FigureExchange, Unit: "1/h", Value: 38, From: 29, To: 47, Sentence: "The exhaust fan carries off as much warmth as 38 air changes an hour would (29 to 47); what leaks without it cannot be told from what goes through the cover."}},
	}
}

// Falling is what is expected of a bench at 6.2 °C that may fall below 5 °C.
func Falling(now time.Time) *alarms.OutlookPicture {
	min := time.Minute
	top := []float64{6.2, 6.2, 6.2, 6.2, 6.25, 6.3, 6.4}
	return &alarms.OutlookPicture{At: now,
		Sentence: "Until 14:02 it is expected to stay between 3 and 7 °C (8 in 10). 5.0 °C may be reached (5 in 10), then at about 13:20 (12:40 to 14:00).",
		Ahead: []alarms.AheadPicture{
			{In: 15 * min, Highest: top, Lowest: []float64{5.5, 5.6, 5.8, 5.9, 6.0, 6.1, 6.2}},
			{In: 30 * min, Highest: top, Lowest: []float64{5.0, 5.2, 5.5, 5.7, 5.8, 6.0, 6.2}},
			{In: 60 * min, Highest: top, Lowest: []float64{4.2, 4.4, 5.0, 5.3, 5.5, 5.8, 6.1}},
			{In: 120 * min, Highest: top, Lowest: []float64{3.0, 3.4, 4.4, 5.0, 5.3, 5.7, 6.0}}},
		Limits: []alarms.LimitOutlook{{Side: alarms.LowSide, Level: alarms.Outer, Limit: 5, Likely: []float64{0, 0.04, 0.3, 0.5}, Soon: 38 * min, Middle: 78 * min, Late: 118 * min}},
		Days: []alarms.DayAhead{{Side: alarms.LowSide, Value: 3.4, From: 2.1, To: 4.8, At: now.Add(9 * time.Hour), Reaches: new(5.0),
			Sentence: "Tonight, until sunrise, likely down to 3 °C at about 05:10 (2 to 5 °C)."}},
		Drives: []alarms.DriveFailure{{Drive: "exhaust", Side: alarms.HighSide, Limit: 37, Sentence: "What comes if the exhaust fan fails is not known yet: it must first have been seen running and standing often enough, in the sun."}},
	}
}

// TooNew is a place of which nothing can be said yet.
func TooNew() *alarms.OutlookPicture {
	return &alarms.OutlookPicture{Lacks: outlook.Days, Sentence: "Nothing can be said yet of the next two hours: two days of readings are needed first."}
}
