package store

import (
	"context"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
)

// A store is read while its watch writes, checkpoints and goes on.
func TestOpenToReadBesideTheWatch(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "store")
	s := open(t, dir, Options{})
	ctx := context.Background()
	put := func(from, to int) {
		for i := from; i < to; i++ {
			s.Append(reading(start.Add(time.Duration(i)*time.Minute), "bench-1", 20+float64(i)/10))
		}
		ok(t, s.Sync())
	}
	seen := func(r *Store) int {
		t.Helper()
		got, err := r.History.Readings(ctx, "bench-1", alarms.Temperature, start, start.Add(24*time.Hour), 0)
		ok(t, err)
		for i, g := range got {
			if want := 20 + float64(i)/10; g.Value != want || !g.At.Equal(start.Add(time.Duration(i)*time.Minute)) {
				t.Fatalf("reading %d is %v at %v, want %v", i, g.Value, g.At, want)
			}
		}
		return len(got)
	}
	look := func() (*Store, func() error) {
		t.Helper()
		r, done, err := OpenToRead(dir, Options{})
		ok(t, err)
		return r, done
	}

	put(0, 10)
	first, done := look()
	if n := seen(first); n != 10 {
		t.Errorf("of the journal alone: %d readings, want 10", n)
	}
	ok(t, s.Checkpoint([]byte("state")))
	put(10, 25)
	if n := seen(first); n != 10 {
		t.Errorf("after a checkpoint a reader from before sees %d readings, want the 10 of when it was opened", n)
	}
	second, done2 := look()
	if n := seen(second); n != 25 {
		t.Errorf("of database and journal: %d readings, want 25", n)
	}
	up := raise(1, start)
	ok(t, s.Save([]alarms.Transition{up}, nil))
	if log, err := second.Log.Transitions(ctx, LogQuery{}); err != nil || len(log) != 1 {
		t.Errorf("a transition saved later: %d, %v; want 1", len(log), err)
	}
	if _, err := second.disk.db().Read.ExecContext(ctx, `DELETE FROM transition`); err == nil {
		t.Error("who only reads could delete")
	}
	ok(t, done())
	ok(t, done2())
	put(25, 30)
	ok(t, s.Close())

	alone, done := look()
	if n := seen(alone); n != 30 {
		t.Errorf("without a watch: %d readings, want 30", n)
	}
	ok(t, done())
	again := open(t, dir, Options{}) // nothing was taken or locked
	if n := seen(again); n != 30 {
		t.Errorf("the watch sees %d readings after it was read, want 30", n)
	}
	ok(t, again.Close())
}

func TestOpenToReadRefuses(t *testing.T) {
	if _, _, err := OpenToRead(filepath.Join(t.TempDir(), "none"), Options{}); err == nil {
		t.Error("a store that is not there was opened")
	}
	dir := filepath.Join(t.TempDir(), "store")
	s := open(t, dir, Options{})
	if _, err := s.disk.db().Write.Exec(`INSERT INTO migration (name) VALUES ('9999_later.sql')`); err != nil {
		t.Fatal(err)
	}
	ok(t, s.Close())
	if _, _, err := OpenToRead(dir, Options{}); !errors.Is(err, ErrNewer) {
		t.Errorf("a store of a newer version: %v, want ErrNewer", err)
	}
}

func TestTellingSums(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	up := raise(1, start)
	rows := []reach.Outgoing{telling(up, "ada", 0), telling(up, "ben", 0), telling(up, "cy", 0), telling(up, "", 0)}
	ok(t, s.Save([]alarms.Transition{up}, rows))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: up.ID + "/ada", At: minutes(1), Outcome: Told}))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: up.ID + "/ben", At: minutes(1), Outcome: Failed, Error: "no route", Next: minutes(2)}))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: up.ID + "/cy", At: minutes(1), Outcome: Abandoned, Error: "no such mailbox"}))
	house := up.Reason.House
	if house == "" {
		house = "long-house"
	}
	got, err := s.Outbox.TellingSums(ctx, house, start.Add(-time.Hour), start.Add(24*time.Hour))
	ok(t, err)
	ch := rows[0].Channel
	same(t, "sums", got, []TellingSum{{Person: "ada", Channel: ch, State: TellingTold, N: 1},
		{Person: "ben", Channel: ch, State: TellingWaits, Tried: true, N: 1}, {Person: "cy", Channel: ch, State: TellingAbandoned, N: 1}})
	if _, err := s.Outbox.Reported(ctx, Attempt{Outgoing: up.ID + "/ada", At: minutes(2), Outcome: Arrived}); err != nil {
		t.Fatal(err)
	}
	got, err = s.Outbox.TellingSums(ctx, house, start.Add(-time.Hour), start.Add(24*time.Hour))
	ok(t, err)
	same(t, "one that arrived", got[0], TellingSum{Person: "ada", Channel: ch, State: TellingTold, Arrived: true, N: 1})
	lost, err := s.Outbox.LostTellings(ctx, house, start.Add(-time.Hour), start.Add(24*time.Hour), 10)
	ok(t, err)
	if len(lost) != 1 || lost[0].Person != "cy" || lost[0].Error != "no such mailbox" || lost[0].Of.ID != up.ID {
		t.Errorf("lost: %+v", lost)
	}
	for what, q := range map[string]struct {
		house    alarms.HouseID
		from, to time.Time
	}{
		"of another house": {"low-house", start.Add(-time.Hour), start.Add(24 * time.Hour)},
		"of before":        {house, start.Add(-time.Hour), start},
	} {
		if got, err := s.Outbox.TellingSums(ctx, q.house, q.from, q.to); err != nil || len(got) != 0 {
			t.Errorf("%s: %v, %v; want none", what, got, err)
		}
	}
}

func TestWholeHasAllOfATransition(t *testing.T) {
	s := fresh(t, Options{})
	up := raise(1, start)
	up.Reason.House, up.Reason.By, up.Reason.Note = "long-house", "ada", "why"
	other := raise(2, start)
	other.ID, other.Alarm, other.Reason.House = "low#1", "low-house/bed/soil/low", "low-house"
	ok(t, s.Save([]alarms.Transition{up, other}, nil))
	got, err := s.Log.Told(context.Background(), "long-house", start.Add(-time.Hour), start.Add(24*time.Hour), 10)
	ok(t, err)
	same(t, "the transition", got, []alarms.Transition{up})
}
