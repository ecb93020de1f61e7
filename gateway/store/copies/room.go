package copies

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"golang.org/x/sys/unix"

	"telltale/gateway/store"
)

// plain says what is wrong with the directory of copies as a person would.
func plain(err error, dir string) error {
	var where *fs.PathError
	ours := errors.As(err, &where) && within(where.Path, dir)
	switch {
	case errors.Is(err, store.ErrFull), errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return fmt.Errorf("%w; make room there, or take a larger one: %w", errRoom, err)
	case ours && errors.Is(err, fs.ErrNotExist) && filepath.Clean(where.Path) == filepath.Clean(dir):
		return fmt.Errorf("it is not there; is its disk plugged in and mounted? %w", err)
	case ours && errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("this user may not write there; check its owner: %w", err)
	case ours && errors.Is(err, syscall.EROFS):
		return fmt.Errorf("its disk takes no writes: %w", err)
	}
	return err
}

var errRoom = errors.New("no room is left on the disk")

// roomFor refuses to begin a copy of the files in from for which to has no room.
// Where both are on one disk some is left for the watch.
func roomFor(from, to string) error {
	free, err := Room(to)
	if err != nil {
		return nil // it cannot be told
	}
	need, err := sizeOf(from)
	if err != nil {
		return nil // to copy it says why
	}
	if SameDisk(from, to) {
		need += spare
	}
	if free < need {
		return fmt.Errorf("%w: %s are needed, %s are left", errRoom, Megabytes(need), Megabytes(free))
	}
	return nil
}

// Megabytes writes a number of bytes for people.
func Megabytes(n int64) string {
	if n < 10_000_000 {
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%d MB", n/1_000_000)
}

// sizeOf adds up what Make would copy of a store, or of one in a copy: all that
// was not put aside.
func sizeOf(dir string) (sum int64, err error) {
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		aside, _ := filepath.Match("*.damaged-*", e.Name())
		if info, err := e.Info(); err == nil && info.Mode().IsRegular() && !aside {
			sum += info.Size()
		}
	}
	return sum, err
}

// Room is how many bytes this user may still write on the disk of dir.
func Room(dir string) (int64, error) {
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil {
		return 0, err
	}
	return int64(st.Bavail) * int64(st.Bsize), nil
}

// SameDisk reports whether two directories that are there lie on one disk.
func SameDisk(a, b string) bool {
	var sa, sb unix.Stat_t
	return unix.Stat(a, &sa) == nil && unix.Stat(b, &sb) == nil && sa.Dev == sb.Dev
}
