package store

import (
	"context"
	"fmt"
	"testing"
	"time"

	"telltale/alarms"
)

func TestGapsOfAStream(t *testing.T) {
	s := fresh(t, Options{})
	at := func(sec int) time.Time { return start.Add(time.Duration(sec) * time.Second) }
	send := func(from, to, every int) {
		for sec := from; sec <= to; sec += every {
			s.Append(reading(at(sec), "bench-1", 20+float64(sec%7)))
		}
	}
	send(0, 600, 30) // 21 readings
	ok(t, s.Checkpoint(nil))
	send(1500, 1800, 30)                      // 11, after 15 min
	s.Append(reading(at(1810), "bench-1", 3)) // 10 s later
	late := reading(at(1820), "bench-1", 4)   // measured in the gap
	late.Measured = at(900)                   // so that it parts it
	s.Append(late)                            //
	s.Append(reading(at(1815), "ridge", 4))   // another probe
	s.Append(alarms.Input{At: at(1816), Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: 3, Retained: true})
	got, err := s.History.Gaps(context.Background(), "bench-1", alarms.Temperature, start, at(3600))
	ok(t, err)
	same(t, "gaps", got, Gaps{N: 34, First: start, Last: at(1810), Median: 30 * time.Second, Longest: 10 * time.Minute, LongestFrom: at(900)})
	got, err = s.History.Gaps(context.Background(), "bench-1", alarms.Temperature, at(30), at(90))
	ok(t, err)
	same(t, "half open", got, Gaps{N: 2, First: at(30), Last: at(60), Median: 30 * time.Second, Longest: 30 * time.Second, LongestFrom: at(30)})
	got, err = s.History.Gaps(context.Background(), "bench-1", alarms.Temperature, at(60), at(61))
	ok(t, err)
	same(t, "one", got, Gaps{N: 1, First: at(60), Last: at(60)})
	got, err = s.History.Gaps(context.Background(), "nobody", alarms.Temperature, start, at(3600))
	ok(t, err)
	same(t, "none", got, Gaps{})
}

// BenchmarkGaps asks for a week of 20 probes that report twice a minute, as one
// page does.
func BenchmarkGaps(b *testing.B) {
	s := fresh(b, Options{})
	probes, temps := site(20)
	at := start
	for range 7 * 24 {
		at = siteHour(b, s, probes, temps, at)
	}
	b.ResetTimer()
	for b.Loop() {
		for i := range 20 {
			g, err := s.History.Gaps(context.Background(), alarms.ProbeID(fmt.Sprintf("bench-%d", i)), alarms.Temperature, start, at)
			ok(b, err)
			if g.N != 7*24*120 {
				b.Fatal(g.N)
			}
		}
	}
}
