package record

import (
	"encoding/csv"
	"io"
	"strings"
	"testing"
	"time"
)

// BenchmarkTable reads a table, both ways through it, and says how many times as
// long that takes as the standard library needs to part its cells once.
func BenchmarkTable(b *testing.B) {
	text := "time,probe,value\n" + strings.Join(minutes(20_000, "a", "b"), "")
	var ours, bare time.Duration
	for range b.N {
		began := time.Now()
		table := mustOpen(b, text, Options{})
		for {
			if _, ok, err := table.Next(); !ok || err != nil {
				break
			}
		}
		ours += time.Since(began)
		began = time.Now()
		r := csv.NewReader(strings.NewReader(text))
		r.ReuseRecord = true
		for {
			if _, err := r.Read(); err == io.EOF {
				break
			}
		}
		bare += time.Since(began)
	}
	b.ReportMetric(float64(ours)/float64(bare), "times-bare-csv")
}
