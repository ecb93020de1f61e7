package sqlite

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"
	_ "github.com/ncruces/go-sqlite3/vfs/memdb" // a database without a disk
)

// OpenStill opens a database for reading alone, its WAL too, and writes
// nothing beside it: of a disk that takes no write, or of a damaged file. No
// other connection may write to it meanwhile. Writing to it is an error. With
// heal a damaged head, or one that speaks of pages that are cut off, is read as
// if it were whole.
func OpenStill(path string, readers int, heal bool) (*Database, error) {
	d := newDatabase("", nil)
	vfs.Register(d.vfs, stillVFS{heal})
	pragmas := []string{"locking_mode(EXCLUSIVE)"}
	if heal {
		pragmas = append(pragmas, "writable_schema(ON)") // which forgives more
	}
	var err error
	if d.Read, err = d.pool(path, readers, "ro", "", 512, pragmas...); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	d.Write = d.Read
	if d.Outbox, err = d.pool(path, 1, "ro", "", 256, pragmas...); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	return d, nil
}

// OpenMemory makes an empty database in memory that takes no writes: it
// answers queries while there is no disk at all.
func OpenMemory(readers int, fill func(*Database) error) (*Database, error) {
	d := newDatabase("", nil)
	vfs.Register(d.vfs, vfs.Find("memdb"))
	path := fmt.Sprintf("/telltale-%p", d)
	var err error
	if d.Write, err = d.pool(path, 1, "rwc", "memory", 512); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	if err = fill(d); err == nil {
		_, err = d.Write.Exec("PRAGMA query_only(ON)")
	}
	if err == nil {
		d.Read, err = d.pool(path, readers, "rw", "", 512)
	}
	if err == nil {
		d.Outbox, err = d.pool(path, 1, "rw", "", 256)
	}
	if err != nil {
		return nil, errors.Join(err, d.Close())
	}
	return d, nil
}

// stillVFS is a file layer that reads and never writes. SQLite keeps the index
// of the WAL in its own memory there, as the locking mode asks.
type stillVFS struct{ heal bool }

func (v stillVFS) Open(name string, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	flags = flags&^(vfs.OPEN_READWRITE|vfs.OPEN_CREATE) | vfs.OPEN_READONLY
	f, err := os.Open(name)
	switch {
	case errors.Is(err, fs.ErrNotExist) && flags&vfs.OPEN_WAL != 0:
		return stillFile{}, flags, nil
	case err != nil:
		return nil, flags, vfs.SystemError(err, sqlite3.CANTOPEN)
	}
	still := stillFile{f: f}
	if v.heal && flags&vfs.OPEN_MAIN_DB != 0 {
		still.head = healedHead(f)
	}
	return still, flags, nil
}

// healedHead is the head of a database of ours, of which only that is taken
// which every one of them has: "The SQLite database file format", 1.3. A size
// of 0 stands for that of the file.
func healedHead(f *os.File) []byte {
	head := make([]byte, 100)
	if _, err := f.ReadAt(head, 0); err != nil {
		return nil
	}
	if string(head[:16]) != "SQLite format 3\x00" || string(head[21:24]) != "\x40\x20\x20" {
		clear(head)
		copy(head, "SQLite format 3\x00\x10\x00\x02\x02\x00\x40\x20\x20") // pages of 4,096 bytes, a WAL
		head[47], head[59] = 4, 1                                         // schema format, UTF-8
	}
	clear(head[28:40]) // size, free pages
	return head
}

func (stillVFS) Delete(string, bool) error { return sqlite3.READONLY }

func (stillVFS) Access(name string, flags vfs.AccessFlag) (bool, error) {
	_, err := os.Stat(name)
	return err == nil && flags == vfs.ACCESS_EXISTS, nil
}

func (stillVFS) FullPathname(name string) (string, error) { return name, nil }

// stillFile is a file that is only read; without one it is empty.
type stillFile struct {
	f    *os.File
	head []byte // in place of what it begins with
}

func (s stillFile) Close() error {
	if s.f == nil {
		return nil
	}
	return s.f.Close()
}

func (s stillFile) ReadAt(p []byte, off int64) (int, error) {
	if s.f == nil {
		return 0, io.EOF
	}
	n, err := s.f.ReadAt(p, off)
	if off < int64(len(s.head)) {
		copy(p[:n], s.head[off:])
	}
	return n, err
}

func (s stillFile) Size() (int64, error) {
	if s.f == nil {
		return 0, nil
	}
	info, err := s.f.Stat()
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}

func (stillFile) WriteAt([]byte, int64) (int, error)              { return 0, sqlite3.READONLY }
func (stillFile) Truncate(int64) error                            { return sqlite3.READONLY }
func (stillFile) Sync(vfs.SyncFlag) error                         { return nil }
func (stillFile) Lock(vfs.LockLevel) error                        { return nil }
func (stillFile) Unlock(vfs.LockLevel) error                      { return nil }
func (stillFile) CheckReservedLock() (bool, error)                { return false, nil }
func (stillFile) SectorSize() int                                 { return 0 }
func (stillFile) DeviceCharacteristics() vfs.DeviceCharacteristic { return 0 }

// WALDamaged reports whether a WAL, whose format is SQLite's ("The SQLite
// database file format", chapter 4), is damaged where more than the last
// transaction is lost by it: that one a power cut may tear.
func WALDamaged(b []byte) bool {
	const head, frameHead = 32, 24
	if len(b) == 0 {
		return false
	}
	if len(b) < head {
		return true
	}
	order := binary.ByteOrder(binary.LittleEndian)
	if binary.BigEndian.Uint32(b)&1 != 0 {
		order = binary.BigEndian
	}
	page := int(binary.BigEndian.Uint32(b[8:]))
	s0, s1 := walSum(order, 0, 0, b[:24])
	if binary.BigEndian.Uint32(b)&^1 != 0x377f0682 || s0 != binary.BigEndian.Uint32(b[24:]) || s1 != binary.BigEndian.Uint32(b[28:]) ||
		page < 512 || page > 1<<16 {
		return true
	}
	commits, bad := 0, false
	for at := head; at+frameHead+page <= len(b); at += frameHead + page {
		f := b[at : at+frameHead+page]
		own := string(f[8:16]) == string(b[16:24]) // else it was written before the WAL began again
		if !bad {
			s0, s1 = walSum(order, s0, s1, f[:8])
			s0, s1 = walSum(order, s0, s1, f[frameHead:])
			bad = !own || s0 != binary.BigEndian.Uint32(f[16:]) || s1 != binary.BigEndian.Uint32(f[20:])
		}
		if bad && own && binary.BigEndian.Uint32(f[4:]) != 0 {
			commits++
		}
	}
	return commits > 1
}

func walSum(order binary.ByteOrder, s0, s1 uint32, b []byte) (uint32, uint32) {
	for ; len(b) >= 8; b = b[8:] {
		s0 += order.Uint32(b) + s1
		s1 += order.Uint32(b[4:]) + s0
	}
	return s0, s1
}

// OpenToQuery opens the reading half of a database that is there.
func OpenToQuery(path string, readers int) (*Database, error) {
	d := newDatabase(path, nil)
	d.index.reads = true
	var err error
	if d.Read, err = d.pool(path, readers, "rw", "", 512); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	return d, nil
}
