package store

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

func TestSizeIsThatOfAllFiles(t *testing.T) {
	dir := t.TempDir()
	now := start
	s := open(t, dir, Options{Now: func() time.Time { return now }})
	if at := s.Stats().LastFlush; !at.IsZero() {
		t.Errorf("nothing has reached the disk, but Stats say it did at %v", at)
	}
	sum := func() int64 {
		files, err := filepath.Glob(filepath.Join(dir, "*"))
		ok(t, err)
		var n int64
		for _, f := range files {
			info, err := os.Lstat(f)
			ok(t, err)
			if info.Mode().IsRegular() {
				n += info.Size()
			}
		}
		return n
	}
	size := func() int64 {
		n, err := s.Size(t.Context())
		ok(t, err)
		return n
	}
	before := size()
	if before == 0 || before != sum() {
		t.Errorf("a new store has %d bytes, its files have %d", before, sum())
	}
	for i := range 1000 {
		s.Append(numbered(i + 1))
	}
	now = start.Add(time.Second)
	ok(t, s.Sync())
	if after := size(); after <= before || after != sum() {
		t.Errorf("with readings it has %d bytes, its files have %d, and without it had %d", after, sum(), before)
	}
	if st := s.Stats(); !st.LastFlush.Equal(now) || st.Failures != 0 {
		t.Errorf("got last flush %v and %d failures, want %v and none", st.LastFlush, st.Failures, now)
	}
}
