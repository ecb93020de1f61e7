//go:build unix

package store

import (
	"path/filepath"
	"syscall"
	"testing"
)

// A store that was closed can be opened at once, although a program that is
// just being started still holds what was open.
func TestAClosedStoreIsFreeWhileAProgramIsBeingStarted(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "store")
	s := open(t, dir, Options{})
	held, err := syscall.Dup(int(s.folder.lock.Fd())) // as a fork does
	ok(t, err)
	defer syscall.Close(held) //nolint:errcheck // it is of no use any more
	ok(t, s.Close())
	ok(t, open(t, dir, Options{}).Close())
}
