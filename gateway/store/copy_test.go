package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store/sqlite"
)

// busy is a store that is written as fast as it can, and says what it was
// promised.
type busy struct {
	*Store
	synced atomic.Int64
	mu     sync.Mutex
	saved  []string
}

func (b *busy) promised() (n int, saved []string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return int(b.synced.Load()), slices.Clone(b.saved)
}

// write writes until quit is closed, with a checkpoint in so many turns.
func (b *busy) write(quit <-chan struct{}, checkpointIn int) error {
	n := 0
	for i := 1; ; i++ {
		select {
		case <-quit:
			return nil
		default:
		}
		for range rand.IntN(100) {
			n++
			b.Append(numbered(n))
		}
		var err error
		switch {
		case i%checkpointIn == 0:
			err = b.Checkpoint([]byte(fmt.Sprint(n)))
		case i%3 == 2:
			tr := raise(i, start.Add(time.Duration(n)*time.Second))
			if err = b.Save([]alarms.Transition{tr}, []reach.Outgoing{telling(tr, "robin", 0)}); err == nil {
				b.mu.Lock()
				b.saved = append(b.saved, tr.ID)
				b.mu.Unlock()
			}
		default:
			err = b.Sync()
		}
		if err != nil {
			return err
		}
		b.synced.Store(int64(n))
	}
}

// fitsTogether opens a copy as a store and demands what was promised before it was
// made, with no gap and nothing twice.
func fitsTogether(t *testing.T, dir string, least int, saved []string) {
	t.Helper()
	found, err := Inspect(context.Background(), dir)
	ok(t, err)
	if len(found.Problems) > 0 {
		t.Fatalf("the copy has problems: %v", found.Problems)
	}
	s := open(t, dir, Options{})
	defer s.Close()
	if lost := s.Losses(); len(lost) > 0 {
		t.Errorf("the copy has lost %v", lost)
	}
	n, err := standing(s)
	ok(t, err)
	if n < least {
		t.Errorf("the copy ends with reading %d; %d were on disk before it was begun", n, least)
	}
	same(t, "readings that were counted", int(found.Readings), n)
	history, err := s.History.Readings(context.Background(), "bench-1", alarms.Temperature, start, start.Add(time.Duration(n+1)*time.Second), 0)
	ok(t, err)
	same(t, "history", len(history), n)
	for _, id := range saved {
		if got, err := sqlite.One[int](context.Background(), s.disk.db().Read, `SELECT count(*) FROM transition WHERE id = ?`, id); err != nil || got != 1 {
			t.Errorf("%s was saved before the copy was begun and is there %d times (%v)", id, got, err)
		}
		if got, err := sqlite.One[int](context.Background(), s.disk.db().Read, `SELECT count(*) FROM outbox WHERE transition = ?`, id); err != nil || got != 1 {
			t.Errorf("what is to be told of %s is there %d times (%v)", id, got, err)
		}
	}
}

func TestACopyOfAStoreThatIsWrittenFitsTogether(t *testing.T) {
	t.Parallel()
	b := &busy{Store: fresh(t, Options{})}
	quit, done := make(chan struct{}), make(chan error, 1)
	go func() { done <- b.write(quit, 1500) }()
	stop := sync.OnceFunc(func() { close(quit); ok(t, <-done) })
	defer stop() // before the store is closed
	made := 0
	for made < sample(8, 24) && b.synced.Load() < 900_000 { // as many as a question gives at most
		least, saved := b.promised()
		to := t.TempDir()
		ok(t, Copy(context.Background(), b.folder.dir, to, Copying{}))
		fitsTogether(t, to, least, saved)
		made++
		live, err := Inspect(context.Background(), b.folder.dir)
		ok(t, err)
		if !live.InUse || len(live.Problems) > 0 {
			t.Errorf("in use %v, with %v", live.InUse, live.Problems)
		}
	}
	stop()
	n, saved := b.promised()
	t.Logf("%d copies, while %d readings and %d transitions were saved", made, n, len(saved))
}

