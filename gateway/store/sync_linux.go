package store

import (
	"errors"
	"fmt"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// birthOf says when a file was made, which no copy shares; "" where the file
// system does not know.
func birthOf(path string) string {
	var st unix.Statx_t
	if err := unix.Statx(unix.AT_FDCWD, path, 0, unix.STATX_BTIME, &st); err != nil || st.Mask&unix.STATX_BTIME == 0 {
		return ""
	}
	return fmt.Sprintf("%d.%09d", st.Btime.Sec, st.Btime.Nsec)
}

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
