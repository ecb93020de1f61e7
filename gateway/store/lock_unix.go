//go:build unix

package store

import (
	"errors"
	"os"
	"syscall"
)

// unlock gives f up at once. To close it is not enough: a program that is just
// being started holds what is open here until it runs.
func unlock(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_UN) }

// tryLock takes f for this process until f is closed or the process ends.
func tryLock(f *os.File) (ok bool, err error) {
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return false, nil
	}
	return err == nil, err
}
