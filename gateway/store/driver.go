package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"sync/atomic"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"
	"github.com/ncruces/go-sqlite3/vfs"
)

// The SQLite driver is known to this file alone. It was chosen by measuring
// the two pure Go ones side by side, a writer and three readers on blocks of
// 350 bytes, Go 1.26, 2 cores (medians of three):
//
//	                       ncruces 0.37   modernc 1.62
//	blocks written         297,000 /s     277,000 /s
//	single commits         6,300 /s       5,900 /s
//	read by key            7.7 µs         7.2 µs
//	resident at the end    21.9 MiB       28.7 MiB
//	binary amd64 / arm     7.7 / 9.8 MB   6.7 / 6.6 MB
//
// Speed is equal; memory is what a small board is short of. This one also
// takes a file layer of ours, so that bytes written are counted where they are
// written and a refusing disk can be tested.

// guard is asked before each write. It is nil but in tests.
type guard func(path string, n int) error

func (g guard) before(path string, n int) error {
	if g == nil {
		return nil
	}
	return g(path, n)
}

// database is one SQLite file: one connection that writes, a few that read and
// one that reads the outbox alone, so that no question of the page, however many
// and however long, holds up a telling.
type database struct {
	write, read *sql.DB
	outbox      *sql.DB
	vfs         string
	written     atomic.Uint64 // bytes given to the disk
	syncs       atomic.Uint64
	guard       guard
}

func openDatabase(path string, readers int, g guard) (*database, error) {
	d := newDatabase(g)
	var err error
	if d.write, err = d.pool(path, 1, "rwc", "wal", 1024); err != nil {
		return nil, errors.Join(err, d.close())
	}
	if d.read, err = d.pool(path, readers, "rw", "", 512); err != nil {
		return nil, errors.Join(err, d.close())
	}
	if d.outbox, err = d.pool(path, 1, "rw", "", 256); err != nil {
		return nil, errors.Join(err, d.close())
	}
	hide(path, path+"-wal", path+"-shm")
	return d, nil
}

// hide takes files from everybody but their owner and group, as the journal is:
// SQLite makes them by what the process allows, and the directory may have been
// made by hand. Where it is not allowed to, they stay as they are.
func hide(paths ...string) {
	for _, path := range paths {
		if info, err := os.Stat(path); err == nil && info.Mode().Perm()&0o007 != 0 {
			_ = os.Chmod(path, info.Mode().Perm()&^0o007) // it can be read all the same
		}
	}
}

func newDatabase(g guard) *database {
	d := &database{guard: g}
	d.vfs = fmt.Sprintf("telltale-%p", d)
	vfs.Register(d.vfs, &countingVFS{VFS: vfs.Find("os"), db: d})
	return d
}

// How long a connection waits for another program's lock, ms: the one that
// writes for less than the watch has patience, so that people hear why.
const (
	lockedWrite = 1500
	lockedRead  = 10_000
)

