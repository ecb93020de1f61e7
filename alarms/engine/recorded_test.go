package engine_test

import (
	"encoding/csv"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/gateway/trials"
)

// row is one line of a recorded house: a time and the cells that are not empty.
type row struct {
	at    time.Time
	cells map[string]float64
}

// recorded reads a recorded house, kept beside the checkout; the test skips
// where it is missing.
func recorded(t *testing.T, file, layout string) []row {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "data", file))
	if err != nil {
		t.Skipf("the recorded house %s is not beside this checkout: %v", file, err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []row
	for _, l := range lines[1:] {
		if l[0] == "" || l[0][0] < '0' || l[0][0] > '9' { // no reading: a sum, or a remark
			continue
		}
		at, err := time.Parse(layout, l[0])
		if err != nil {
			t.Fatal(err)
		}
		r := row{at: at, cells: map[string]float64{}}
		for i, c := range l[1:] {
			if v, err := strconv.ParseFloat(c, 64); err == nil {
				r.cells[lines[0][i+1]] = v
			}
		}
		rows = append(rows, r)
	}
	return rows
}

// column says which cell of a row is what of which probe.
type column struct {
	cell     string
	probe    alarms.ProbeID
	quantity alarms.Quantity
}

// beyond is when an alarm's condition was first seen to hold, told or not.
type beyond map[alarms.AlarmID][]time.Time

// look adds those that hold in p and did not in on, which it brings up to date.
func (b beyond) look(p alarms.Picture, on map[alarms.AlarmID]bool) {
	now := map[alarms.AlarmID]bool{}
	for _, a := range p.Alarms {
		if now[a.ID] = a.Active; a.Active && !on[a.ID] {
			b[a.ID] = append(b[a.ID], p.At)
		}
	}
	clear(on)
	maps.Copy(on, now)
}

// replay steps through rows; seen, unless nil, is filled in.
func replay(t *testing.T, p alarms.Plan, rows []row, columns []column, seen beyond) []alarms.Transition {
	t.Helper()
	e, err := engine.New(p)
	if err != nil {
		t.Fatal(err)
	}
	var all []alarms.Transition
	on := map[alarms.AlarmID]bool{}
	for _, r := range rows {
		for _, c := range columns {
			if v, ok := r.cells[c.cell]; ok {
				all = append(all, e.Step(alarms.Input{At: r.at, Kind: alarms.ReadingIn, Probe: c.probe, Quantity: c.quantity, Value: v})...)
			}
		}
		if seen != nil {
			seen.look(e.Picture(), on)
		}
	}
	return all
}

// excursion is a run of readings beyond a limit, up to the reading that is
// back inside by the deadband and stays so for the clear delay.
type excursion struct{ from, to time.Time }

// scan finds excursions of one cell above (sign 1) or below (sign -1) limit,
// in the plainest way, sharing nothing with the core.
func scan(rows []row, cell string, sign, limit, deadband float64) []excursion {
	var found []excursion
	open := false
	for _, r := range rows {
		v, ok := r.cells[cell]
		if !ok {
			continue
		}
		switch beyond := sign*v > sign*limit; {
		case beyond && !open:
			found = append(found, excursion{from: r.at})
			open = true
		case open && sign*v <= sign*limit-deadband:
			found[len(found)-1].to = r.at
			open = false
		}
	}
	return found
}

func fanHouse() alarms.Plan {
	return alarms.Plan{Houses: []alarms.House{{
		ID: "fan-house", Latitude: 40.8, Longitude: -81.9,
		Places: []alarms.Place{{ID: "inside",
			Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{
				LowLow: alarms.At(10), Low: alarms.At(17), High: alarms.At(32), HighHigh: alarms.At(36)}}},
			Probes: []alarms.Probe{{ID: "inside-1", Every: 5 * time.Minute,
				Streams: []alarms.Stream{{Quantity: alarms.Temperature}, {Quantity: alarms.Humidity}}}}},
			{ID: "outside", Probes: []alarms.Probe{{ID: "outside-1",
				Streams: []alarms.Stream{{Quantity: alarms.Temperature}, {Quantity: alarms.Humidity}}}}},
		}}}}
}

var fanColumns = []column{
	{"inside_c", "inside-1", alarms.Temperature}, {"inside_rh_pct", "inside-1", alarms.Humidity},
	{"outside_c", "outside-1", alarms.Temperature}, {"outside_rh_pct", "outside-1", alarms.Humidity},
}

// raises lists when an alarm was raised.
func raises(all []alarms.Transition, id alarms.AlarmID) []time.Time {
	var when []time.Time
	for _, t := range all {
		if t.Alarm == id && t.Move == alarms.Raise {
			when = append(when, t.Due)
		}
	}
	return when
}

