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
)

// Names of the database's files.
const (
	dbName      = "telltale.db"
	mendingName = "telltale.db.mending" // being copied out of a damaged one
	mendedName  = "telltale.db.mended"  // copied; to take its place
)

// lookFor bounds how long a start may look for damage in the database.
const lookFor = 5 * time.Second

// openSound opens the database, of which nothing is damaged as far as could be
// looked in lookFor. A damaged one is put aside, and a new one takes its place
// with what could be read of it. fresh says that there was none.
func (s *Store) openSound(ctx context.Context) (db *database, fresh bool, err error) {
	if err := s.finishMending(); err != nil {
		return nil, false, err
	}
	path, err := filepath.Abs(s.path(dbName))
	if err != nil {
		return nil, false, err
	}
	info, statErr := os.Lstat(path)
	fresh = errors.Is(statErr, fs.ErrNotExist) || statErr == nil && info.Size() == 0
	if fresh && statErr == nil {
		s.lose("the database was empty: log, history, devices and messages that waited are gone")
		s.forget()
	}
	if err := s.clearBeside(); err != nil {
		return nil, false, s.explain(err)
	}
	s.lookAtWAL(path + "-wal")
	if s.sick.Load() && !fresh {
		err = errShape
	} else if db, err = s.tryDatabase(ctx, path, fresh); err == nil || fresh && statErr != nil || !driverBroken(err) && !errors.Is(err, errShape) || readOnly(err) || noSpace(err) {
		return db, fresh, s.explain(err)
	}
	if !driverDamaged(err) && !errors.Is(err, errShape) && readsWell(ctx, path) {
		if full := s.room(); full != nil {
			err = full
		}
		return nil, false, s.explain(err)
	}
	s.opt.Log.Error().Err(err).Msg("the database is damaged")
	if err := s.mendDatabase(ctx, path); err != nil {
		return nil, false, err
	}
	s.sick.Store(false)
	db, err = s.tryDatabase(ctx, path, false)
	return db, false, s.explain(err)
}

// clearBeside puts aside what has the name of one of SQLite's files beside the
// database and is no file.
func (s *Store) clearBeside() error {
	for _, name := range []string{dbName + "-wal", dbName + "-shm", dbName + "-journal"} {
		info, err := os.Lstat(s.path(name))
		if err != nil || info.Mode().IsRegular() {
			continue
		}
		aside, err := s.putAside(name)
		if err != nil {
			return err
		}
		s.lose("what stood in the place of the file " + name + " is put aside as " + aside)
	}
	return nil
}

// errShape: it is a database, but not one of this store.
var errShape = errors.New("the database is damaged: it does not hold what the store keeps")

// tryDatabase opens the database and looks whether it is sound.
func (s *Store) tryDatabase(ctx context.Context, path string, fresh bool) (*database, error) {
	db, err := openDatabase(path, s.opt.Readers, s.opt.guard)
	if err != nil {
		return nil, err
	}
	if !fresh {
		err = intact(ctx, db)
	}
	if err == nil {
		err = migrate(ctx, db.write, migrations)
	}
	if err != nil {
		return nil, errors.Join(err, db.close())
	}
	return db, nil
}

