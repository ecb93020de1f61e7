package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/store/sqlite"
)

// Names of the database's files.
const (
	dbName      = "telltale.db"
	mendingName = "telltale.db.mending" // being copied out of a damaged one
	mendedName  = "telltale.db.mended"  // copied; to take its place
)

// mender opens the database, or one in its place, and mends what is damaged.
type mender struct {
	folder  *folder
	losses  *losses
	disk    *disk
	readers int          // connections
	guard   sqlite.Guard // tests
}

// lookFor bounds how long a start may look for damage in the database.
const lookFor = 5 * time.Second

// openSound opens the database, of which nothing is damaged as far as could be
// looked in lookFor. A damaged one is put aside, and a new one takes its place
// with what could be read of it. fresh says that there was none.
func (m *mender) openSound(ctx context.Context) (db *sqlite.Database, fresh bool, err error) {
	if err := m.finishMending(); err != nil {
		return nil, false, err
	}
	path, err := filepath.Abs(m.folder.path(dbName))
	if err != nil {
		return nil, false, err
	}
	info, statErr := os.Lstat(path)
	fresh = errors.Is(statErr, fs.ErrNotExist) || statErr == nil && info.Size() == 0
	if fresh && statErr == nil {
		m.losses.lose(tongue.Keep("the database was empty: log, history, devices and messages that waited are gone"))
		m.losses.forget()
	}
	if err := m.clearBeside(); err != nil {
		return nil, false, explain(err)
	}
	m.lookAtWAL(path + "-wal")
	if m.disk.sick.Load() && !fresh {
		err = errShape
	} else if db, err = m.tryDatabase(ctx, path, fresh); err == nil || fresh && statErr != nil || !sqlite.Broken(err) && !errors.Is(err, errShape) || sqlite.ReadOnly(err) || sqlite.NoSpace(err) {
		return db, fresh, explain(err)
	}
	if !sqlite.Damaged(err) && !errors.Is(err, errShape) && readsWell(ctx, path) {
		if full := m.folder.room(); full != nil {
			err = full
		}
		return nil, false, explain(err)
	}
	m.losses.log.Error().Err(err).Msg("the database is damaged")
	if err := m.mendDatabase(ctx, path); err != nil {
		return nil, false, err
	}
	m.disk.sick.Store(false)
	db, err = m.tryDatabase(ctx, path, false)
	return db, false, explain(err)
}

// clearBeside puts aside what has the name of one of SQLite's files beside the
// database and is no file, nor the link to the index in memory.
func (m *mender) clearBeside() error {
	for _, name := range []string{dbName + "-wal", dbName + "-shm", dbName + "-journal"} {
		info, err := os.Lstat(m.folder.path(name))
		if err != nil || info.Mode().IsRegular() || name == dbName+"-shm" && info.Mode()&fs.ModeSymlink != 0 {
			continue
		}
		aside, err := m.folder.putAside(name)
		if err != nil {
			return err
		}
		m.losses.lose(tongue.Keep("what stood in the place of the file %s is put aside as %s", name, aside))
	}
	return nil
}

// errShape: it is a database, but not one of this store.
var errShape = errors.New("the database is damaged: it does not hold what the store keeps")

