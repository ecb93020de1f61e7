package store

import (
	"context"
	"fmt"
	"hash/crc32"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
)

// TestEverybodyAtOnce has one owner and several askers. Every asker must see
// each reading once, in order, up to what was there when it asked.
func TestEverybodyAtOnce(t *testing.T) {
	s := fresh(t, Options{})
	var there atomic.Int64 // readings appended
	var saved atomic.Int64
	ctx, cancel := context.WithCancel(context.Background())
	var askers sync.WaitGroup
	ask := func(what string, f func() error) {
		askers.Go(func() {
			for ctx.Err() == nil {
				if err := f(); err != nil && ctx.Err() == nil {
					t.Errorf("%s: %v", what, err)
					return
				}
			}
		})
	}
	end := start.Add(1000 * day)
	ask("readings", func() error {
		least := there.Load()
		got, err := s.History.Readings(ctx, "bench-1", alarms.Temperature, start, end, 0)
		if err == nil && int64(len(got)) < least {
			err = fmt.Errorf("%d readings, %d were there", len(got), least)
		}
		for i, r := range got {
			if r.Value != float64(i+1) {
				return fmt.Errorf("reading %d is %v", i+1, r.Value)
			}
		}
		return err
	})
	ask("buckets", func() error {
		least, n := there.Load(), 0
		got, err := s.History.Buckets(ctx, "bench-1", alarms.Temperature, start, start.Add(50*day), 60)
		for _, b := range got {
			n += b.N
		}
		if err == nil && int64(n) < least {
			err = fmt.Errorf("%d readings in buckets, %d were there", n, least)
		}
		return err
	})
	ask("log", func() error {
		least := saved.Load()
		got, err := s.Log.Transitions(ctx, LogQuery{Limit: 10_000})
		if err == nil && int64(len(got)) < least {
			err = fmt.Errorf("%d transitions, %d were saved", len(got), least)
		}
		return err
	})
	ask("outbox", func() error {
		due, err := allDue(s, ctx, end, 5)
		for _, w := range due {
			if err == nil {
				err = s.Outbox.Attempted(ctx, Attempt{Outgoing: w.ID, At: start, Outcome: Outcome(rand.IntN(3)), Next: start})
			}
		}
		return err
	})
	ask("upkeep", func() error {
		_ = s.Stats()
		_, err := s.Retain(ctx, start.Add(20*day)) // sums up, again and again
		return err
	})
	for n := int64(1); n <= 3000; n++ {
		s.Append(numbered(int(n)))
		there.Store(n)
		switch {
		case n%500 == 0:
			ok(t, s.Checkpoint([]byte(fmt.Sprint(n))))
		case n%50 == 0:
			tr := raise(int(n), start)
			ok(t, s.Save([]alarms.Transition{tr}, []reach.Outgoing{telling(tr, "robin", 0)}))
			saved.Add(1)
		case n%20 == 0:
			ok(t, s.Sync())
		}
	}
	cancel()
	askers.Wait()
	sound(t, s)
}

// sound has SQLite itself check the file.
func sound(t *testing.T, s *Store) {
	t.Helper()
	var verdict string
	ok(t, s.disk.db().Write.QueryRow(`PRAGMA integrity_check`).Scan(&verdict))
	same(t, "integrity", verdict, "ok")
	rows, err := s.disk.db().Write.Query(`PRAGMA foreign_key_check`)
	ok(t, err)
	defer rows.Close()
	if rows.Next() {
		t.Fatal("a foreign key is broken")
	}
}

// The values are those of RFC 3720 (iSCSI), appendix B.4.
func TestChecksumIsCRC32C(t *testing.T) {
	zeros, ones, up := make([]byte, 32), make([]byte, 32), make([]byte, 32)
	for i := range 32 {
		ones[i], up[i] = 0xff, byte(i)
	}
	for _, c := range []struct {
		in   []byte
		want uint32
	}{{zeros, 0x8a9136aa}, {ones, 0x62a8ab43}, {up, 0x46dd794e}} {
		if got := crc32.Checksum(c.in, castagnoli); got != c.want {
			t.Errorf("%x: got %08x, want %08x", c.in, got, c.want)
		}
	}
}

func TestBucketWidths(t *testing.T) {
	for _, c := range []struct {
		span   time.Duration
		points int
		want   time.Duration
	}{
		{time.Minute, 100, time.Second}, {day, 300, 5 * time.Minute}, {day, 150, 10 * time.Minute},
		{7 * day, 500, 30 * time.Minute}, {7 * day, 506, 20 * time.Minute}, {365 * day, 500, day}, {365 * day, 3, 32 * 7 * day}, {0, 0, time.Second},
	} {
		if got := bucketWidth(start, start.Add(c.span), c.points); got != c.want {
			t.Errorf("%v in %d points: got %v, want %v", c.span, c.points, got, c.want)
		} else if int64(c.span/got)+2 > int64(max(c.points, 3)) {
			t.Errorf("%v in %d points: %v is too narrow", c.span, c.points, got)
		}
	}
}