// sameExcursions demands that each excursion is seen, and raised a delay after its
// first reading unless the alarm stood already, because the value swings. It
// returns of how many that is not so, and how many were raised besides.
func sameExcursions(t *testing.T, all []alarms.Transition, seen beyond, id alarms.AlarmID, want []excursion) (wrong int) {
	t.Helper()
	got, raised := seen[id], raises(all, id)
	if len(got) != len(want) || len(want) == 0 {
		t.Errorf("%s held %d times, the plain scan finds %d excursions", id, len(got), len(want))
		return max(len(want), len(got))
	}
	told := 0
	for i, x := range want {
		if got[i].Before(x.from) || i+1 < len(want) && !got[i].Before(want[i+1].from) {
			t.Errorf("%s: excursion %d was seen at %v, it began at %v", id, i, got[i], x.from)
			wrong++
		}
		switch due := x.from.Add(time.Minute); {
		case slices.ContainsFunc(raised, due.Equal):
			told++
		case !stood(all, id, x.from):
			t.Errorf("%s: nobody was told of excursion %d, which began at %v", id, i, x.from)
			wrong++
		}
	}
	if told != len(raised) {
		t.Errorf("%s was raised %d times, %d of them at an excursion", id, len(raised), told)
	}
	t.Logf("%s: %d excursions, %d raised, in the others the alarm stood", id, len(want), told)
	return wrong + len(raised) - told
}

// stood reports whether an alarm was on just before a moment.
func stood(all []alarms.Transition, id alarms.AlarmID, at time.Time) bool {
	on := false
	for _, t := range all {
		if t.Alarm == id && t.Due.Before(at) {
			on = t.To.Active()
		}
	}
	return on
}

// gaps counts how often a cell was missing for longer than d.
func gaps(rows []row, cell string, d time.Duration) int {
	n := 0
	last := time.Time{}
	for _, r := range rows {
		if _, ok := r.cells[cell]; !ok {
			continue
		}
		if !last.IsZero() && r.at.Sub(last) > d {
			n++
		}
		last = r.at
	}
	return n
}

func TestEveryExcursionOfTheRecordedSummerIsRaisedOnce(t *testing.T) {
	rows := recorded(t, "fan-house-summer.csv", time.DateTime)
	seen := beyond{}
	all := replay(t, fanHouse(), rows, fanColumns, seen)
	hot, cold := scan(rows, "inside_c", 1, 32, 0.5), scan(rows, "inside_c", -1, 17, 0.5)
	wrong := sameExcursions(t, all, seen, "fan-house/inside/temperature/high", hot) +
		sameExcursions(t, all, seen, "fan-house/inside/temperature/low", cold)
	want := gaps(rows, "inside_c", 15*time.Minute+30*time.Second)
	silent := 0
	for _, tr := range all {
		if tr.Alarm == "fan-house/inside/inside-1/silent" && (tr.Move == alarms.Raise || tr.Move == alarms.Suppress) {
			silent++
		}
	}
	if silent != want || want == 0 {
		t.Errorf("%d silences of the inside probe, the file has %d gaps", silent, want)
	}
	trials.Report(t, fmt.Sprintf("a recorded summer, %d times too hot or too cold", len(hot)+len(cold)), trials.Lost(wrong))
}

// winterHouse has two probes in the same air.
func winterHouse() alarms.Plan {
	both := []alarms.Stream{{Quantity: alarms.Temperature}, {Quantity: alarms.Humidity}}
	return alarms.Plan{Houses: []alarms.House{{
		ID: "winter-house", Latitude: 52, Longitude: 5.7,
		Places: []alarms.Place{{ID: "inside",
			Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{
				LowLow: alarms.At(5), Low: alarms.At(9), High: alarms.At(26), HighHigh: alarms.At(32)}}},
			Probes: []alarms.Probe{{ID: "probe-a", Every: 5 * time.Minute, Streams: both}, {ID: "probe-b", Every: 5 * time.Minute, Streams: both}},
		}}}}}
}

func TestTheTwoProbesOfTheRecordedWinterAreSaidToDisagree(t *testing.T) {
	rows := recorded(t, "winter-house.csv", "2006-01-02 15:04")
	seen := beyond{}
	all := replay(t, winterHouse(), rows, []column{
		{"probe_a_c", "probe-a", alarms.Temperature}, {"probe_a_rh_pct", "probe-a", alarms.Humidity},
		{"probe_b_c", "probe-b", alarms.Temperature}, {"probe_b_rh_pct", "probe-b", alarms.Humidity},
	}, seen)
	disagree := raises(all, "winter-house/inside/temperature/disagrees")
	if len(disagree) != 1 || disagree[0].After(rows[0].at.Add(24*time.Hour)) {
		t.Errorf("the disagreement was raised at %v, want once, on the first day", disagree)
	}
	for probe, cell := range map[alarms.ProbeID]string{"probe-a": "probe_a_c", "probe-b": "probe_b_c"} {
		id := alarms.AlarmID("winter-house/inside/" + string(probe) + "/silent")
		if got, want := len(raises(all, id)), gaps(rows, cell, 15*time.Minute+30*time.Second); got != want || want == 0 {
			t.Errorf("%s was raised %d times, the file has %d gaps", id, got, want)
		}
	}
	for i := range rows { // a limit is passed when one of the probes passes it
		if b, ok := rows[i].cells["probe_b_c"]; ok {
			rows[i].cells["warmer"] = max(b, rows[i].cells["probe_a_c"])
		} else if a, ok := rows[i].cells["probe_a_c"]; ok {
			rows[i].cells["warmer"] = a
		}
	}
	hot := scan(rows, "warmer", 1, 26, 0.5)
	wrong := sameExcursions(t, all, seen, "winter-house/inside/temperature/high", hot)
	trials.Report(t, fmt.Sprintf("a recorded winter of two probes that disagree, %d times too hot", len(hot)), trials.Lost(wrong))
}
