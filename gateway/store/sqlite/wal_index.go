package sqlite

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"syscall"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"
)

// SQLite maps the index of a WAL into memory from a file "…-shm" beside the
// database. A page of such a file that its disk keeps back stops every thread
// that touches it, and the garbage collector with it: the whole watch. So the
// index lies in the memory that the processes of a machine share, below
// /dev/shm, in a folder named for the database's device, inode and owner, which
// every process that opens the same file finds. In the place of the "-shm" file
// stands a symbolic link to it, followed by nobody: SQLite opens that file
// without following links, so a program that knows nothing of the index in
// memory is refused where it would have made a second index, and with it
// damaged the database.
//
// Where there is no such memory the index lies beside the database as ever.

// ErrElsewhere: a reader does not see the index of the watch that it would have
// to share.
var ErrElsewhere = errors.New("the watch keeps the index of its database in memory that is not seen from here; " +
	"run this as the same user and in the same container as the watch, or when the watch has ended")

// walIndex is the index of one database that is open in this process.
type walIndex struct {
	mu     sync.Mutex
	reads  bool        // somebody else may be the one who writes
	of     os.FileInfo // the database
	path   string      // "" where the index lies beside the database
	shared os.FileInfo // the index at path
}

// open returns the index for one more connection to the database at name, nil
// for one beside the database. It is an error if the database or the index is
// not the one that the earlier connections have.
func (x *walIndex) open(name string, flags vfs.OpenFlag) (vfs.SharedMemory, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	of, err := os.Stat(name)
	if err != nil {
		return nil, err
	}
	if x.of == nil {
		if err := x.place(name, of); err != nil {
			return nil, err
		}
		x.of = of
	}
	if !os.SameFile(of, x.of) {
		return nil, fmt.Errorf("%s is another file than the one that is open: %w", name, fs.ErrExist)
	}
	if x.path == "" {
		return nil, nil
	}
	if shared, err := os.Lstat(x.path); err != nil || !os.SameFile(shared, x.shared) {
		return nil, errors.Join(fmt.Errorf("somebody has taken away %s, the index of the open database %s: %w", x.path, name, fs.ErrNotExist), err)
	}
	return vfs.NewSharedMemory(x.path, flags), nil
}

// place finds where the index of the database at name lies, and makes it.
func (x *walIndex) place(name string, of os.FileInfo) error {
	link := name + "-shm"
	beside, err := os.Lstat(link)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	linked := err == nil && beside.Mode()&fs.ModeSymlink != 0
	if err == nil && !linked && mapped(link) {
		return nil // by a program that knows no other place
	}
	dir := MemoryFor(of)
	if linked && x.reads && InUse(filepath.Dir(name)) {
		if _, err := os.Lstat(filepath.Join(dir, "index")); err != nil || dir == "" {
			return ErrElsewhere
		}
	}
	shared, err := makeIndex(dir, of)
	switch {
	case err == nil && shared != nil:
		x.path, x.shared = filepath.Join(dir, "index"), shared
		return pointTo(link, x.path)
	case !linked:
		return nil
	case x.reads:
		return errors.Join(ErrElsewhere, err)
	}
	return os.Remove(link) // of a time with such memory
}

// makeIndex makes dir and the index in it for the owner of the database and
// nobody else. It returns nil where dir is "" or somebody else's.
func makeIndex(dir string, of os.FileInfo) (os.FileInfo, error) {
	if dir == "" {
		return nil, nil
	}
	err := os.Mkdir(dir, 0o700)
	made := err == nil
	switch {
	case made:
		err = giveTo(dir, of)
	case errors.Is(err, fs.ErrExist):
		err = nil
	default:
		return nil, err
	}
	if info, statErr := os.Lstat(dir); err != nil || statErr != nil || !info.IsDir() || info.Mode().Perm()&0o077 != 0 || !sameOwner(info, of) {
		if made {
			err = errors.Join(err, os.Remove(dir))
		}
		return nil, err
	}
	path := filepath.Join(dir, "index")
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|syscall.O_NOFOLLOW, 0o600)
	if err != nil {
		return nil, err
	}
	err = giveTo(path, of)
	info, statErr := f.Stat()
	return info, errors.Join(err, statErr, f.Close())
}

// pointTo makes link a symbolic link to path, in one step.
func pointTo(link, path string) error {
	if to, err := os.Readlink(link); err == nil && to == path {
		return nil
	}
	tmp := fmt.Sprintf("%s.%d", link, os.Getpid())
	if err := os.Remove(tmp); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.Symlink(path, tmp); err != nil {
		return err
	}
	return os.Rename(tmp, link)
}

// leave takes the index and the link to it away once no connection needs them,
// of this process or another.
func (x *walIndex) leave(name string) error {
	if x.path == "" || os.Remove(filepath.Dir(x.path)) != nil { // it is not empty while it is needed
		return nil
	}
	if to, err := os.Readlink(name + "-shm"); err != nil || to != x.path {
		return nil
	}
	return os.Remove(name + "-shm")
}

// cannotOpen has SQLite say that it cannot open the file, and keeps why.
func cannotOpen(err error) error {
	if err == nil {
		return nil
	}
	return vfs.SystemError(err, sqlite3.CANTOPEN)
}
