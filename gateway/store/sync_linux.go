package store

import (
	"errors"
	"os"
	"syscall"
)

// dataSync waits until the contents of f are on the disk. Metadata follows
// only where the contents need it, which a file filled ahead does not.
func dataSync(f *os.File) error {
	for {
		err := syscall.Fdatasync(int(f.Fd()))
		if !errors.Is(err, syscall.EINTR) {
			return os.NewSyscallError("fdatasync", err)
		}
	}
}
