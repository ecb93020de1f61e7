package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"telltale/alarms"
)

// stepped is a clock for Options.Now.
type stepped struct{ now time.Time }

func (c *stepped) get() time.Time { return c.now }

// history counts the readings kept of the one probe.
func history(t *testing.T, s *Store) int {
	t.Helper()
	got, err := s.History.Readings(context.Background(), "bench-1", alarms.Temperature, start.Add(-day), start.Add(1000*day), 100_000)
	ok(t, err)
	return len(got)
}

// A store that began while nothing could be written goes on on the disk once
// that takes writes, with all that came in between.
func TestADiskThatTakesWritesAgainGetsAllThatWaits(t *testing.T) {
	c := killed(t)
	disk := refusing{syscall.EROFS}
	clock := stepped{start}
	s := open(t, c.dir, Options{guard: disk.guard, Now: clock.get})
	_, had := recovered(t, s)
	before := history(t, s)
	s.Append(numbered(50_000))
	tr := raise(9000, start.Add(2*day))
	disk.err = nil
	if err := s.Save([]alarms.Transition{tr}, nil); err == nil || !strings.Contains(err.Error(), "read-only") {
		t.Errorf("asked again too soon: %v", err)
	}
	clock.now = start.Add(tryEvery)
	ok(t, s.Save([]alarms.Transition{tr}, nil))
	if s.Refusing() != nil || s.FoundEarlier() || !s.CheckpointDue() {
		t.Errorf("refusing %v, earlier %v, checkpoint due %v", s.Refusing(), s.FoundEarlier(), s.CheckpointDue())
	}
	same(t, "history", history(t, s), before+1)
	ok(t, s.Close())

	s = open(t, c.dir, Options{})
	_, got := recovered(t, s)
	same(t, "inputs", got, append(had, numbered(50_000)))
	if _, there := logged(t, s, tr.ID); !there {
		t.Error("the transition is not saved")
	}
	ok(t, s.Checkpoint([]byte("x")))
	same(t, "history", history(t, s), before+1)
	if lost := s.Losses(); lost != nil {
		t.Errorf("lost: %q", lost)
	}
	ok(t, s.Close())
}

// A disk that could not even be read at the start comes back with what an
// earlier run saved: the next Open gives both, in order.
func TestADiskThatComesBackWithAnEarlierStateIsJoined(t *testing.T) {
	c := killed(t)
	away := c.dir + ".away"
	ok(t, os.Rename(c.dir, away))
	ok(t, os.WriteFile(c.dir, nil, 0o600)) // as a mount point that is none
	clock := stepped{start}
	s := open(t, c.dir, Options{Now: clock.get})
	if _, _, err := s.Recover(); !errors.Is(err, errSnapshot) || s.Knows() {
		t.Fatalf("Recover: %v, knows %v", err, s.Knows())
	}
	season := alarms.Input{At: start.Add(20 * time.Hour), Kind: alarms.SetSeason, House: "long-house", Season: alarms.SeasonWinter, By: "Robin"}
	s.Append(season)
	if err := s.Sync(); err == nil {
		t.Error("written to where nothing is")
	}
	ok(t, os.Remove(c.dir))
	ok(t, os.Rename(away, c.dir))
	clock.now = start.Add(tryEvery)
	if err := s.Sync(); err != nil || !s.FoundEarlier() {
		t.Errorf("Sync: %v, found an earlier state: %v", err, s.FoundEarlier())
	}
	later := numbered(90_000)
	s.Append(later) // on the way out
	ok(t, s.Close())

	s = open(t, c.dir, Options{})
	defer s.Close()
	snap, got := recovered(t, s)
	same(t, "snapshot", snap, "the state")
	same(t, "inputs", len(got), sceneInputs+2)
	same(t, "the newest", got[sceneInputs:], []alarms.Input{season, later})
}

func TestADirectoryThatIsRemovedIsMadeAgain(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "store")
	clock := stepped{start}
	s := open(t, dir, Options{Now: clock.get})
	defer s.Close()
	s.Append(numbered(1))
	ok(t, s.Sync())
	ok(t, os.RemoveAll(dir))
	s.Append(numbered(2))
	clock.now = clock.now.Add(tryEvery)
	ok(t, s.Sync())
	ok(t, s.Checkpoint([]byte("all")))
	if lost := said(s); len(lost) != 1 || !strings.Contains(lost[0], "the store was empty or gone, although "+dir+".id") {
		t.Errorf("lost: %q", lost)
	}
	same(t, "history", history(t, s), 2)
	if _, err := Open(dir, Options{}); !errors.Is(err, ErrInUse) {
		t.Errorf("a second one: %v", err)
	}
	ok(t, s.Close())
	s = open(t, dir, Options{})
	snap, _ := recovered(t, s)
	same(t, "snapshot", snap, "all")
}

