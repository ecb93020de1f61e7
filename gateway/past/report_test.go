package past

import (
	"path/filepath"
	"testing"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/gateway/store"
)

// reportDay is the day of the reports, in the middle of what is stored.
var reportDay = time.Date(2026, 6, 10, 0, 0, 0, 0, time.UTC)

func reportPlan() alarms.Plan {
	return alarms.Plan{Houses: []alarms.House{{ID: "long-house", Name: "Long House", Latitude: 52, Longitude: -1, Season: alarms.SeasonOpen,
		Places: []alarms.Place{{ID: "bench", Name: "Bench",
			Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{Low: alarms.At(10), High: alarms.At(25)}}},
			Probes: []alarms.Probe{{ID: "bench-1", Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}, {Quantity: alarms.Humidity}}}}}}}}}
}

// stored is a store with so many days of readings every minute up to the end of
// reportDay: 28 °C from noon to 15:00, else 20 °C; nothing from 6:00 to 7:00.
func stored(tb testing.TB, days int) (*store.Store, string) {
	tb.Helper()
	dir := filepath.Join(tb.TempDir(), "store")
	s, err := store.Open(dir, store.Options{RawFor: 20 * 24 * time.Hour, MaxReadings: 10_000_000, MaxWaiting: 32 << 20})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { _ = s.Close() })
	end := reportDay.AddDate(0, 0, 1)
	for at := end.AddDate(0, 0, -days); at.Before(end); at = at.Add(time.Minute) {
		v := 20.0
		if h := at.Hour(); h >= 12 && h < 15 {
			v = 28
		} else if h == 6 {
			continue
		}
		s.Append(alarms.Input{Kind: alarms.ReadingIn, At: at, Probe: "bench-1", Quantity: alarms.Temperature, Value: v})
		if at.Hour() == 23 && at.Minute() == 59 {
			if err := s.Checkpoint([]byte("state")); err != nil {
				tb.Fatal(err)
			}
			if _, err := s.Retain(tb.Context(), at); err != nil {
				tb.Fatal(err)
			}
		}
	}
	return s, dir
}

func reporter(s *store.Store) *Archive {
	return New(Options{Store: s, Plan: reportPlan(), Now: func() time.Time { return reportDay.AddDate(0, 0, 1) }})
}

// A day from its readings, and sixty days from 10-minute values, of which the
// older have lost their readings, count the same hours.
func TestReportFromTheStore(t *testing.T) {
	s, _ := stored(t, 60)
	r := reporter(s)
	for _, days := range []int{1, 7, 30, 60} {
		rep, err := r.Report(t.Context(), "long-house", tally.Span{From: reportDay.AddDate(0, 0, 1-days), To: reportDay.AddDate(0, 0, 1)})
		if err != nil {
			t.Fatal(err)
		}
		m := rep.Measures[0]
		n := time.Duration(days)
		if want := 3 * n * time.Hour; m.Beyond.High != want || m.Beyond.Low != 0 {
			t.Errorf("%d days: %v above and %v below, want %v and 0", days, m.Beyond.High, m.Beyond.Low, want)
		}
		// A reading stands for 3.1 intervals, the last one from 5:59; a value of 10
		// minutes for these.
		least, most := n*(58*time.Minute-6*time.Second), n*time.Hour
		if days <= 7 {
			most = least
		}
		if m.Blind < least || m.Blind > most {
			t.Errorf("%d days: nothing is known for %v, want %v to %v", days, m.Blind, least, most)
		}
		if coarse := m.Coarse > 0; coarse != (days > 9) {
			t.Errorf("%d days: %v rest on sums", days, m.Coarse)
		}
		if m.Lowest.Value != 20 || m.Highest.Value != 28 || m.Heat.Days != days || m.Heat.DegreeDays != 14*float64(days) {
			t.Errorf("%d days: %v to %v, %+v", days, m.Lowest, m.Highest, m.Heat)
		}
	}
}

// A download of days that have lost their readings and of others says which is
// which, and has each once.
func TestDownloadsFromTheStore(t *testing.T) {
	s, _ := stored(t, 40)
	d := reporter(s)
	of := d.Streams("long-house")
	if len(of) != 2 || of[0].PlaceName != "Bench" {
		t.Fatalf("streams: %+v", of)
	}
	sums, readings, last := 0, 0, time.Time{}
	for x, err := range d.Samples(t.Context(), of, reportDay.AddDate(0, 0, -60), reportDay.AddDate(0, 0, 30)) {
		if err != nil {
			t.Fatal(err)
		}
		if x.At.Before(last) {
			t.Fatalf("%v comes after %v", x.At, last)
		}
		last = x.At
		if x.Sum {
			sums++
		} else {
			readings++
		}
	}
	days := readings / (23 * 60)
	if readings != days*23*60 || sums != (40-days)*23*6 || days < 15 || days > 25 {
		t.Errorf("%d readings and %d sums of 10 minutes of 40 days", readings, sums)
	}
}

// A report counts a rehearsal as nothing else.
func TestAReportCountsRehearsalsForThemselves(t *testing.T) {
	got := toldOf([]store.TellingSum{{Person: "Ada", Channel: "mail", State: store.TellingRehearsed, N: 3}, {Person: "Ada", Channel: "mail", State: store.TellingTold, N: 2}})
	if len(got) != 1 || got[0].Rehearsed != 3 || got[0].HandedOver != 2 || got[0].Of() != 5 {
		t.Errorf("got %+v", got)
	}
}
