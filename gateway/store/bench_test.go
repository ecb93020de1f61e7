package store

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
)

// procIO reads a counter of the kernel about this process; 0 where there is none.
func procIO(key string) (n uint64) {
	b, _ := os.ReadFile("/proc/self/io")
	for line := range strings.Lines(string(b)) {
		if rest, found := strings.CutPrefix(line, key+": "); found {
			fmt.Sscan(rest, &n)
		}
	}
	return n
}

func resident() (kib uint64) {
	b, _ := os.ReadFile("/proc/self/status")
	for line := range strings.Lines(string(b)) {
		if rest, found := strings.CutPrefix(line, "VmRSS:"); found {
			fmt.Sscan(rest, &kib)
		}
	}
	return kib
}

// siteHour gives every probe one reading in 30 s, spread over them, with a
// flush each second, and a checkpoint at the end.
func siteHour(b *testing.B, s *Store, probes []string, temps []float64, from time.Time) time.Time {
	r := rand.New(rand.NewPCG(1, 2))
	for sec := range 3600 {
		at := from.Add(time.Duration(sec) * time.Second)
		for i := sec % 30; i < len(probes); i += 30 {
			temps[i] += float64(r.IntN(11)-5) / 100
			s.Append(reading(at.Add(time.Duration(r.IntN(1000))*time.Millisecond), probes[i], math.Round(temps[i]*100)/100))
		}
		s.Append(alarms.Input{At: at.Add(time.Second), Kind: alarms.Tick})
		ok(b, s.Sync())
	}
	var state []byte // of the size and variety of a core's snapshot
	for i, p := range probes {
		state = fmt.Appendf(state, `{"probe":%q,"heard":%q,"value":%v,"recent":[%d,%d,%d,%d]},`, p, at(from, r), temps[i], r.Int64(), r.Int64(), r.Int64(), r.Int64())
	}
	ok(b, s.Checkpoint(state))
	return from.Add(time.Hour)
}

func at(from time.Time, r *rand.Rand) string {
	return from.Add(time.Duration(r.Int64N(int64(time.Hour)))).Format(time.RFC3339Nano)
}

func site(n int) (probes []string, temps []float64) {
	for i := range n {
		probes, temps = append(probes, fmt.Sprintf("bench-%d", i)), append(temps, 15+float64(i%100)/10)
	}
	return probes, temps
}

// BenchmarkHour counts what an hour writes: bytes a reading as counted at the
// write calls, and as the kernel counts pages. It runs on the disk of the
// package's folder, because a temporary folder may be memory.
func BenchmarkHour(b *testing.B) {
	for _, n := range []int{10, 100, 1000} {
		b.Run(fmt.Sprintf("probes=%d", n), func(b *testing.B) {
			dir, err := os.MkdirTemp(os.Getenv("TELLTALE_BENCH_DIR"), "hour")
			ok(b, err)
			defer os.RemoveAll(dir)
			s := open(b, filepath.Join(dir, "store"), Options{})
			defer s.Close()
			probes, temps := site(n)
			at := siteHour(b, s, probes, temps, start) // the first makes the file
			was, pages := s.Stats(), procIO("write_bytes")
			b.ResetTimer()
			for range b.N {
				at = siteHour(b, s, probes, temps, at)
			}
			b.StopTimer()
			is := s.Stats()
			readings := float64(is.Inputs - was.Inputs)
			b.ReportMetric(float64(is.JournalBytes-was.JournalBytes)/readings, "journal-B/reading")
			b.ReportMetric(float64(is.DatabaseBytes-was.DatabaseBytes)/readings, "db-B/reading")
			b.ReportMetric(float64(procIO("write_bytes")-pages)/readings, "kernel-B/reading")
			b.ReportMetric(float64(is.Flushes-was.Flushes)/float64(b.N), "flushes/h")
			b.ReportMetric(float64(resident())/1024, "MiB-resident")
		})
	}
}

func BenchmarkAppend(b *testing.B) {
	s := fresh(b, Options{MaxReadings: 10_000_000})
	probes, _ := site(1000)
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		s.Append(reading(start.Add(time.Duration(i)*30*time.Millisecond), probes[i%1000], 20+float64(i%90)/100))
		if i++; i%1000 == 0 {
			b.StopTimer()
			ok(b, s.Sync())
			if s.CheckpointDue() {
				ok(b, s.Checkpoint(nil))
			}
			b.StartTimer()
		}
	}
}

func BenchmarkSync33(b *testing.B) {
	s := fresh(b, Options{})
	i := 0
	for b.Loop() {
		for range 33 {
			i++
			s.Append(reading(start.Add(time.Duration(i)*30*time.Millisecond), "bench-1", 20))
		}
		ok(b, s.Sync())
	}
}

func BenchmarkSave(b *testing.B) {
	s := fresh(b, Options{})
	i := 0
	was := s.Stats()
	for b.Loop() {
		i++
		tr := raise(i, start.Add(time.Duration(i)*time.Second))
		s.Append(reading(tr.Due, "bench-1", 30))
		ok(b, s.Save([]alarms.Transition{tr}, []reach.Outgoing{telling(tr, "robin", 0), telling(tr, "kim", time.Hour)}))
	}
	is := s.Stats()
	b.ReportMetric(float64(is.DatabaseBytes-was.DatabaseBytes+is.JournalBytes-was.JournalBytes)/float64(b.N), "B/save")
}

// BenchmarkYear asks for charts of a store with a year of 20 streams, the last
// 90 days raw.
func BenchmarkYear(b *testing.B) {
	s := fresh(b, Options{})
	probes, temps := site(20)
	r := rand.New(rand.NewPCG(1, 2))
	at := start
	for range 365 * 24 {
		for sec := 0; sec < 3600; sec += 120 {
			for i := range probes {
				temps[i] += float64(r.IntN(11)-5) / 100
				s.Append(reading(at.Add(time.Duration(sec)*time.Second), probes[i], math.Round(temps[i]*100)/100))
			}
		}
		at = at.Add(time.Hour)
		ok(b, s.Checkpoint(nil))
	}
	upkeep(b, s, at)
	for what, span := range map[string]time.Duration{"year": 365 * day, "90 days": 90 * day, "day": day} {
		b.Run(what, func(b *testing.B) {
			for b.Loop() {
				got, err := s.History.Buckets(context.Background(), "bench-7", alarms.Temperature, at.Add(-span), at, 500)
				ok(b, err)
				if len(got) < 100 {
					b.Fatal(len(got))
				}
			}
		})
	}
	b.Run("readings of a day", func(b *testing.B) {
		for b.Loop() {
			got, err := s.History.Readings(context.Background(), "bench-7", alarms.Temperature, at.Add(-day), at, 0)
			ok(b, err)
			if len(got) != 720 {
				b.Fatal(len(got))
			}
		}
	})
	runtime.GC()
}
