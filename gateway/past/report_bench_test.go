package past

import (
	"testing"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/gateway/store"
)

// BenchmarkReport reports on twenty probes over a day, a week and half a year,
// and compares with reading all that one probe measured over the same week.
func BenchmarkReport(b *testing.B) {
	s, err := store.Open(b.TempDir()+"/store", store.Options{MaxReadings: 10_000_000})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = s.Close() })
	fillYear(b, s)
	r := at(b, yearPlan(), s, yearEnd)
	began := time.Now()
	for _, q := range []alarms.Quantity{alarms.Temperature, alarms.Humidity} {
		if _, err := s.History.Readings(b.Context(), "row-0-a", q, yearEnd.AddDate(0, 0, -7), yearEnd, 0); err != nil {
			b.Fatal(err)
		}
	}
	bare := time.Since(began)
	for _, c := range []struct {
		name string
		days int
	}{{"day", 1}, {"week", 7}, {"half-year", 183}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := r.Report(b.Context(), "long-house", tally.Span{From: yearEnd.AddDate(0, 0, -c.days), To: yearEnd}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(bare), "times-one-probes-week")
		})
	}
}
