//go:build unix

package store

import (
	"errors"
	"os"
	"syscall"
)

// tryLock takes f for this process until f is closed or the process ends.
func tryLock(f *os.File) (ok bool, err error) {
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return false, nil
	}
	return err == nil, err
}