func TestACheckpointInTheMiddleOfACopy(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		times int
		ok    bool
	}{{1, true}, {copyTries - 1, true}, {copyTries, false}} {
		s := fresh(t, Options{})
		n, came := 0, 0
		more := func() {
			if came++; came > c.times {
				return
			}
			for range 50 {
				n++
				s.Append(numbered(n))
			}
			ok(t, s.Checkpoint([]byte(fmt.Sprint(n))))
		}
		to := t.TempDir()
		err := Copy(context.Background(), s.folder.dir, to, Copying{between: more})
		if c.ok != (err == nil) {
			t.Fatalf("with %d checkpoints: %v", c.times, err)
		}
		if c.ok {
			fitsTogether(t, to, n, nil)
		} else if !strings.Contains(err.Error(), "try again") {
			t.Errorf("it says %v", err)
		}
	}
}

// Where nothing was laid down yet all is in the journal; where nobody writes the
// copy is made without a connection that could change anything.
func TestACopyOfAStoreThatIsYoungOrAtRest(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "store")
	s := open(t, dir, Options{})
	for n := range 10 {
		s.Append(numbered(n + 1))
	}
	ok(t, s.Sync())
	young := t.TempDir()
	ok(t, Copy(context.Background(), dir, young, Copying{}))
	fitsTogether(t, young, 10, nil)
	ok(t, s.Checkpoint([]byte("10")))
	ok(t, s.Close())
	before := filesIn(t, dir)
	rest := t.TempDir()
	ok(t, Copy(context.Background(), dir, rest, Copying{}))
	same(t, "what changed in the store", changed(before, filesIn(t, dir)), "")
	fitsTogether(t, rest, 10, nil)
	if err := Copy(context.Background(), filepath.Join(dir, "none"), t.TempDir(), Copying{}); !errors.Is(err, ErrNone) {
		t.Errorf("of no store: %v", err)
	}
}

// A disk that takes nothing any more, or does not answer, is given up, and lets go
// of the store.
func TestACopyOntoABadDiskLetsTheStoreGo(t *testing.T) {
	t.Parallel()
	s := fresh(t, Options{})
	for n := range 20_000 {
		s.Append(numbered(n + 1))
	}
	ok(t, s.Checkpoint([]byte("20000")))
	release := make(chan struct{})
	defer close(release)
	for _, c := range []struct {
		name  string
		guard sqlite.Guard
		want  error
	}{
		{"full", func(string, int) error { return &os.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC} }, ErrFull},
		{"hanging", func(string, int) error { <-release; return nil }, errNoAnswer},
	} {
		writes := 0
		late := func(path string, n int) error {
			if writes++; writes < 5 {
				return nil
			}
			ok(t, s.Save([]alarms.Transition{raise(writes, start)}, nil)) // the writer is not held up
			return c.guard(path, n)
		}
		err := Copy(context.Background(), s.folder.dir, t.TempDir(), Copying{Patience: 200 * time.Millisecond, guard: late})
		if err == nil || c.want == ErrFull && !errors.Is(err, ErrFull) {
			t.Errorf("%s: %v", c.name, err)
		}
		var busy, log, done int
		ok(t, s.disk.db().Write.QueryRow(`PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &log, &done))
		if busy != 0 || log != 0 {
			t.Errorf("%s: the store is still held: busy %d, %d pages left", c.name, busy, log)
		}
	}
}

func TestACopyOfADamagedJournalIsRefused(t *testing.T) {
	t.Parallel()
	s := killed(t)
	s.change(t, s.journal(t, 0), func(b []byte) []byte { return garbage(b, 40, 80) })
	if err := Copy(context.Background(), s.dir, t.TempDir(), Copying{}); !errors.Is(err, ErrDamaged) {
		t.Errorf("got %v", err)
	}
}

// filesIn are the files of a directory, and when each was changed.
func filesIn(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	ok(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		if d.Type()&fs.ModeSymlink != 0 { // to the index in memory, which is no part of what is kept
			all[d.Name()], err = os.Readlink(path)
			return err
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		info, err := d.Info()
		all[d.Name()] = fmt.Sprint(info.ModTime().UnixNano(), info.Mode(), string(b))
		return err
	}))
	return all
}

func changed(before, after map[string]string) string {
	var names []string
	for name := range before {
		if after[name] != before[name] {
			names = append(names, name)
		}
	}
	for name := range after {
		if _, there := before[name]; !there {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return strings.Join(names, " ")
}
