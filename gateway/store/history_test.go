package store

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"telltale/alarms"
)

// naive is the history as a person would write it down.
type naive map[string][]Reading

func (n naive) add(in alarms.Input) {
	if in.Retained || math.IsNaN(in.Value) || math.IsInf(in.Value, 0) {
		return
	}
	at := in.At
	if m := in.Measured; !m.IsZero() && m.Sub(in.At) <= 2*time.Minute && in.At.Sub(m) <= 7*24*time.Hour {
		at = m
	}
	key := string(in.Probe)
	r := Reading{At: at.Truncate(time.Millisecond), Value: in.Value}
	if all := n[key]; len(all) > 0 && all[len(all)-1] == r {
		return
	}
	n[key] = append(n[key], r)
}

func (n naive) readings(probe string, from, to time.Time) []Reading {
	all := []Reading{}
	for _, r := range n[probe] {
		if !r.At.Before(from) && r.At.Before(to) {
			all = append(all, r)
		}
	}
	slices.SortStableFunc(all, func(a, b Reading) int { return a.At.Compare(b.At) })
	return all
}

// buckets sums up readings between from and to rounded outwards to width.
func (n naive) buckets(probe string, from, to time.Time, width time.Duration) []Bucket {
	var all []Bucket
	lo := from.Truncate(width)
	hi := to.Add(width - 1).Truncate(width)
	for _, r := range n.readings(probe, lo, hi) {
		at := r.At.Truncate(width)
		if len(all) == 0 || !all[len(all)-1].Start.Equal(at) {
			all = append(all, Bucket{Start: at, Width: width, Min: math.Inf(1), Max: math.Inf(-1)})
		}
		b := &all[len(all)-1]
		b.Mean = (b.Mean*float64(b.N) + r.Value) / float64(b.N+1)
		b.N++
		b.Min, b.Max = min(b.Min, r.Value), max(b.Max, r.Value)
	}
	return all
}

func sameBuckets(t *testing.T, what string, got, want []Bucket) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d buckets, want %d", what, len(got), len(want))
	}
	for i, g := range got {
		w := want[i]
		if math.Abs(g.Mean-w.Mean) > 1e-9*max(math.Abs(w.Min), math.Abs(w.Max)) {
			t.Fatalf("%s: bucket %d: mean %v, want %v", what, i, g.Mean, w.Mean)
		}
		g.Mean = w.Mean
		same(t, fmt.Sprintf("%s: bucket %d", what, i), g, w)
	}
}

// feed appends random readings of three probes from..to: steady ones, odd
// floats, late ones, doubled ones, retained ones, ones that are no number.
func feed(s *Store, n naive, r *rand.Rand, from, to time.Time, every time.Duration) {
	temp := map[string]float64{"bench-1": 20, "ridge": 25, "low-1": 8}
	probes := []string{"bench-1", "ridge", "low-1"}
	for at := from; at.Before(to); at = at.Add(every) {
		for _, p := range probes {
			temp[p] += float64(r.IntN(21)-10) / 100
			in := reading(at.Add(time.Duration(r.IntN(2000))*time.Millisecond), p, math.Round(temp[p]*100)/100)
			switch r.IntN(20) {
			case 0:
				in.Value = temp[p] / 3
			case 1:
				in.Measured = in.At.Add(-time.Duration(r.Int64N(int64(8 * day))))
			case 2:
				in.Measured = in.At.Add(time.Duration(r.Int64N(int64(5 * time.Minute))))
			case 3:
				in.Retained = true
			case 4:
				in.Value = []float64{math.NaN(), math.Inf(1), math.Copysign(0, -1), 0, 85, -127, 1e300, 123456.789}[r.IntN(8)]
			}
			for range 1 + r.IntN(30)/29 {
				s.Append(in)
				n.add(in)
			}
		}
	}
}

func TestHistoryAgainstNaive(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	r := rand.New(rand.NewPCG(seed, 1))
	dir, n := t.TempDir(), naive{}
	s := open(t, dir, Options{})
	defer func() { s.Close() }()
	at := start
	for round := range 12 {
		feed(s, n, r, at, at.Add(3*time.Hour), 40*time.Second)
		at = at.Add(3 * time.Hour)
		switch r.IntN(3) {
		case 0:
			ok(t, s.Checkpoint(nil))
		case 1: // what is in the journal alone is history too
			ok(t, s.Close())
			s = open(t, dir, Options{})
		}
		checkHistory(t, fmt.Sprintf("seed %d round %d", seed, round), s, n, r, at)
	}
}

