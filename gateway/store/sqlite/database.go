package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"
	"github.com/ncruces/go-sqlite3/vfs"
)

// The SQLite driver is known to this package alone. It was chosen by measuring
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

// Guard is asked before each write. It is nil but in tests.
type Guard func(path string, n int) error

func (g Guard) Before(path string, n int) error {
	if g == nil {
		return nil
	}
	return g(path, n)
}

// Database is one SQLite file: one connection that writes, a few that read and
// one that reads the outbox alone, so that no question of the page, however many
// and however long, holds up a telling.
type Database struct {
	Write, Read *sql.DB
	Outbox      *sql.DB
	vfs         string
	path        string
	index       walIndex
	Written     atomic.Uint64 // bytes given to the disk
	Syncs       atomic.Uint64
	guard       Guard
}

func Open(path string, readers int, g Guard) (*Database, error) {
	d := newDatabase(path, g)
	var err error
	if d.Write, err = d.pool(path, 1, "rwc", "wal", 1024); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	if d.Read, err = d.pool(path, readers, "rw", "", 512); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	if d.Outbox, err = d.pool(path, 1, "rw", "", 256); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	hide(path, path+"-wal", path+"-shm")
	return d, nil
}

// hide takes files from everybody but their owner and group, as the journal is:
// SQLite makes them by what the process allows, and the directory may have been
// made by hand. Where it is not allowed to, they stay as they are.
func hide(paths ...string) {
	for _, path := range paths {
		if info, err := os.Lstat(path); err == nil && info.Mode().IsRegular() && info.Mode().Perm()&0o007 != 0 {
			_ = os.Chmod(path, info.Mode().Perm()&^0o007) // it can be read all the same
		}
	}
}

func newDatabase(path string, g Guard) *Database {
	d := &Database{path: path, guard: g}
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
func (d *Database) pool(path string, conns int, mode, journal string, cache int, pragmas ...string) (*sql.DB, error) {
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

// Within asks the disk by f and gives up on it when ctx has ended. SQLite heeds
// that, but a system call does not come back from a disk that does not answer:
// f is then left to itself, with its connection, and what it returns goes
// nowhere. So no more of them are left than there are connections.
func Within[T any](ctx context.Context, f func() (T, error)) (T, error) {
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

// One returns the one value of a question.
func One[T any](ctx context.Context, db *sql.DB, query string, args ...any) (T, error) {
	return Within(ctx, func() (v T, err error) {
		err = db.QueryRowContext(ctx, query, args...).Scan(&v)
		return v, err
	})
}

// Ask is Within for what gives nothing but an error. f must leave what it has
// found where nobody looks after an error.
func Ask(ctx context.Context, f func() error) error {
	_, err := Within(ctx, func() (struct{}, error) { return struct{}{}, f() })
	return err
}

// Close ends all connections; the last one folds the WAL into the database.
func (d *Database) Close() error {
	var errs []error
	for _, db := range []*sql.DB{d.Outbox, d.Read, d.Write} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	vfs.Unregister(d.vfs)
	return errors.Join(append(errs, d.index.leave(d.path))...)
}

// Broken says that the file cannot be read, for whatever reason, as
// opposed to a disk that takes no writes.
func Broken(err error) bool {
	return Damaged(err) || errors.Is(err, sqlite3.IOERR) || errors.Is(err, sqlite3.CANTOPEN)
}

func sqliteFull(err error) bool { return errors.Is(err, sqlite3.FULL) }

func sqliteReadOnly(err error) bool {
	return errors.Is(err, sqlite3.READONLY) || errors.Is(err, sqlite3.PERM)
}

func Damaged(err error) bool {
	return errors.Is(err, sqlite3.CORRUPT) || errors.Is(err, sqlite3.NOTADB)
}

// countingVFS is the operating system's file layer with its writes counted.
type countingVFS struct {
	vfs.VFS
	db *Database
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
	c := &countingFile{osFile: of, db: v.db, name: name.String()}
	if flags&vfs.OPEN_MAIN_DB != 0 && c.name != "" {
		if c.index, err = v.db.index.open(c.name, flags); err != nil {
			return nil, flags, cannotOpen(errors.Join(err, f.Close()))
		}
	}
	return c, out, nil
}

type countingFile struct {
	osFile
	db    *Database
	name  string
	index vfs.SharedMemory // nil where it lies beside the file
}

func (f *countingFile) SharedMemory() vfs.SharedMemory {
	if f.index == nil {
		return f.osFile.SharedMemory()
	}
	return f.index
}

func (f *countingFile) Close() error {
	if f.index != nil {
		_ = f.index.Close() // SQLite has closed it, if it ever opened it
	}
	return f.osFile.Close()
}

func (f *countingFile) WriteAt(p []byte, off int64) (int, error) {
	if err := f.db.guard.Before(f.name, len(p)); err != nil {
		return 0, TagFull(err)
	}
	n, err := f.osFile.WriteAt(p, off)
	f.db.Written.Add(uint64(n))
	return n, TagFull(err)
}

func (f *countingFile) SizeHint(size int64) error { return TagFull(f.osFile.SizeHint(size)) }

// TagFull has SQLite say that the disk is full where it would speak of an
// error in writing.
func TagFull(err error) error {
	if NoSpace(err) {
		return vfs.SystemError(err, sqlite3.FULL)
	}
	return err
}

func (f *countingFile) Sync(flags vfs.SyncFlag) error {
	f.db.Syncs.Add(1)
	return f.osFile.Sync(flags)
}

// NoSpace reports whether err says that the disk, a quota or a limit on the
// size of files is used up.
func NoSpace(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) ||
		errors.Is(err, syscall.EFBIG) || sqliteFull(err)
}

func ReadOnly(err error) bool {
	return errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS) || sqliteReadOnly(err)
}

// Querier is what a database, a connection and a transaction have in common.
type Querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// Collect runs a query and scans every row into a T.
func Collect[T any](ctx context.Context, q Querier, scan func(*sql.Rows, *T) error, query string, args ...any) ([]T, error) {
	return Within(ctx, func() ([]T, error) { return CollectAll(ctx, q, scan, query, args...) })
}

func CollectAll[T any](ctx context.Context, q Querier, scan func(*sql.Rows, *T) error, query string, args ...any) ([]T, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		var t T
		if err := scan(rows, &t); err != nil {
			return nil, err
		}
		all = append(all, t)
	}
	return all, rows.Err()
}
