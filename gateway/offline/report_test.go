package offline

import (
	"bytes"
	"encoding/csv"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/page/reports"
	"telltale/gateway/store"
)

// warmAfternoon is the folder of a store that is open: 28 °C from noon to 15:00, and
// 20 °C for the rest of the day.
func warmAfternoon(t *testing.T, noon time.Time) string {
	dir := filepath.Join(t.TempDir(), "store")
	s, err := store.Open(dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	for at := noon.Add(-12 * time.Hour); at.Before(noon.Add(12 * time.Hour)); at = at.Add(time.Minute) {
		v := 20.0
		if !at.Before(noon) && at.Before(noon.Add(3*time.Hour)) {
			v = 28
		}
		s.Append(alarms.Input{Kind: alarms.ReadingIn, At: at, Probe: "bench-1", Quantity: alarms.Temperature, Value: v})
	}
	if err := s.Checkpoint([]byte("state")); err != nil {
		t.Fatal(err)
	}
	return dir
}

// The command's report comes from a store that a watch has open.
func TestMakeReportBesideTheWatch(t *testing.T) {
	noon := time.Date(2026, 6, 10, 12, 0, 0, 0, time.UTC)
	s, closeStore, err := store.OpenToRead(warmAfternoon(t, noon), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer closeStore()
	plan := alarms.Plan{Houses: []alarms.House{{ID: "long-house", Name: "Long House", Latitude: 52, Longitude: -1,
		Places: []alarms.Place{{ID: "bench", Name: "Bench",
			Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(25)}}},
			Probes: []alarms.Probe{{ID: "bench-1", Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}}}}}}
	cfg := &config.Config{Plan: plan, Page: config.Page{Name: "Thimble Garth"}}
	m, err := MakeReport(t.Context(), ReportOptions{Config: cfg, Store: s, Of: reports.Of{Kind: "day", On: "2026-06-10"}, Now: noon.Add(12 * time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	var html, table bytes.Buffer
	if err := m.WriteHTML(&html); err != nil {
		t.Fatal(err)
	}
	if err := m.WriteCSV(&table); err != nil {
		t.Fatal(err)
	}
	if m.Name != "report-long-house-day-2026-06-10" || !strings.Contains(html.String(), "Bench: temperature from 20.0\u00a0°C to 28.0\u00a0°C, 3.0\u00a0h beyond its limits") {
		t.Errorf("%s: %.2000s", m.Name, html.String())
	}
	rows, err := csv.NewReader(&table).ReadAll()
	if err != nil || len(rows) < 20 {
		t.Errorf("%d rows, %v", len(rows), err)
	}
	for what, o := range map[string]ReportOptions{
		"another house": {Config: cfg, Store: s, House: "hot-house", Of: reports.Of{Kind: "day"}},
		"a month":       {Config: cfg, Store: s, Of: reports.Of{Kind: "month"}},
		"tomorrow":      {Config: cfg, Store: s, Of: reports.Of{Kind: "day", On: "2026-06-12"}},
	} {
		o.Now = noon.Add(12 * time.Hour)
		if _, err := MakeReport(t.Context(), o); !errors.Is(err, ErrAsked) {
			t.Errorf("%s was reported on", what)
		}
	}
}
