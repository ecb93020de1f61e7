package sqlite

import (
	"errors"
	"fmt"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// BirthOf says when a file was made, which no copy shares; "" where the file
// system does not know.
func BirthOf(path string) string {
	var st unix.Statx_t
	if err := unix.Statx(unix.AT_FDCWD, path, 0, unix.STATX_BTIME, &st); err != nil || st.Mask&unix.STATX_BTIME == 0 {
		return ""
	}
	return fmt.Sprintf("%d.%09d", st.Btime.Sec, st.Btime.Nsec)
}

// DataSync waits until the contents of f are on the disk. Metadata follows
// only where the contents need it, which a file filled ahead does not.
func DataSync(f *os.File) error {
	for {
		err := syscall.Fdatasync(int(f.Fd()))
		if !errors.Is(err, syscall.EINTR) {
			return os.NewSyscallError("fdatasync", err)
		}
	}
}

// MemoryFor names the folder of the index of the WAL of a database, in the
// memory that the processes of this machine share; "" where there is none.
func MemoryFor(of os.FileInfo) string {
	const shm = "/dev/shm"
	var fs unix.Statfs_t
	st, ok := of.Sys().(*syscall.Stat_t)
	if !ok || unix.Statfs(shm, &fs) != nil || fs.Type != unix.TMPFS_MAGIC {
		return ""
	}
	return fmt.Sprintf("%s/telltale-%x-%d-%d", shm, st.Dev, st.Ino, st.Uid)
}

// sameOwner reports whether two files are one user's.
func sameOwner(a, b os.FileInfo) bool {
	x, ok := a.Sys().(*syscall.Stat_t)
	y, also := b.Sys().(*syscall.Stat_t)
	return ok && also && x.Uid == y.Uid
}

// giveTo makes the file at path that of the owner of another, if this is root:
// nobody else may, and a unit that forbids the call ends who tries.
func giveTo(path string, of os.FileInfo) error {
	st, ok := of.Sys().(*syscall.Stat_t)
	if !ok || os.Geteuid() != 0 || st.Uid == 0 {
		return nil
	}
	return os.Lchown(path, int(st.Uid), int(st.Gid))
}

// mapped reports whether a connection, of whatever program, has the index in
// the file at path open: SQLite locks bytes 120 to 128 of it.
func mapped(path string) bool {
	f, err := os.OpenFile(path, os.O_RDWR|syscall.O_NOFOLLOW, 0)
	if err != nil {
		return false
	}
	lock := unix.Flock_t{Type: unix.F_WRLCK, Start: 120, Len: 9}
	err = unix.FcntlFlock(f.Fd(), unix.F_OFD_GETLK, &lock)
	return f.Close() == nil && err == nil && lock.Type != unix.F_UNLCK
}