func TestDamageMetAtWorkIsMended(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "store")
	s := open(t, dir, Options{})
	defer s.Close()
	ctx := context.Background()
	for n := range 300 {
		ok(t, s.Save([]alarms.Transition{raise(n+1, start.Add(time.Duration(n)*time.Minute))}, nil))
	}
	ok(t, s.Checkpoint([]byte("known")))
	s.Append(numbered(1))
	_, err := s.disk.db().Write.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	ok(t, err)
	// The tree that finds transitions by ID: each new one must go through it.
	var root int64
	ok(t, s.disk.db().Write.QueryRow(`SELECT rootpage FROM sqlite_schema WHERE name = 'sqlite_autoindex_transition_1'`).Scan(&root))
	f, err := os.OpenFile(filepath.Join(dir, dbName), os.O_WRONLY, 0)
	ok(t, err)
	_, err = f.WriteAt(make([]byte, pageSize), (root-1)*pageSize)
	ok(t, errors.Join(err, f.Close()))
	s.disk.db().Write.SetMaxIdleConns(0) // forget the pages in memory
	s.disk.db().Write.SetMaxIdleConns(1)
	late := raise(5000, start.Add(day))
	if err := s.Save([]alarms.Transition{late}, nil); err == nil {
		t.Fatal("the damage is not met")
	}
	ok(t, s.Save([]alarms.Transition{late}, nil))
	all, err := s.Log.Transitions(ctx, LogQuery{Limit: 1000})
	ok(t, err)
	same(t, "the log", len(all), 301)
	if lost := said(s); len(lost) != 1 || !strings.Contains(lost[0], "all that is kept could be read") {
		t.Errorf("lost: %q", lost)
	}
	same(t, "put aside", len(asides(t, dir, "telltale.db.damaged-")), 1)
	s.Append(numbered(2))
	ok(t, s.Checkpoint([]byte("new")))
	same(t, "history", history(t, s), 2)
	ok(t, s.Close())
	s = open(t, dir, Options{})
	snap, _ := recovered(t, s)
	same(t, "snapshot", snap, "new")
}

// A damaged database that was copied, but not yet put in its place when the
// power went, is.
func TestMendingGoesOnAfterAPowerCut(t *testing.T) {
	c := killed(t)
	ok(t, os.Remove(c.path(dbName+"-wal")))
	ok(t, os.Rename(c.path(dbName), c.path(mendedName)))
	s := open(t, c.dir, Options{})
	defer s.Close()
	snap, _ := recovered(t, s)
	same(t, "snapshot", snap, "the state")
}

func TestTheLockHoldsWhenItsFileIsRemoved(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	defer s.Close()
	ok(t, os.Remove(filepath.Join(dir, "lock")))
	if second, err := Open(dir, Options{}); !errors.Is(err, ErrInUse) {
		second.Close()
		t.Errorf("two have the store: %v", err)
	}
}

// Several pages that cannot be read cost what is on them, and no more.
func TestWhatLiesBetweenDamagedPagesIsCopied(t *testing.T) {
	dir := t.TempDir()
	s := open(t, filepath.Join(dir, "store"), Options{})
	const rows = 3000
	var ts []alarms.Transition
	for n := range rows {
		ts = append(ts, raise(n+1, start.Add(time.Duration(n)*time.Minute)))
	}
	ok(t, s.Save(ts, nil))
	ok(t, s.Close())
	c := scene{dir: filepath.Join(dir, "store")}
	ruined := 0
	c.change(t, dbName, func(b []byte) []byte {
		for at := pageSize; at < len(b); at += pageSize {
			if page := b[at:][:pageSize]; page[0] == 13 && strings.Contains(string(page), `"Sentence"`) { // a leaf of the log
				if ruined%20 == 0 {
					clear(page)
				}
				ruined++
			}
		}
		return b
	})
	if ruined < 100 {
		t.Fatalf("only %d pages of the log are found", ruined)
	}
	s = open(t, c.dir, Options{})
	defer s.Close()
	var left int
	ok(t, s.disk.db().Read.QueryRow(`SELECT count(*) FROM transition`).Scan(&left))
	if want := rows * 8 / 10; left < want || left >= rows {
		t.Errorf("%d of %d are left, want at least %d", left, rows, want)
	}
	if lost := fmt.Sprint(said(s)); !strings.Contains(lost, "of the log and the messages not all could be read") {
		t.Error(lost)
	}
}

// What is lost is not forgotten by a crash before it was told.
func TestALossComesAgainUntilItIsTakenAndCheckpointed(t *testing.T) {
	c := killed(t)
	ok(t, os.RemoveAll(c.dir))
	for _, take := range []bool{false, true, true} { // each run but the last ends without a checkpoint
		s := open(t, c.dir, Options{})
		if _, _, err := s.Recover(); !errors.Is(err, errSnapshot) {
			t.Fatalf("Recover: %v", err)
		}
		if take {
			same(t, "losses", len(s.Losses()), 1)
			if !s.CheckpointDue() {
				t.Error("no checkpoint is due although losses were taken")
			}
		}
		ok(t, s.Close())
	}
	s := open(t, c.dir, Options{})
	same(t, "losses", len(s.Losses()), 1)
	ok(t, s.Checkpoint([]byte("told")))
	if s.CheckpointDue() {
		t.Error("a checkpoint is due again")
	}
	ok(t, s.Close())
	s = open(t, c.dir, Options{})
	defer s.Close()
	snap, _ := recovered(t, s)
	same(t, "snapshot", snap, "told")
	if lost := s.Losses(); lost != nil {
		t.Errorf("told and lost again: %q", lost)
	}
}