// tryDatabase opens the database and looks whether it is sound.
func (m *mender) tryDatabase(ctx context.Context, path string, fresh bool) (*sqlite.Database, error) {
	db, err := sqlite.Open(path, m.readers, m.guard)
	if err != nil {
		return nil, err
	}
	if !fresh {
		err = intact(ctx, db)
	}
	if err == nil {
		err = migrate(ctx, db.Write, migrations)
	}
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// intact says what is wrong with a database that is said to be ours.
func intact(ctx context.Context, db *sqlite.Database) error {
	done, err := migrated(ctx, db.Write)
	switch {
	case err != nil:
		return err
	case len(done) == 0:
		return errShape
	}
	if err := known(done); err != nil {
		return err
	}
	return lookThrough(ctx, db)
}

// lookThrough reads the whole database once, if there is time for it.
func lookThrough(ctx context.Context, db *sqlite.Database) error {
	short, cancel := context.WithTimeout(ctx, lookFor)
	defer cancel()
	var found string
	err := db.Write.QueryRowContext(short, "PRAGMA quick_check(1)").Scan(&found)
	switch {
	case short.Err() != nil:
		return nil
	case err != nil:
		return err
	case found != "ok":
		return fmt.Errorf("%w: %s", errShape, strings.ReplaceAll(found, "\n", " "))
	}
	return nil
}

// readsWell reports whether a database that cannot be opened for writing is
// sound all the same: then it is the disk that refuses.
func readsWell(ctx context.Context, path string) bool {
	db, err := sqlite.OpenStill(path, 1, false)
	if err != nil {
		return false
	}
	return errors.Join(intact(ctx, db), db.Close()) == nil
}

// mendDatabase copies what can be read of a damaged database into a new one,
// puts the damaged one aside and the new one in its place. If the disk has no
// room for it the history is left out.
func (m *mender) mendDatabase(ctx context.Context, path string) error {
	lost, err := m.copyOut(ctx, path, true)
	if sqlite.NoSpace(err) {
		lost, err = m.copyOut(ctx, path, false)
	}
	if err != nil {
		return explain(err)
	}
	if err := syncFile(m.folder.path(mendingName)); err != nil {
		return explain(err)
	}
	if err := os.Rename(m.folder.path(mendingName), m.folder.path(mendedName)); err != nil {
		return explain(err)
	}
	aside, err := m.folder.putAside(dbName, "-wal")
	if err != nil {
		return explain(err)
	}
	words := tongue.Keep("the database was damaged; it is put aside as %s", aside)
	for _, what := range lost {
		words = tongue.Keep("%s; of %s not all could be read", words, what)
		if what == theState {
			m.losses.forget()
		}
	}
	if len(lost) == 0 {
		words = tongue.Keep("%s; all that is kept could be read", words)
	}
	m.losses.lose(words)
	return m.finishMending()
}

// copyOut makes the new database.
func (m *mender) copyOut(ctx context.Context, path string, history bool) (lost []tongue.Text, err error) {
	if err := m.finishMending(); err != nil { // of a try before
		return nil, err
	}
	to, err := filepath.Abs(m.folder.path(mendingName))
	if err != nil {
		return nil, err
	}
	into, err := sqlite.Open(to, 1, m.guard)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, into.Close()) }()
	return fill(ctx, into, path, history)
}

// fill copies what can be read of the database at path into a new one.
func fill(ctx context.Context, into *sqlite.Database, path string, history bool) (lost []tongue.Text, err error) {
	if err := migrate(ctx, into.Write, migrations); err != nil {
		return nil, err
	}
	from, err := sqlite.OpenStill(path, 1, true)
	if err != nil {
		return allKept(), nil
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	return salvage(ctx, from.Read, into.Write, history)
}

// inMemory makes a database in memory, with what can be read of a damaged one
// but for its history.
func (m *mender) inMemory() (*sqlite.Database, error) {
	return sqlite.OpenMemory(m.readers, func(d *sqlite.Database) error {
		_, err := fill(context.Background(), d, m.folder.path(dbName), false)
		return err
	})
}

// finishMending puts a mended database in its place, if that is free, and
// removes what is left of one that was not.
func (m *mender) finishMending() error {
	for _, suffix := range []string{"", "-wal", "-shm"} { // of a copy that was cut short
		if err := os.RemoveAll(m.folder.path(mendingName + suffix)); err != nil {
			return explain(err)
		}
	}
	if _, err := os.Lstat(m.folder.path(mendedName)); err != nil {
		return nil
	}
	if _, err := os.Lstat(m.folder.path(dbName)); !errors.Is(err, fs.ErrNotExist) {
		return explain(os.RemoveAll(m.folder.path(mendedName)))
	}
	if err := os.Rename(m.folder.path(mendedName), m.folder.path(dbName)); err != nil {
		return explain(err)
	}
	return explain(SyncDir(m.folder.dir))
}

func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// lookAtWAL notes what of the database's newest writes is damaged. SQLite ends
// at the first damage without a word, as after a power cut.
func (m *mender) lookAtWAL(path string) {
	b, err := os.ReadFile(path)
	if err != nil || !sqlite.WALDamaged(b) {
		return
	}
	words := tongue.Keep("the newest writes to the database (its WAL) are damaged, and what was saved last of the alarms, the log and the messages may be missing")
	aside := damagedName(dbName + "-wal")
	if err := os.WriteFile(m.folder.path(aside), b, 0o640); err == nil {
		words = tongue.Keep("%s; a copy is put aside as %s", words, aside)
	}
	m.losses.lose(words)
}