// intact says what is wrong with a database that is said to be ours.
func intact(ctx context.Context, db *database) error {
	done, err := migrated(ctx, db.write)
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
func lookThrough(ctx context.Context, db *database) error {
	short, cancel := context.WithTimeout(ctx, lookFor)
	defer cancel()
	var found string
	err := db.write.QueryRowContext(short, "PRAGMA quick_check(1)").Scan(&found)
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
	db, err := openStill(path, 1, false)
	if err != nil {
		return false
	}
	return errors.Join(intact(ctx, db), db.close()) == nil
}

// room says why the disk takes nothing, where SQLite knows only that it does
// not: it needs some room beside the database.
func (s *Store) room() error {
	f, err := os.CreateTemp(s.dir, ".room-*")
	if err != nil {
		return err
	}
	_, err = f.Write(make([]byte, 64<<10))
	return errors.Join(err, f.Close(), os.Remove(f.Name()))
}

// mendDatabase copies what can be read of a damaged database into a new one,
// puts the damaged one aside and the new one in its place. If the disk has no
// room for it the history is left out.
func (s *Store) mendDatabase(ctx context.Context, path string) error {
	lost, err := s.copyOut(ctx, path, true)
	if noSpace(err) {
		lost, err = s.copyOut(ctx, path, false)
	}
	if err != nil {
		return s.explain(err)
	}
	if err := syncFile(s.path(mendingName)); err != nil {
		return s.explain(err)
	}
	if err := os.Rename(s.path(mendingName), s.path(mendedName)); err != nil {
		return s.explain(err)
	}
	aside, err := s.putAside(dbName, "-wal")
	if err != nil {
		return s.explain(err)
	}
	words := fmt.Sprintf("the database was damaged; it is put aside as %s", aside)
	for _, what := range lost {
		words += "; of " + what + " not all could be read"
		if what == theState {
			s.forget()
		}
	}
	if len(lost) == 0 {
		words += "; all that is kept could be read"
	}
	s.lose(words)
	return s.finishMending()
}

// copyOut makes the new database.
func (s *Store) copyOut(ctx context.Context, path string, history bool) (lost []string, err error) {
	if err := s.finishMending(); err != nil { // of a try before
		return nil, err
	}
	to, err := filepath.Abs(s.path(mendingName))
	if err != nil {
		return nil, err
	}
	into, err := openDatabase(to, 1, s.opt.guard)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, into.close()) }()
	return fill(ctx, into, path, history)
}

// fill copies what can be read of the database at path into a new one.
func fill(ctx context.Context, into *database, path string, history bool) (lost []string, err error) {
	if err := migrate(ctx, into.write, migrations); err != nil {
		return nil, err
	}
	from, err := openStill(path, 1, true)
	if err != nil {
		return allKept(), nil
	}
	defer func() { err = errors.Join(err, from.close()) }()
	return salvage(ctx, from.read, into.write, history)
}

// finishMending puts a mended database in its place, if that is free, and
// removes what is left of one that was not.
func (s *Store) finishMending() error {
	for _, suffix := range []string{"", "-wal", "-shm"} { // of a copy that was cut short
		if err := os.RemoveAll(s.path(mendingName + suffix)); err != nil {
			return s.explain(err)
		}
	}
	if _, err := os.Lstat(s.path(mendedName)); err != nil {
		return nil
	}
	if _, err := os.Lstat(s.path(dbName)); !errors.Is(err, fs.ErrNotExist) {
		return s.explain(os.RemoveAll(s.path(mendedName)))
	}
	if err := os.Rename(s.path(mendedName), s.path(dbName)); err != nil {
		return s.explain(err)
	}
	return s.explain(syncDir(s.dir))
}

// damagedName is what a damaged file is called from now on.
func damagedName(name string) string {
	return name + ".damaged-" + time.Now().UTC().Format("20060102-150405")
}

// putAside renames a file, and those beside it that belong to it, to a name
// that says so and when, and returns that name.
func (s *Store) putAside(name string, beside ...string) (string, error) {
	first := damagedName(name)
	aside := first
	for n := 2; ; n++ {
		if _, err := os.Lstat(s.path(aside)); errors.Is(err, fs.ErrNotExist) {
			break
		}
		aside = fmt.Sprintf("%s-%d", first, n)
	}
	for _, suffix := range append(beside, "") { // the file itself last: until then it is found again
		err := os.Rename(s.path(name+suffix), s.path(aside+suffix))
		if err != nil && !(suffix != "" && errors.Is(err, fs.ErrNotExist)) {
			return "", err
		}
	}
	if err := os.Remove(s.path(name + "-shm")); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	return aside, syncDir(s.dir)
}

func (s *Store) path(name string) string { return filepath.Join(s.dir, name) }

func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
