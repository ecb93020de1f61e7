package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"syscall"
	"testing"

	"telltale/alarms"
)

// refusing is a guard that can be switched.
type refusing struct{ err error }

func (r *refusing) guard(string, int) error { return r.err }

func TestAFullDiskLosesNothingThatWaits(t *testing.T) {
	dir := t.TempDir()
	var disk refusing
	s := open(t, dir, Options{guard: disk.guard})
	up := raise(1, start)
	ok(t, s.Save([]alarms.Transition{up}, nil))
	var want []alarms.Input
	put := func(n int) {
		for range n {
			in := numbered(len(want) + 1)
			want = append(want, in)
			s.Append(in)
		}
	}
	put(10)
	ok(t, s.Sync())
	disk.err = &os.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC}
	put(10)
	for range 3 {
		err := s.Sync()
		var de *DiskError
		if !errors.As(err, &de) || !errors.Is(err, ErrFull) || de.Waiting != 10 || de.Dropped != 0 {
			t.Fatalf("got %v", err)
		}
		same(t, "sentence", err.Error(), "no space is left on the disk to save readings in "+dir+
			": what was saved is safe, and judging goes on; readings and inputs that wait in memory: 10; please make room")
	}
	if st := s.Stats(); !st.Refused || st.Failures != 3 {
		t.Fatalf("three calls failed, but Stats say %+v", st)
	}
	if err := s.Save([]alarms.Transition{raise(2, start)}, nil); !errors.Is(err, ErrFull) {
		t.Fatalf("Save: %v", err)
	}
	if err := s.Checkpoint([]byte("x")); !errors.Is(err, ErrFull) {
		t.Fatalf("Checkpoint: %v", err)
	}
	got, err := s.History.Readings(context.Background(), "bench-1", alarms.Temperature, start, start.Add(day), 0)
	ok(t, err)
	same(t, "readable meanwhile", len(got), 20)
	put(10)
	disk.err = nil
	ok(t, s.Sync())
	ok(t, s.Save([]alarms.Transition{raise(2, start)}, nil))
	if s.Stats().Refused {
		t.Fatal("Stats still say that the disk refuses")
	}
	ok(t, s.Close())
	s = open(t, dir, Options{})
	defer s.Close()
	_, back := recovered(t, s)
	same(t, "inputs", back, want)
	all, err := s.Log.Transitions(context.Background(), LogQuery{})
	ok(t, err)
	same(t, "transitions", len(all), 2)
}

func TestTheDatabaseRefusingAloneKeepsTheJournal(t *testing.T) {
	dir := t.TempDir()
	full := false
	s := open(t, dir, Options{guard: func(path string, n int) error {
		if full && strings.Contains(path, ".db") {
			return syscall.ENOSPC
		}
		return nil
	}})
	defer s.Close()
	full = true
	s.Append(numbered(1))
	if err := s.Checkpoint([]byte("1")); !errors.Is(err, ErrFull) {
		t.Fatalf("Checkpoint: %v", err)
	}
	s.Append(numbered(2))
	ok(t, s.Sync())
	if err := s.Save([]alarms.Transition{raise(1, start)}, nil); !errors.Is(err, ErrFull) {
		t.Fatalf("Save: %v", err)
	}
	full = false
	ok(t, s.Save([]alarms.Transition{raise(1, start)}, nil))
	n, err := standing(s)
	ok(t, err)
	same(t, "inputs", n, 0) // Recover covers what was there at Open
	ok(t, s.Close())
	s = open(t, dir, Options{})
	n, err = standing(s)
	ok(t, err)
	same(t, "inputs", n, 2)
}

