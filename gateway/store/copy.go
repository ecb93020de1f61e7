package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"

	"telltale/alarms"
	"telltale/gateway/store/sqlite"
)

// Copying is how Copy writes. The zero value means its defaults.
type Copying struct {
	// Patience is how long one write of the copy may take; default 30 s. What
	// takes longer is given up, so that a disk that does not answer cannot keep
	// the database's log of writes (WAL) from being begun again.
	Patience time.Duration

	guard   sqlite.Guard // tests: refuse or hold writes
	between func()       // tests: called when the database is copied and the journal is not
}

// copyTries bounds how often a copy is begun again because the state of the
// alarms was laid down meanwhile, which is once an hour.
const copyTries = 5

// Copy copies what the store in dir keeps, database and journal, into to, an
// empty directory. It takes no lock: a watch may be writing there, which neither
// waits for it nor is waited for. The copy fits together: it is the store as it
// was at one moment, with every input up to then that the disk had.
//
// Damage in the journal is an error: the watch begins another one within the hour.
func Copy(ctx context.Context, dir, to string, how Copying) error {
	if how.Patience == 0 {
		how.Patience = 30 * time.Second
	}
	for range copyTries {
		steady, err := copyOnce(ctx, filepath.Clean(dir), to, how)
		if steady || err != nil {
			return err
		}
	}
	return errors.New("the watch laid down the state of the alarms each time; try again")
}

// copyOnce is one try; steady is false where it does not fit together.
func copyOnce(ctx context.Context, dir, to string, how Copying) (steady bool, err error) {
	if err := emptied(to); err != nil {
		return false, err
	}
	l, err := beside(ctx, dir)
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, l.close()) }()
	if err := l.copyDatabase(ctx, filepath.Join(to, dbName), how); err != nil {
		return false, err
	}
	if how.between != nil {
		how.between()
	}
	copied, err := sqlite.OpenStill(filepath.Join(to, dbName), 1, false)
	if err != nil {
		return false, err
	}
	first, err := firstSegment(ctx, copied.Read)
	if err = errors.Join(err, copied.Close()); err != nil {
		return false, err
	}
	steady, err = copyJournal(dir, to, first)
	if !steady || err != nil {
		return false, err
	}
	now, err := firstSegment(ctx, l.db.Read)
	return err == nil && now == first && l.inUse == sqlite.InUse(dir), errors.Join(err, SyncDir(to))
}

func emptied(dir string) error {
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		err = errors.Join(err, os.Remove(filepath.Join(dir, e.Name())))
	}
	return err
}

// copyDatabase has SQLite write the database as it is now into a new file. That
// is one reading transaction, which holds up no writer.
func (l *looking) copyDatabase(ctx context.Context, to string, how Copying) error {
	layer := fmt.Sprintf("telltale-copy-%p", l)
	vfs.Register(layer, &patientVFS{how: how})
	defer vfs.Unregister(layer)
	conn, err := l.db.Read.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	target := url.URL{Scheme: "file", Opaque: (&url.URL{Path: to}).EscapedPath(), RawQuery: url.Values{"vfs": {layer}}.Encode()}
	if _, err = conn.ExecContext(ctx, "PRAGMA query_only(OFF)"); err == nil { // it speaks of the copy too
		_, err = conn.ExecContext(ctx, "VACUUM INTO ?", target.String())
	}
	switch {
	case sqlite.NoSpace(err):
		return ErrFull
	case sqlite.Damaged(err):
		return fmt.Errorf("the database %s is %w: %w", filepath.Join(l.folder.dir, dbName), ErrDamaged, err)
	}
	return err
}

// firstSegment is the first of the journal that the database asks for.
func firstSegment(ctx context.Context, db sqlite.Querier) (uint64, error) {
	found, err := sqlite.CollectAll(ctx, db, scanNumber, `SELECT segment FROM core`)
	if err != nil || len(found) == 0 {
		return 1, err
	}
	return found[0], nil
}

// copyJournal copies the good frames of every segment from first on.
func copyJournal(dir, to string, first uint64) (steady bool, err error) {
	all, err := segments(dir)
	if err != nil {
		return false, err
	}
	for _, n := range slices.DeleteFunc(all, func(n uint64) bool { return n < first }) {
		b, err := soundSegment(filepath.Join(dir, segmentName(n)), n)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return false, nil
		case err != nil:
			return false, err
		}
		if err := WriteNew(filepath.Join(to, segmentName(n)), b); err != nil {
			return false, err
		}
	}
	return true, nil
}

