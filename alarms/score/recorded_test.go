package score_test

import (
	"bufio"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/score"
)

// recorded are houses with real readings, which lie beside the checkout: the
// column of the temperature inside, and the limits that their weeks are counted
// by. What was chosen of the outlook (its features, memories, the likelihood from
// which it warns) was chosen on the odd weeks and on simulated houses; the even
// weeks were seen while faults were mended, and nothing was chosen by them.
var recorded = []struct {
	file, layout string
	column       int
	fahrenheit   bool
	limits       []kept
}{
	{"fan-house-summer.csv", time.DateTime, 1, false, []kept{{32, 0, 18, 1}, {34, 0, 8, 0.55}, {35, 0, 3, 0.35}}},
	{"winter-house.csv", "2006-01-02 15:04", 1, false, []kept{{26, 0, 5, 1}}},
	{"shutter-house-f.csv", "1/2/2006 15:04", 1, true, []kept{{25.5, 0, 20, 1.6}}},
	{"desert-house.csv", "1/2/06 15:04", 1, false, []kept{{26.25, 0, 13, 1.3}, {0, 16.5, 7, 1.75}}},
}

// kept is a limit, and what a later version must keep of how it is warned of: how
// many times a quarter of an hour before, and at most how often a week in vain.
type kept struct {
	high, low float64
	inTime    int
	vain      float64
}

type row struct {
	at time.Time
	v  float64
}

func rows(t *testing.T, name, layout string, column int, fahrenheit bool) (out []row) {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "data", name))
	if err != nil {
		t.Skipf("the recorded house %s is not beside this checkout: %v", name, err)
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		cells := strings.Split(lines.Text(), ",")
		at, err := time.Parse(layout, cells[0])
		v, bad := strconv.ParseFloat(cells[min(column, len(cells)-1)], 64)
		if err != nil || bad != nil || len(out) > 0 && !at.After(out[len(out)-1].at) {
			continue // header, missing and repeated
		}
		if fahrenheit {
			v = (v - 32) / 1.8
		}
		out = append(out, row{at, v})
	}
	return out
}

func TestOutlookOnRecordedHouses(t *testing.T) {
	var days allDays
	for _, house := range recorded {
		t.Run(house.file, func(t *testing.T) {
			all := rows(t, house.file, house.layout, house.column, house.fahrenheit)
			for i, limit := range house.limits {
				if o := outlookOn(t, all, limit); i == 0 {
					days.add(t, house.file, all[0].at, o.Days)
				}
			}
		})
	}
	days.judge(t)
}

func outlookOn(t *testing.T, all []row, limit kept) score.Outlook {
	limits := alarms.Limits{High: alarms.At(limit.high)}
	if limit.low != 0 {
		limits = alarms.Limits{Low: alarms.At(limit.low)}
	}
	p := alarms.Plan{Houses: []alarms.House{{ID: "h", Places: []alarms.Place{{ID: "p", Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: limits}},
		Probes: []alarms.Probe{{ID: "a", Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}}}}}}
	from, to := all[0].at, all[len(all)-1].at
	o := score.NewOutlooks(p, from, to)
	for _, r := range all {
		o.Reading(r.at, "a", alarms.Temperature, r.v)
	}
	sum := o.Sum()[0]
	ahead := sum.Limits[0]
	for _, r := range ahead.Records {
		for i, weeks := range []string{"all", "odd", "even"} {
			y := r.Tally(score.Weeks(i), from, to)
			t.Logf("%5.2f %-4s %-23s %2d reached, %2d told 15 min before, median %3.0f, tenth %3.0f min, %5.2f false a week", limit.high+limit.low,
				weeks, r.Who, y.Crossings, y.InTime, y.Median.Minutes(), y.Tenth.Minutes(), y.FalseAWeek())
		}
	}
	for _, b := range ahead.Bins {
		t.Logf("      said %3.0f %%, came %3.0f %% of %d", 100*b.Said/float64(max(1, b.Of)), 100*float64(b.Came)/float64(max(1, b.Of)), b.Of)
	}
	if y := ahead.Records[0].Tally(score.AllWeeks, from, to); y.InTime < limit.inTime || y.FalseAWeek() > limit.vain {
		t.Errorf("at %v: %d told 15 min before, %.2f false a week; want %d or more, %.2f or less", limit.high+limit.low, y.InTime, y.FalseAWeek(), limit.inTime, limit.vain)
	}
	return sum
}
