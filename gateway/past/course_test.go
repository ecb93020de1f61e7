package past

import (
	"context"
	"fmt"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// pastStore is a store with a day of readings, switchings and seasons that the
// tests below look back at.
func pastStore(t *testing.T) *store.Store {
	t.Helper()
	s, err := store.Open(t.TempDir()+"/store", store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func hoursAgo(h float64) time.Time { return yearEnd.Add(-time.Duration(h * float64(time.Hour))) }

// heard appends a reading every 30 s over a stretch.
func heard(s *store.Store, p alarms.ProbeID, q alarms.Quantity, from, to time.Time, v func(time.Time) float64) {
	for at := from; at.Before(to); at = at.Add(yearEvery) {
		s.Append(alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: p, Quantity: q, Value: v(at)})
	}
}

func ranLine(n int, d alarms.DriveID, from, to time.Time, inferred bool) alarms.Transition {
	due := to
	if due.IsZero() {
		due = from.Add(time.Minute)
	}
	id := alarms.AlarmID("long-house/" + string(d) + "/switching")
	return alarms.Transition{ID: fmt.Sprintf("%s#%d", id, n), Alarm: id, Move: alarms.Note, Due: due,
		Reason: alarms.Reason{Rule: alarms.RuleSwitching, House: "long-house", Drive: d,
			Switched: &alarms.Switched{Ran: from, Stopped: to, Inferred: inferred}}}
}

func stretches(all []report.Span) (out string) {
	for _, s := range all {
		out += fmt.Sprintf("%.1f-%.1f ", yearEnd.Sub(s.From).Hours(), yearEnd.Sub(s.To).Hours())
	}
	return out
}

// Runs come from the log; where the contact was not heard nothing is known, and
// an end that nobody saw lies where it was last or first heard.
func TestRunsAreKnownOnlyWhileTheirEvidenceIsHeard(t *testing.T) {
	s := pastStore(t)
	still := func(time.Time) float64 { return 0 }
	heard(s, "exhaust-fan-contact", alarms.Contact, hoursAgo(24), hoursAgo(14), still)
	heard(s, "exhaust-fan-contact", alarms.Contact, hoursAgo(10), yearEnd, still)
	lines := []alarms.Transition{
		ranLine(1, "exhaust-fan", hoursAgo(20), hoursAgo(19), false),
		ranLine(2, "exhaust-fan", time.Time{}, hoursAgo(9), false), // it ran when it was heard again
		ranLine(3, "exhaust-fan", hoursAgo(30), hoursAgo(23), false),
		ranLine(4, "exhaust-fan", hoursAgo(50), hoursAgo(49), false), // before
	}
	if err := s.Save(lines, nil); err != nil {
		t.Fatal(err)
	}
	c := at(t, yearPlan(), s, yearEnd)
	drives, err := c.Runs(context.Background(), "long-house", hoursAgo(24), yearEnd)
	if err != nil || len(drives) != 3 {
		t.Fatalf("got %d drives, %v", len(drives), err)
	}
	fan := drives[0]
	got := ""
	for _, r := range fan.Runs {
		got += fmt.Sprintf("%s%v ", stretches([]report.Span{r.Span}), r.FromUnseen)
	}
	if want := "30.0-23.0 false 20.0-19.0 false 10.0-9.0 true "; got != want {
		t.Errorf("runs: got %s, want %s", got, want)
	}
	if got, want := stretches(fan.Unknown), "14.0-10.0 "; got != want {
		t.Errorf("not known: got %s, want %s", got, want)
	}
	if got, want := stretches(drives[1].Unknown), "24.0-0.0 "; got != want {
		t.Errorf("of the shutter nothing was ever heard: got %s, want %s", got, want)
	}

	cuts := []time.Time{hoursAgo(24), hoursAgo(18), hoursAgo(13.5), hoursAgo(10.5), yearEnd}
	cells, err := c.RunCells(context.Background(), "long-house", cuts)
	if err != nil {
		t.Fatal(err)
	}
	for i := range cells[0].Cells { // what nobody saw begin is known to a piece of the history
		cells[0].Cells[i].Ran = cells[0].Cells[i].Ran.Round(5 * time.Minute)
	}
	want := []service.RanInCell{{Known: true, Ran: 2 * time.Hour, Starts: 1}, {Known: true}, {}, {Known: true, Ran: time.Hour}}
	if fmt.Sprint(cells[0].Cells) != fmt.Sprint(want) {
		t.Errorf("cells: got %v, want %v", cells[0].Cells, want)
	}
}

// A fan that nothing shows is known as long as the temperature at its
// thermostat is.
func TestAFanThatIsOnlyInferred(t *testing.T) {
	p := yearPlan()
	p.Houses[0].Drives[0].Evidence = nil
	s := pastStore(t)
	heard(s, "row-0-a", alarms.Temperature, hoursAgo(10), yearEnd, func(time.Time) float64 { return 20 })
	if err := s.Save([]alarms.Transition{ranLine(1, "exhaust-fan", hoursAgo(5), hoursAgo(4), true)}, nil); err != nil {
		t.Fatal(err)
	}
	drives, err := at(t, p, s, yearEnd).Runs(context.Background(), "long-house", hoursAgo(24), yearEnd)
	if err != nil {
		t.Fatal(err)
	}
	fan := drives[0]
	if !fan.Inferred || len(fan.Runs) != 1 || !fan.Runs[0].Inferred || stretches(fan.Unknown) != "24.0-10.0 " {
		t.Errorf("got %+v, not known %s", fan, stretches(fan.Unknown))
	}
}

// The band of the past is that of the season then, by the log.
func TestBandsFollowTheSeasonsOfTheLog(t *testing.T) {
	p := yearPlan()
	place := &p.Houses[0].Places[0]
	place.Bands = []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(30)}},
		{Quantity: alarms.Temperature, Seasons: []alarms.Season{alarms.SeasonWinter}, Limits: alarms.Limits{High: alarms.At(25)}}}
	p.Houses[0].Day.Settle = -1
	s := pastStore(t)
	var lines []alarms.Transition
	for i, season := range []alarms.Season{alarms.SeasonWinter, alarms.SeasonOpen} {
		lines = append(lines, alarms.Transition{ID: fmt.Sprintf("long-house/season#%d", i+1), Alarm: "long-house/season", Move: alarms.Note,
			Due: hoursAgo(10 - 4*float64(i)), Reason: alarms.Reason{Rule: alarms.RulePerson, House: "long-house", Season: season}})
	}
	if err := s.Save(lines, nil); err != nil {
		t.Fatal(err)
	}
	c := at(t, p, s, yearEnd)
	held, err := c.Held(context.Background(), "long-house", hoursAgo(24), yearEnd)
	if err != nil {
		t.Fatal(err)
	}
	got := ""
	for _, b := range c.Bands("long-house", "row-0", alarms.Temperature, held) {
		got += fmt.Sprintf("%s%v; ", stretches([]report.Span{{From: b.From, To: b.To}}), b.High.Value)
	}
	if want := "24.0-10.0 30; 10.0-6.0 25; 6.0-0.0 30; "; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// Probes of one place are one course; what is derived is derived before it is
