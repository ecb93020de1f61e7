package copies

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"time"

	"telltale/gateway/store"
)

// swap puts the store in at aside, if there is one, and stage in its place.
func swap(stage, at string, now time.Time) (aside string, err error) {
	info, err := os.Stat(at)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return "", err
	default:
		if err := likeBefore(stage, info); err != nil {
			return "", err
		}
		if os.Remove(at) == nil { // it was empty
			break
		}
		aside = asideName(at, now)
		if err := os.Rename(at, aside); err != nil {
			return "", fmt.Errorf("the store that is there cannot be put aside: %w", err)
		}
	}
	if err = os.Rename(stage, at); err != nil {
		if aside != "" {
			err = errors.Join(err, os.Rename(aside, at))
		}
		return "", fmt.Errorf("the copy cannot be put into its place: %w", err)
	}
	return aside, store.SyncDir(filepath.Dir(at))
}

// mounted reports whether a disk is mounted on a directory, which then cannot be
// renamed.
func mounted(dir string) bool {
	_, err := os.Stat(dir)
	return err == nil && !SameDisk(dir, filepath.Dir(dir))
}

// swapInside is swap where a disk is mounted on at, with stage in it: what is there
// goes into a directory of its own. The database goes first and comes last, so that
// halfway there is none.
func swapInside(stage, at string, now time.Time) (aside string, err error) {
	info, err := os.Stat(at)
	if err != nil {
		return "", err
	}
	if err := likeBefore(stage, info); err != nil {
		return "", err
	}
	old, err := os.ReadDir(at)
	if err != nil {
		return "", err
	}
	aside = asideName(filepath.Join(at, "store"), now)
	if err := os.Mkdir(aside, 0o700); err != nil {
		return "", err
	}
	slices.SortStableFunc(old, func(a, b fs.DirEntry) int { return rank(a) - rank(b) })
	for _, e := range old {
		if e.Type().IsRegular() {
			if err := os.Rename(filepath.Join(at, e.Name()), filepath.Join(aside, e.Name())); err != nil {
				return aside, err
			}
		}
	}
	fresh, err := os.ReadDir(stage)
	if err != nil {
		return aside, err
	}
	slices.SortStableFunc(fresh, func(a, b fs.DirEntry) int { return rank(b) - rank(a) })
	for _, e := range fresh {
		if err := os.Rename(filepath.Join(stage, e.Name()), filepath.Join(at, e.Name())); err != nil {
			return aside, err
		}
	}
	if os.Remove(aside) == nil { // nothing was there
		aside = ""
	}
	return aside, store.SyncDir(at)
}

// rank puts the database before all else.
func rank(e fs.DirEntry) int {
	if e.Name() == "telltale.db" {
		return 0
	}
	return 1
}

func asideName(at string, now time.Time) string {
	first := at + ".before-" + now.UTC().Format("20060102-150405")
	name := first
	for n := 2; ; n++ {
		if _, err := os.Lstat(name); errors.Is(err, fs.ErrNotExist) {
			return name
		}
		name = fmt.Sprintf("%s-%d", first, n)
	}
}

// likeBefore gives a new store the rights of the one it replaces, and its owner if
// root does it.
func likeBefore(dir string, before fs.FileInfo) error {
	err := os.Chmod(dir, before.Mode().Perm()&^0o007)
	owner, ok := before.Sys().(*syscall.Stat_t)
	if os.Geteuid() != 0 || !ok {
		return err
	}
	entries, readErr := os.ReadDir(dir)
	err = errors.Join(err, readErr, os.Lchown(dir, int(owner.Uid), int(owner.Gid)))
	for _, e := range entries {
		err = errors.Join(err, os.Lchown(filepath.Join(dir, e.Name()), int(owner.Uid), int(owner.Gid)))
	}
	return err
}