func checkHistory(t *testing.T, what string, s *Store, n naive, r *rand.Rand, end time.Time) {
	t.Helper()
	ctx := context.Background()
	for range 8 {
		p := []string{"bench-1", "ridge", "low-1", "nobody"}[r.IntN(4)]
		from := start.Add(time.Duration(r.Int64N(int64(end.Sub(start))+int64(8*day))) - 8*day)
		to := from.Add(time.Duration(r.Int64N(int64(3 * day))))
		got, err := s.History.Readings(ctx, alarms.ProbeID(p), alarms.Temperature, from, to, 0)
		ok(t, err)
		same(t, what, got, n.readings(p, from, to))
		points := 3 + r.IntN(500)
		width := bucketWidth(from, to, points)
		buckets, err := s.History.Buckets(ctx, alarms.ProbeID(p), alarms.Temperature, from, to, points)
		ok(t, err)
		if len(buckets) > points {
			t.Fatalf("%s: %d buckets, at most %d were wanted", what, len(buckets), points)
		}
		sameBuckets(t, what+" "+width.String(), buckets, n.buckets(p, from, to, width))
	}
}

func TestMeansAreExactEnough(t *testing.T) {
	s, n := fresh(t, Options{}), naive{}
	for i := range 5000 {
		in := reading(start.Add(time.Duration(i)*30*time.Second), "bench-1", 15+float64(i%977)/64)
		s.Append(in)
		n.add(in)
		if i%1000 == 0 {
			ok(t, s.Checkpoint(nil))
		}
	}
	for _, points := range []int{5, 50, 500} {
		to := start.Add(5000 * 30 * time.Second)
		got, err := s.History.Buckets(context.Background(), "bench-1", alarms.Temperature, start, to, points)
		ok(t, err)
		sameBuckets(t, "means", got, n.buckets("bench-1", start, to, bucketWidth(start, to, points)))
	}
}

func TestWeeksBeginOnMonday(t *testing.T) {
	monday := time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC) // ISO 8601: 2025-W10-1
	for _, weeks := range []int64{1, 2, 4} {
		w := weeks * 7 * dayMillis
		if got := joinTime(floorTo(monday.Add(50*time.Hour).UnixMilli(), w), 0); got.Weekday() != time.Monday {
			t.Errorf("%d weeks: begins on %v", weeks, got.Weekday())
		}
	}
	same(t, "week", joinTime(floorTo(monday.UnixMilli(), 7*dayMillis), 0), monday)
	same(t, "before 1970", dayOf(-1), int64(-1))
}

func TestReadingsLimitGivesTheOldest(t *testing.T) {
	s := fresh(t, Options{})
	for i := range 10 {
		s.Append(reading(start.Add(time.Duration(i)*time.Second), "bench-1", float64(i)))
	}
	got, err := s.History.Readings(context.Background(), "bench-1", alarms.Temperature, start, start.Add(time.Hour), 3)
	ok(t, err)
	same(t, "readings", got, []Reading{{start, 0}, {start.Add(time.Second), 1}, {start.Add(2 * time.Second), 2}})
}

func TestHugeBlocksAreSplit(t *testing.T) {
	s, n := fresh(t, Options{}), naive{}
	r := rand.New(rand.NewPCG(3, 4))
	for i := range 20 * maxBlock {
		in := reading(start.Add(time.Duration(i)*100*time.Millisecond), "bench-1", float64(r.IntN(5000))/100)
		s.Append(in)
		n.add(in)
	}
	for range 2 {
		got, err := s.History.Readings(context.Background(), "bench-1", alarms.Temperature, start, start.Add(day), 0)
		ok(t, err)
		same(t, "readings", len(got), 20*maxBlock)
		same(t, "readings", got, n.readings("bench-1", start, start.Add(day)))
		ok(t, s.Checkpoint(nil))
	}
}
