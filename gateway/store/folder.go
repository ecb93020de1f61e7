package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"telltale/gateway/store/sqlite"
)

// folder is the store's directory, and the lock on it.
type folder struct {
	dir    string
	lock   *os.File   // the directory, and
	file   *os.File   // "lock" in it, which a version of before locks alone
	sizing sync.Mutex // held while the files are looked up
}

func (f *folder) path(name string) string { return filepath.Join(f.dir, name) }

// Take takes the directory of a store for this process, as Open does, and
// release gives it back. The error is ErrInUse, within a sentence, where a watch
// has it.
func Take(dir string) (release func() error, err error) {
	f := &folder{dir: filepath.Clean(dir)}
	if err := f.claim(); err != nil {
		return nil, fmt.Errorf("cannot take the store %s: %w", f.dir, err)
	}
	return f.unclaim, nil
}

// claim makes the directory and takes it for this process.
func (f *folder) claim() error {
	if f.lock != nil {
		return nil
	}
	if err := os.Mkdir(f.dir, 0o750); err != nil && !errors.Is(err, os.ErrExist) {
		return explain(err)
	}
	if info, err := os.Stat(f.dir); err != nil {
		return explain(err)
	} else if !info.IsDir() {
		return fmt.Errorf("it is %w; give the name of a directory", errNotDirectory)
	}
	dir, err := os.Open(f.dir)
	if err != nil {
		return explain(err)
	}
	f.lock = dir
	ok, err := sqlite.TryLock(dir) // some file systems lock files alone
	if ok || err != nil {
		file, openErr := os.OpenFile(f.path("lock"), os.O_RDWR|os.O_CREATE, 0o640)
		switch {
		case openErr == nil:
			f.file = file
			ok, err = sqlite.TryLock(file)
		case err != nil:
			return errors.Join(explain(openErr), f.unclaim())
		}
	}
	switch {
	case err != nil:
		return errors.Join(fmt.Errorf("it cannot be locked: %w", err), f.unclaim())
	case !ok:
		return errors.Join(fmt.Errorf("it is %w; two watches must not share one store", ErrInUse), f.unclaim())
	}
	return nil
}

// unclaim gives the directory up.
func (f *folder) unclaim() error {
	var errs []error
	for _, held := range []*os.File{f.lock, f.file} {
		if held != nil {
			errs = append(errs, sqlite.Unlock(held), held.Close())
		}
	}
	f.lock, f.file = nil, nil
	return errors.Join(errs...)
}

// moved reports whether the directory is not the one that was locked.
func (f *folder) moved() bool {
	held, err := f.lock.Stat()
	if err != nil {
		return true
	}
	there, err := os.Stat(f.dir)
	return err != nil || !os.SameFile(held, there)
}

// room says why the disk takes nothing, where SQLite knows only that it does
// not: it needs some room beside the database.
func (f *folder) room() error {
	tmp, err := os.CreateTemp(f.dir, ".room-*")
	if err != nil {
		return err
	}
	_, err = tmp.Write(make([]byte, 64<<10))
	return errors.Join(err, tmp.Close(), os.Remove(tmp.Name()))
}

// putAside renames a file, and those beside it that belong to it, to a name
// that says so and when, and returns that name.
func (f *folder) putAside(name string, beside ...string) (string, error) {
	first := damagedName(name)
	aside := first
	for n := 2; ; n++ {
		if _, err := os.Lstat(f.path(aside)); errors.Is(err, fs.ErrNotExist) {
			break
		}
		aside = fmt.Sprintf("%s-%d", first, n)
	}
	for _, suffix := range append(beside, "") { // the file itself last: until then it is found again
		err := os.Rename(f.path(name+suffix), f.path(aside+suffix))
		if err != nil && !(suffix != "" && errors.Is(err, fs.ErrNotExist)) {
			return "", err
		}
	}
	if err := os.Remove(f.path(name + "-shm")); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	return aside, SyncDir(f.dir)
}

// damagedName is what a damaged file is called from now on.
func damagedName(name string) string {
	return name + ".damaged-" + time.Now().UTC().Format("20060102-150405")
}

// size is how many bytes the files hold. It looks them all up.
func (f *folder) size(ctx context.Context) (int64, error) {
	if !f.sizing.TryLock() {
		return 0, errors.New("the size of the store is being looked up already")
	}
	return sqlite.Within(ctx, func() (sum int64, err error) {
		defer f.sizing.Unlock()
		entries, err := os.ReadDir(f.dir)
		if err != nil {
			return 0, err
		}
		for _, e := range entries {
			info, err := e.Info()
			switch {
			case errors.Is(err, fs.ErrNotExist): // a journal segment that has just gone
			case err != nil:
				return 0, err
			case info.Mode().IsRegular():
				sum += info.Size()
			}
		}
		return sum, nil
	})
}

// explain adds what to do to the errors a person can do something about.
func explain(err error) error {
	switch {
	case errors.Is(err, ErrNewer):
		return err
	case errors.Is(err, syscall.ENOTDIR):
		return fmt.Errorf("a part of the path is %w: %w", errNotDirectory, err)
	case sqlite.ReadOnly(err):
		return fmt.Errorf("it %w by this user; check its owner and the disk: %w", errReadOnly, err)
	case sqlite.Damaged(err):
		return fmt.Errorf("telltale.db is %w: %w", ErrDamaged, err)
	case sqlite.NoSpace(err):
		return fmt.Errorf("%w; make room: %w", ErrFull, err)
	}
	return err
}