func TestWhatDoesNotFitIsCountedExactlyAndPeopleHaveRoom(t *testing.T) {
	dir := t.TempDir()
	disk := refusing{syscall.EIO}
	s := open(t, dir, Options{MaxWaiting: 1, MaxReadings: 500})
	s.journal.guard = disk.guard
	const many = 50_000
	for n := range many {
		s.Append(numbered(n + 1))
	}
	ack := alarms.Input{At: start.Add(day), Kind: alarms.Acknowledge, Alarm: high, By: "Robin"}
	s.Append(ack)
	st := s.Stats()
	if st.Dropped == 0 || st.Waiting+int(st.Dropped) != many+1 {
		t.Fatalf("%d wait and %d are dropped of %d", st.Waiting, st.Dropped, many+1)
	}
	same(t, "history kept", st.Held, 500)
	same(t, "history dropped", st.HistoryDropped, uint64(many-500))
	err := s.Sync()
	if err == nil || errors.Is(err, ErrFull) || !errors.Is(err, syscall.EIO) ||
		!strings.Contains(err.Error(), fmt.Sprintf("lost for want of room: %d", st.Dropped)) {
		t.Fatalf("got %v", err)
	}
	disk.err = nil
	s.journal.guard = nil
	ok(t, s.Close())
	s = open(t, dir, Options{})
	defer s.Close()
	_, got := recovered(t, s)
	same(t, "inputs", len(got), st.Waiting)
	same(t, "the person's", got[len(got)-1], ack)
}

// report is what the cramped process found.
type report struct {
	Written int // readings synced before the disk was full
	Errs    []string
	Full    bool
	Saved   []string
	Later   int // readings there when there was room again
}

// cramped runs a store where files may not grow beyond 300 kB, the same as a
// full disk seen from here, until writing fails; then it is given room.
func cramped(dir string) {
	signal.Ignore(syscall.SIGXFSZ)
	var rep report
	s, err := Open(dir, Options{})
	if err != nil {
		rep.Errs = append(rep.Errs, err.Error())
	} else {
		rep.fill(s)
	}
	json.NewEncoder(os.Stdout).Encode(rep)
}

func (r *report) fill(s *Store) {
	limit := syscall.Rlimit{Cur: 300_000, Max: math.MaxInt64}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		r.Errs = append(r.Errs, err.Error())
		return
	}
	n := 0
	var err error
	for i := 0; err == nil && i < 100_000; i++ {
		for range 100 {
			n++
			s.Append(numbered(n))
		}
		if i%150 == 149 { // rarely: the journal is to be what fills up
			tr := raise(n, start)
			if err = s.Save([]alarms.Transition{tr}, nil); err == nil {
				r.Saved = append(r.Saved, tr.ID)
			}
		} else {
			err = s.Sync()
		}
		if err == nil {
			r.Written = n
		}
	}
	r.Full = errors.Is(err, ErrFull)
	for range 3 {
		n++
		s.Append(numbered(n))
		if err = s.Sync(); err != nil {
			r.Errs = append(r.Errs, err.Error())
		}
	}
	limit.Cur = 1 << 40
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		r.Errs = append(r.Errs, err.Error())
	}
	if err := s.Sync(); err != nil {
		r.Errs = append(r.Errs, "with room again: "+err.Error())
	}
	r.Later = n
}

func TestNoRoomForRealInAProcessOfItsOwn(t *testing.T) {
	exe, err := os.Executable()
	ok(t, err)
	dir := t.TempDir()
	cmd := exec.Command(exe)
	cmd.Env = append(os.Environ(), "TELLTALE_STORE_CRAMPED="+dir)
	out, err := cmd.Output()
	ok(t, err)
	var r report
	ok(t, json.Unmarshal(out, &r))
	if !r.Full || len(r.Errs) != 3 || r.Written == 0 || len(r.Saved) == 0 {
		t.Fatalf("got %+v", r)
	}
	for _, e := range r.Errs {
		if !strings.HasPrefix(e, "no space is left on the disk to save readings in "+dir) {
			t.Fatalf("not a clear sentence: %s", e)
		}
	}
	s := open(t, dir, Options{})
	defer s.Close()
	n, err := standing(s)
	ok(t, err)
	same(t, "readings", n, r.Later)
	for _, id := range r.Saved {
		if _, there := logged(t, s, id); !there {
			t.Fatalf("%s is gone", id)
		}
	}
}