// soundSegment reads the good frames of a segment. One that is just being
// written may look damaged, where it was written while a page was read: then it
// is read again.
func soundSegment(path string, n uint64) ([]byte, error) {
	const tries = 20
	for range tries {
		b, err := readSegmentFile(path)
		if err != nil {
			return nil, err
		}
		found, _ := readSegment(b, n, func(alarms.Input) bool { return true })
		switch {
		case found.frames == 0 && !found.torn:
			return appendSegmentHead(nil, n), nil
		case found.damaged == 0 && found.lost == 0 && !wrecked(b, found.end):
			return b[:found.end], nil
		}
		time.Sleep(20 * time.Millisecond) // a flush takes less, as a rule
	}
	return nil, fmt.Errorf("the journal %s is %w; the watch begins another one within the hour, then try again", path, ErrDamaged)
}

// WriteNew writes a new file that its owner alone can read, and has the disk
// confirm it.
func WriteNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// patientVFS is a file layer for one database that nobody else opens. Each of
// its calls is given up when the disk does not answer in time.
type patientVFS struct {
	how  Copying
	dead atomic.Bool // it has not answered once: nothing more is asked
}

func (v *patientVFS) Open(name string, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	f, err := soon(v, func() (*os.File, error) { return os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o600) })
	if err != nil {
		return nil, flags, vfs.SystemError(err, sqlite3.CANTOPEN)
	}
	return patientFile{v, f}, flags, nil
}

func (v *patientVFS) Delete(name string, _ bool) error {
	_, err := soon(v, func() (int, error) { return 0, os.Remove(name) })
	if errors.Is(err, fs.ErrNotExist) {
		return sqlite3.IOERR_DELETE_NOENT
	}
	return err
}

func (v *patientVFS) Access(name string, flags vfs.AccessFlag) (bool, error) {
	_, err := soon(v, func() (fs.FileInfo, error) { return os.Stat(name) })
	return err == nil && flags == vfs.ACCESS_EXISTS, nil
}

func (*patientVFS) FullPathname(name string) (string, error) { return name, nil }

// soon does one thing on the disk, and leaves it to itself when it takes too long.
func soon[T any](v *patientVFS, do func() (T, error)) (none T, err error) {
	if v.dead.Load() {
		return none, errNoAnswer
	}
	type answer struct {
		what T
		err  error
	}
	came := make(chan answer, 1)
	go func() { // ends with the call, or is left behind
		what, err := do()
		came <- answer{what, err}
	}()
	late := time.NewTimer(v.how.Patience)
	defer late.Stop()
	select {
	case a := <-came:
		return a.what, a.err
	case <-late.C:
		v.dead.Store(true)
		return none, errNoAnswer
	}
}

var errNoAnswer = errors.New("the disk does not answer")

// patientFile is a file of it.
type patientFile struct {
	v *patientVFS
	f *os.File
}

func (p patientFile) WriteAt(b []byte, off int64) (int, error) {
	b = slices.Clone(b) // SQLite uses it again
	n, err := soon(p.v, func() (int, error) {
		if err := p.v.how.guard.Before(p.f.Name(), len(b)); err != nil {
			return 0, err
		}
		return p.f.WriteAt(b, off)
	})
	return n, sqlite.TagFull(err)
}

func (p patientFile) ReadAt(b []byte, off int64) (int, error) {
	type piece struct {
		b   []byte
		end error
	}
	got, err := soon(p.v, func() (piece, error) {
		own := make([]byte, len(b))
		n, err := p.f.ReadAt(own, off)
		return piece{own[:n], err}, nil
	})
	if err != nil {
		return 0, err
	}
	return copy(b, got.b), got.end
}

func (p patientFile) do(f func() error) error {
	_, err := soon(p.v, func() (struct{}, error) { return struct{}{}, f() })
	return sqlite.TagFull(err)
}

func (p patientFile) Size() (int64, error) {
	info, err := soon(p.v, p.f.Stat)
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}

func (p patientFile) Close() error                                  { return p.do(p.f.Close) }
func (p patientFile) Truncate(n int64) error                        { return p.do(func() error { return p.f.Truncate(n) }) }
func (p patientFile) Sync(vfs.SyncFlag) error                       { return p.do(p.f.Sync) }
func (patientFile) Lock(vfs.LockLevel) error                        { return nil }
func (patientFile) Unlock(vfs.LockLevel) error                      { return nil }
func (patientFile) CheckReservedLock() (bool, error)                { return false, nil }
func (patientFile) SectorSize() int                                 { return 0 }
func (patientFile) DeviceCharacteristics() vfs.DeviceCharacteristic { return 0 }