// pool opens connections that all get the same pragmas. cache is in KiB each.
func (d *database) pool(path string, conns int, mode, journal string, cache int, pragmas ...string) (*sql.DB, error) {
	q := url.Values{"vfs": {d.vfs}, "mode": {mode}}
	locked := lockedRead
	if journal != "" {
		locked = lockedWrite
	}
	for _, p := range append(pragmas, fmt.Sprintf("busy_timeout(%d)", locked), "synchronous(FULL)", "foreign_keys(ON)",
		fmt.Sprintf("cache_size(-%d)", cache), "temp_store(MEMORY)", "trusted_schema(OFF)") {
		q.Add("_pragma", p)
	}
	if journal != "" {
		q.Add("_pragma", "journal_mode("+journal+")")
	} else {
		q.Add("_pragma", "query_only(ON)")
	}
	u := url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(), RawQuery: q.Encode()}
	db, err := driver.Open(u.String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(conns)
	db.SetMaxIdleConns(conns)
	if err := db.PingContext(context.Background()); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// lastWord is for how long a question that is given up may still come back by
// itself, as it does from a disk that answers.
const lastWord = 250 * time.Millisecond

// within asks the disk by f and gives up on it when ctx has ended. SQLite heeds
// that, but a system call does not come back from a disk that does not answer:
// f is then left to itself, with its connection, and what it returns goes
// nowhere. So no more of them are left than there are connections.
func within[T any](ctx context.Context, f func() (T, error)) (T, error) {
	if ctx.Done() == nil {
		return f()
	}
	type answer struct {
		what T
		err  error
	}
	came := make(chan answer, 1)
	go func() {
		what, err := f()
		came <- answer{what, err}
	}()
	select {
	case a := <-came:
		return a.what, a.err
	case <-ctx.Done():
	}
	late := time.NewTimer(lastWord)
	defer late.Stop()
	select {
	case a := <-came:
		return a.what, a.err
	case <-late.C:
		var none T
		return none, fmt.Errorf("the disk does not answer: %w", ctx.Err())
	}
}

// one returns the one value of a question.
func one[T any](ctx context.Context, db *sql.DB, query string, args ...any) (T, error) {
	return within(ctx, func() (v T, err error) {
		err = db.QueryRowContext(ctx, query, args...).Scan(&v)
		return v, err
	})
}

// ask is within for what gives nothing but an error. f must leave what it has
// found where nobody looks after an error.
func ask(ctx context.Context, f func() error) error {
	_, err := within(ctx, func() (struct{}, error) { return struct{}{}, f() })
	return err
}

// close ends all connections; the last one folds the WAL into the database.
func (d *database) close() error {
	var errs []error
	for _, db := range []*sql.DB{d.outbox, d.read, d.write} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	vfs.Unregister(d.vfs)
	return errors.Join(errs...)
}

// driverBroken says that the file cannot be read, for whatever reason, as
// opposed to a disk that takes no writes.
func driverBroken(err error) bool {
	return driverDamaged(err) || errors.Is(err, sqlite3.IOERR) || errors.Is(err, sqlite3.CANTOPEN)
}

func driverFull(err error) bool { return errors.Is(err, sqlite3.FULL) }

func driverReadOnly(err error) bool {
	return errors.Is(err, sqlite3.READONLY) || errors.Is(err, sqlite3.PERM)
}

func driverDamaged(err error) bool {
	return errors.Is(err, sqlite3.CORRUPT) || errors.Is(err, sqlite3.NOTADB)
}

// countingVFS is the operating system's file layer with its writes counted.
type countingVFS struct {
	vfs.VFS
	db *database
}

// osFile is what the operating system's layer can do and SQLite asks for.
type osFile interface {
	vfs.FileLockState
	vfs.FileHasMoved
	vfs.FileSizeHint
	vfs.FilePersistWAL
	vfs.FilePowersafeOverwrite
	vfs.FileSharedMemory
}

func (v *countingVFS) Open(name string, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	return v.VFS.Open(name, flags)
}

func (v *countingVFS) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	f, out, err := v.VFS.(vfs.VFSFilename).OpenFilename(name, flags)
	if err != nil {
		return f, out, err
	}
	of, ok := f.(osFile)
	if !ok {
		return f, out, nil
	}
	return &countingFile{osFile: of, db: v.db, name: name.String()}, out, nil
}

type countingFile struct {
	osFile
	db   *database
	name string
}

func (f *countingFile) WriteAt(p []byte, off int64) (int, error) {
	if err := f.db.guard.before(f.name, len(p)); err != nil {
		return 0, tagFull(err)
	}
	n, err := f.osFile.WriteAt(p, off)
	f.db.written.Add(uint64(n))
	return n, tagFull(err)
}

func (f *countingFile) SizeHint(size int64) error { return tagFull(f.osFile.SizeHint(size)) }

// tagFull has SQLite say that the disk is full where it would speak of an
// error in writing.
func tagFull(err error) error {
	if noSpace(err) {
		return vfs.SystemError(err, sqlite3.FULL)
	}
	return err
}

func (f *countingFile) Sync(flags vfs.SyncFlag) error {
	f.db.syncs.Add(1)
	return f.osFile.Sync(flags)
}
