package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"telltale/alarms"
)

func TestAFullDiskOfItsOwn(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "small")
	ok(t, os.Mkdir(dir, 0o700))
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skipf("a small disk cannot be mounted here: %v", err)
	}
	defer syscall.Unmount(dir, 0)
	s := open(t, filepath.Join(dir, "store"), Options{})
	defer func() { s.Close() }()
	n := 0
	var err error
	for err == nil && n < 1_000_000 {
		for range 200 {
			n++
			s.Append(numbered(n))
		}
		if err = s.Sync(); err == nil && n%10_000 == 0 {
			err = s.Checkpoint([]byte(fmt.Sprint(n)))
		}
	}
	if !errors.Is(err, ErrFull) {

		t.Fatalf("after %d readings: %v", n, err)
	}
	up := raise(1, start)
	saveErr := s.Save([]alarms.Transition{up}, nil)
	ok(t, syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size=8m"))
	if saveErr != nil {
		ok(t, s.Save([]alarms.Transition{up}, nil))
	}
	ok(t, s.Sync())
	ok(t, s.Close())
	s = open(t, filepath.Join(dir, "store"), Options{})
	got, err := standing(s)
	ok(t, err)
	same(t, "readings", got, n)
	history, err := s.History.Readings(context.Background(), "bench-1", alarms.Temperature, start, start.Add(time.Duration(n+1)*time.Second), 0)
	ok(t, err)
	same(t, "history", len(history), n)
}
