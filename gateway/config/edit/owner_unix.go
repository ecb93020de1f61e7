//go:build unix

package edit

import (
	"io/fs"
	"os"
	"syscall"
)

// keepOwner gives f the owner of the file that it replaces, where that is
// allowed: a service that runs as root must not take a person's file away.
func keepOwner(f *os.File, of fs.FileInfo) {
	if was, ok := of.Sys().(*syscall.Stat_t); ok {
		_ = f.Chown(int(was.Uid), int(was.Gid)) // as its own owner it stays readable all the same
	}
}
