package metrics

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/outlook"
)

// expected is what a bench will likely do, and what its fan means for it.
func expected(at time.Time) *alarms.OutlookPicture {
	return &alarms.OutlookPicture{At: at,
		Ahead: []alarms.AheadPicture{
			{In: 15 * time.Minute, Highest: []float64{1, 2, 3, 4, 5, 6, 7}, Lowest: []float64{1, 2, 3, 4, 5, 6, 7}},
			{In: time.Hour, Highest: []float64{31.2, 31.5, 32, 33, 34, 35.5, 36}, Lowest: []float64{29, 29.5, 30, 30.5, 31, 31.2, 31.2}}},
		Limits: []alarms.LimitOutlook{
			{Side: alarms.HighSide, Level: alarms.Outer, Limit: 33, Likely: []float64{0.1, 0.4, 0.6, 0.75}},
			{Side: alarms.HighSide, Level: alarms.Inner, Limit: 37, Likely: []float64{0, 0, 0, 0.125}},
			{Side: alarms.LowSide, Level: alarms.Outer, Limit: 8}},
		Record: alarms.WarningRecord{Right: 12, False: 2, Spare: 48 * time.Minute},
		Drives: []alarms.DriveFailure{
			{Drive: "exhaust", Side: alarms.HighSide, Limit: 37.5, Known: true, Soon: 9 * time.Minute, Middle: 14 * time.Minute, Late: 22 * time.Minute},
			{Drive: "loop", Side: alarms.LowSide, Limit: 5, Known: true, Holds: true, Soon: time.Hour},
			{Drive: "heater", Side: alarms.LowSide, Limit: 5}}}
}

// What is not known, or was expected long ago, is not there. Time in hand is known, or
// not, for itself.
func TestOutlookIsOfNow(t *testing.T) {
	of := func(tune func(*alarms.OutlookPicture)) string {
		p := thimbleGarth()
		tune(p.Houses[0].Places[0].Outlook)
		text := scrapeText(t, newMetrics(t, func() alarms.Picture { return p }, noon))
		var kept []string
		for line := range strings.Lines(text) {
			if strings.HasPrefix(line, "telltale_outlook") || strings.HasPrefix(line, "telltale_drive_time") {
				kept = append(kept, line)
			}
		}
		return strings.Join(kept, "")
	}
	stays := "telltale_drive_time_in_hand_seconds{drive=\"exhaust\",house=\"long-house\",limit_celsius=\"37.5\",place=\"bench\",share=\"0.1\"} 540\n" +
		"telltale_drive_time_in_hand_seconds{drive=\"exhaust\",house=\"long-house\",limit_celsius=\"37.5\",place=\"bench\",share=\"0.5\"} 840\n" +
		"telltale_outlook_warning_spare_seconds{house=\"long-house\",place=\"bench\"} 2880\n" +
		"telltale_outlook_warnings{came=\"false\",house=\"long-house\",place=\"bench\"} 2\n" +
		"telltale_outlook_warnings{came=\"true\",house=\"long-house\",place=\"bench\"} 12\n"
	for name, tune := range map[string]func(*alarms.OutlookPicture){
		"lacking":  func(o *alarms.OutlookPicture) { o.Lacks = outlook.Hour },
		"an old":   func(o *alarms.OutlookPicture) { o.At = noon.Add(-17 * time.Minute) },
		"a future": func(o *alarms.OutlookPicture) { o.At = noon.Add(17 * time.Minute) },
	} {
		if got := of(tune); got != stays {
			t.Errorf("%s look ahead: got\n%swant time in hand and the record alone", name, got)
		}
	}
	if got := of(func(*alarms.OutlookPicture) {}); strings.Count(got, "\n") != 13 {
		t.Errorf("got %d lines, want 2 likelihoods, 6 temperatures, 2 times in hand and 3 of the record:\n%s", strings.Count(got, "\n"), got)
	}
}
