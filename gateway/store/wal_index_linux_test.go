package store

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/store/sqlite"
)

// indexOf returns where the index of the WAL of the open store s lies.
func indexOf(t *testing.T, s *Store) string {
	t.Helper()
	if info, err := os.Stat(s.folder.path(dbName)); err == nil && sqlite.MemoryFor(info) == "" {
		t.Skip("this machine has no shared memory at /dev/shm")
	}
	path, err := os.Readlink(s.folder.path(dbName + "-shm"))
	ok(t, err)
	return path
}

// useOnce makes the store write, read and be read.
func useOnce(t *testing.T, s *Store, n int) {
	t.Helper()
	s.Append(numbered(n))
	ok(t, s.Sync())
	ok(t, s.Save([]alarms.Transition{raise(n, start.Add(time.Duration(n)*time.Minute))}, nil))
	ok(t, s.Checkpoint([]byte("snapshot")))
	_, err := s.Log.Transitions(t.Context(), LogQuery{Limit: 10})
	ok(t, err)
}

// No page that a disk keeps back may stop the process: not one file of the store
// is mapped into memory. A test that froze the file system would say the same
// and take the machine with it.
func TestNoFileOfTheStoreIsMapped(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	defer s.Close()
	useOnce(t, s, 1)
	_, err := Inspect(t.Context(), dir)
	ok(t, err)
	maps, err := os.ReadFile("/proc/self/maps")
	ok(t, err)
	if !strings.Contains(string(maps), indexOf(t, s)) {
		t.Errorf("the index %s is not mapped: this looks at nothing", indexOf(t, s))
	}
	for line := range strings.Lines(string(maps)) {
		if strings.Contains(line, dir) {
			t.Errorf("a file of the store is mapped: %s", line)
		}
	}
}

// Another program would make an index of its own, and two write as if each were
// alone. It is refused while the store is open, and welcome afterwards.
func TestAnotherProgramIsKeptOutWhileTheStoreIsOpen(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	useOnce(t, s, 1)
	another := func(do func(db *sql.DB) error) error {
		db, err := sql.Open("sqlite3", "file:"+s.folder.path(dbName))
		ok(t, err)
		return errors.Join(do(db), db.Close())
	}
	err := another(func(db *sql.DB) error {
		_, err := db.Exec("CREATE TABLE stranger (n)")
		return err
	})
	if err == nil || !sqlite.Broken(err) {
		t.Errorf("another program writes to the open database: %v", err)
	}
	useOnce(t, s, 2)
	index := indexOf(t, s)
	ok(t, s.Close())
	for _, path := range []string{filepath.Dir(index), s.folder.path(dbName + "-shm")} {
		if _, err := os.Lstat(path); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("a closed store leaves %s behind: %v", path, err)
		}
	}
	var n int
	ok(t, another(func(db *sql.DB) error { return db.QueryRow("SELECT count(*) FROM transition").Scan(&n) }))
	same(t, "rows", n, 2)
}

// A program that has the database open already keeps its index, and the watch
// takes the same.
func TestAProgramThatWasThereFirstSharesItsIndex(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	useOnce(t, s, 1)
	ok(t, s.Close())
	db, err := sql.Open("sqlite3", "file:"+s.folder.path(dbName))
	ok(t, err)
	defer db.Close()
	held, err := db.BeginTx(t.Context(), &sql.TxOptions{ReadOnly: true})
	ok(t, err)
	count := func() (n int) {
		ok(t, held.QueryRow("SELECT count(*) FROM transition").Scan(&n))
		return n
	}
	same(t, "rows before", count(), 1)
	s = open(t, dir, Options{})
	defer s.Close()
	useOnce(t, s, 2)
	same(t, "rows in the same reading", count(), 1)
	ok(t, held.Rollback())
	if info, err := os.Lstat(s.folder.path(dbName + "-shm")); err != nil || !info.Mode().IsRegular() {
		t.Errorf("the index in use was taken away: %v, %v", info, err)
	}
}

// What a crash leaves, or a copy of a store brings along, is a link to an index
// that is not this database's.
func TestALinkToAnotherIndexIsReplaced(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	useOnce(t, s, 1)
	ok(t, s.Close())
	elsewhere := filepath.Join(t.TempDir(), "index")
	ok(t, os.WriteFile(elsewhere, []byte("of another store"), 0o600))
	ok(t, os.Symlink(elsewhere, s.folder.path(dbName+"-shm")))
	s = open(t, dir, Options{})
	defer s.Close()
	useOnce(t, s, 2)
	if indexOf(t, s) == elsewhere || len(s.Losses()) > 0 {
		t.Errorf("the index is %s, lost %v", indexOf(t, s), s.Losses())
	}
	if b, err := os.ReadFile(elsewhere); err != nil || string(b) != "of another store" {
		t.Errorf("the other index was written to: %q, %v", b, err)
	}
}

// A reader that does not see the index of the watch, as in another container,
// must not begin one of its own.
func TestAReaderThatDoesNotSeeTheIndexIsRefused(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	defer s.Close()
	useOnce(t, s, 1)
	index := indexOf(t, s)
	away := filepath.Dir(index) + "-away"
	ok(t, os.Rename(filepath.Dir(index), away))
	if _, err := Inspect(t.Context(), dir); !errors.Is(err, sqlite.ErrElsewhere) && !strings.Contains(err.Error(), sqlite.ErrElsewhere.Error()) {
		t.Errorf("Inspect: %v", err)
	}
	if _, _, err := OpenToRead(dir, Options{}); err == nil || !strings.Contains(err.Error(), sqlite.ErrElsewhere.Error()) {
		t.Errorf("OpenToRead: %v", err)
	}
	useOnce(t, s, 2) // the watch goes on with what it has
	ok(t, os.Rename(away, filepath.Dir(index)))
	c, err := Inspect(t.Context(), dir)
	ok(t, err)
	same(t, "log", c.Log, 2)
}