// summed up.
func TestCellsJoinTheProbesOfAPlace(t *testing.T) {
	s := pastStore(t)
	heard(s, "row-0-a", alarms.Temperature, hoursAgo(4), yearEnd, func(time.Time) float64 { return 20 })
	heard(s, "row-0-b", alarms.Temperature, hoursAgo(4), hoursAgo(2), func(time.Time) float64 { return 24 })
	heard(s, "row-0-a", alarms.Humidity, hoursAgo(4), yearEnd, func(time.Time) float64 { return 50 })
	c := at(t, yearPlan(), s, yearEnd)
	cuts := []time.Time{hoursAgo(6), hoursAgo(4), hoursAgo(2), yearEnd}
	points, err := c.Cells(context.Background(), "long-house", "row-0", alarms.Temperature, cuts)
	if err != nil {
		t.Fatal(err)
	}
	want := []service.Point{{At: hoursAgo(4), Value: 22, Min: 20, Max: 24}, {At: hoursAgo(2), Value: 20, Min: 20, Max: 20}}
	if fmt.Sprint(points) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", points, want)
	}
	points, err = c.Cells(context.Background(), "long-house", "row-0", alarms.VPD, cuts)
	if err != nil || len(points) != 2 {
		t.Fatalf("got %v, %v", points, err)
	}
	// Saturation at 20 °C is 2.339 kPa (Alduchov & Eskridge 1996 give 2.3339 by
	// their AERK; CRC tables 2.3393), half of it at 50 %: 1.17 kPa.
	if v := points[1].Value; v < 1.16 || v > 1.175 {
		t.Errorf("vapour pressure deficit at 20 °C and 50 %%: got %v kPa, want 1.17", v)
	}
	if got := c.MainPlace("long-house"); got != "row-0" {
		t.Errorf("main place: got %s, want where the thermostat hangs", got)
	}
}
