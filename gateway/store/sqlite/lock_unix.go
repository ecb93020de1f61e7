//go:build unix

package sqlite

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"time"
)

// Unlock gives f up at once. To close it is not enough: a program that is just
// being started holds what is open here until it runs.
func Unlock(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_UN) }

// TryLock takes f for this process until f is closed or the process ends.
func TryLock(f *os.File) (ok bool, err error) {
	for range 3 { // who looks whether it is taken holds it for a moment
		if ok, err = flock(f, syscall.LOCK_EX); ok || err != nil {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	return ok, err
}

// tryShared is TryLock for who shares f with others that do.
func tryShared(f *os.File) (ok bool, err error) { return flock(f, syscall.LOCK_SH) }

func flock(f *os.File, how int) (ok bool, err error) {
	err = syscall.Flock(int(f.Fd()), how|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return false, nil
	}
	return err == nil, err
}

// InUse reports whether a watch has the store in dir. It asks by a lock that it
// gives back at once.
func InUse(dir string) bool {
	for _, name := range []string{".", "lock"} {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			continue
		}
		free, err := tryShared(f)
		if err == nil && free {
			err = Unlock(f)
		}
		if errors.Join(err, f.Close()) == nil && !free {
			return true
		}
	}
	return false
}
