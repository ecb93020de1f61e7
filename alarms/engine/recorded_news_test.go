package engine_test

import (
	"testing"
	"time"

	"telltale/alarms"
)

// mostNews is how many pieces of news the limits of one place may make of a day,
// not counting what only tells again.
const mostNews = 12

// newsOf counts the pieces of news of limits by day.
func newsOf(all []alarms.Transition) map[string]int {
	n := map[string]int{}
	for _, t := range all {
		if t.Reason.Rule == alarms.RuleLimit && t.Told() && !t.Repeats() {
			n[t.Due.Format(time.DateOnly)]++
		}
	}
	return n
}

// oneProbe is a house with one probe and limits for its temperature.
func oneProbe(limits alarms.Limits, every time.Duration) alarms.Plan {
	return alarms.Plan{Houses: []alarms.House{{ID: "house", Latitude: 40, Longitude: -80, Places: []alarms.Place{{ID: "inside",
		Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: limits}},
		Probes: []alarms.Probe{{ID: "inside-1", Every: every, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}},
	}}}}}
}

// TestNoDayOfARecordedHouseIsAStormOfNews: a value that swings about its limit
// all day is told of a few times, not at every turn. Fan house and winter house
// are those that the figures of swing.go were chosen on.
func TestNoDayOfARecordedHouseIsAStormOfNews(t *testing.T) {
	limits := func(lowLow, low, high, highHigh float64) alarms.Limits {
		return alarms.Limits{LowLow: alarms.At(lowLow), Low: alarms.At(low), High: alarms.At(high), HighHigh: alarms.At(highHigh)}
	}
	for _, h := range []struct {
		name, file, layout, cell string
		limits                   alarms.Limits
		every                    time.Duration
		fahrenheit               bool
	}{
		{"fan house", "fan-house-summer.csv", time.DateTime, "inside_c", limits(10, 17, 32, 36), 5 * time.Minute, false},
		{"winter house", "winter-house.csv", "2006-01-02 15:04", "probe_a_c", limits(5, 9, 26, 30), 5 * time.Minute, false},
		{"shutter house", "shutter-house-f.csv", "1/2/2006 15:04", "Temp", limits(12, 16, 27, 31), 5 * time.Minute, true},
		{"desert house", "desert-house.csv", "1/2/06 15:04", "GH A Air Temp", limits(10, 14, 28, 32), 10 * time.Minute, false},
	} {
		t.Run(h.name, func(t *testing.T) {
			var rows []row
			for _, r := range recorded(t, h.file, h.layout) {
				if len(rows) > 0 && !r.at.After(rows[len(rows)-1].at) {
					continue // a stamp that came before
				}
				if v, ok := r.cells[h.cell]; ok && h.fahrenheit {
					r.cells[h.cell] = (v - 32) * 5 / 9
				}
				rows = append(rows, r)
			}
			all := replay(t, oneProbe(h.limits, h.every), rows, []column{{h.cell, "inside-1", alarms.Temperature}}, nil)
			news, worst, sum := newsOf(all), "", 0
			for day, n := range news {
				sum += n
				if n > news[worst] || n == news[worst] && day < worst {
					worst = day
				}
			}
			t.Logf("%d pieces of news on %d days, %d on the worst, %s", sum, len(news), news[worst], worst)
			if news[worst] > mostNews || sum == 0 {
				t.Errorf("%d pieces of news on %s, want at most %d", news[worst], worst, mostNews)
			}
		})
	}
}
