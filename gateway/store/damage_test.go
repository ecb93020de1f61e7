package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store/sqlite"
)

// scene is a store as a watch that was killed left it: a snapshot, history, a
// log, a device, messages told and untold, and inputs since.
type scene struct {
	dir, id string
	guard   sqlite.Guard
}

func (s scene) path(name string) string { return filepath.Join(s.dir, name) }

const (
	sceneInputs = 900 // since the snapshot, in three segments
	sceneLog    = 400
)

func killed(t *testing.T) scene {
	t.Helper()
	top := t.TempDir()
	live := filepath.Join(top, "live")
	s := open(t, live, Options{})
	defer s.Close()
	ctx := context.Background()
	_, err := s.Devices.Subscribe(ctx, Subscription{Person: "robin", Label: "phone", Endpoint: "https://push.invalid/1", P256DH: []byte("key"), Auth: []byte("auth"), Made: start})
	ok(t, err)
	for n := range 2000 {
		s.Append(numbered(n + 1))
	}
	var ts []alarms.Transition
	var rows []reach.Outgoing
	for n := range sceneLog {
		tr := raise(n+1, start.Add(time.Duration(n)*time.Minute))
		ts, rows = append(ts, tr), append(rows, telling(tr, "robin", 0))
	}
	ok(t, s.Save(ts, rows))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: rows[0].ID, At: start, Outcome: Told}))
	ok(t, s.Checkpoint([]byte("the state")))
	_, err = s.disk.db().Write.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	ok(t, err)
	for part := range 3 {
		for n := range sceneInputs / 3 {
			s.Append(numbered(10_000 + part*sceneInputs/3 + n))
			if n%10 == 9 {
				ok(t, s.Sync())
			}
		}
		if part < 2 {
			ok(t, s.journal.rotate())
		}
	}
	ok(t, s.Notes.SetOrigin(ctx, Origin{Boot: "b", At: start}))
	late := raise(sceneLog+1, start.Add(10*time.Hour))
	for range 5 {
		late.ID += "x"
		ok(t, s.Save([]alarms.Transition{late}, nil))
	}
	c := scene{dir: filepath.Join(top, "store")}
	c.id = c.dir + ".id"
	ok(t, os.CopyFS(c.dir, os.DirFS(live)))
	b, err := os.ReadFile(live + ".id")
	ok(t, err)
	ok(t, os.WriteFile(c.id, b, 0o600))
	return c
}

func (s scene) change(t *testing.T, name string, f func([]byte) []byte) {
	t.Helper()
	b, err := os.ReadFile(s.path(name))
	ok(t, err)
	ok(t, os.WriteFile(s.path(name), f(b), 0o600))
}

func (s scene) journal(t *testing.T, n int) string {
	t.Helper()
	all, err := segments(s.dir)
	ok(t, err)
	if len(all) != 3 {
		t.Fatalf("segments %v, want three", all)
	}
	return segmentName(all[n])
}

func garbage(b []byte, from, to int) []byte {
	for i := from; i < min(to, len(b)); i++ {
		b[i] = byte(i*7 + 131)
	}
	return b
}

// damages are the ways in which a store can be damaged, dead, read-only or
// full, and what must be left of it all the same.
var damages = []struct {
	name  string
	do    func(t *testing.T, s *scene)
	lost  string // of the words that say what is lost; "": nothing is
	aside string // begin of the name of what is put aside; "": nothing is
	apart bool   // it works from memory

	noState, noLog, noDevice bool // gone; else they are there
	inputs                   int  // at least
}{
	{name: "nothing", do: func(*testing.T, *scene) {}, inputs: sceneInputs},
	{name: "garbage at the head of the database", do: func(t *testing.T, s *scene) {
		s.change(t, dbName, func(b []byte) []byte { return garbage(b, 0, 100) })
		ok(t, os.Remove(s.path(dbName+"-wal"))) // which may have it whole
	}, lost: "all that is kept could be read", aside: "telltale.db.damaged-", inputs: sceneInputs},
	{name: "garbage in the first page of the database", do: func(t *testing.T, s *scene) {
		s.change(t, dbName, func(b []byte) []byte { return garbage(b, 0, 4096) })
		ok(t, os.Remove(s.path(dbName+"-wal")))
	}, lost: "of the state of the alarms not all could be read", aside: "telltale.db.damaged-", noState: true, noLog: true, noDevice: true, inputs: sceneInputs},
	{name: "database cut to 50 bytes", do: cut(0, 50), lost: "the database was damaged", aside: "telltale.db.damaged-", noState: true, noLog: true, noDevice: true, inputs: sceneInputs},
	{name: "database cut to a page", do: cut(0, 4096), lost: "the database was damaged", aside: "telltale.db.damaged-", noState: true, noLog: true, noDevice: true, inputs: sceneInputs},
	{name: "database cut to half", do: cut(1, 2), lost: "the database was damaged", aside: "telltale.db.damaged-", inputs: sceneInputs},
	{name: "database cut in a page", do: cut(9, 10), lost: "the database was damaged", aside: "telltale.db.damaged-", inputs: sceneInputs},
	{name: "a page of the log is zero", do: func(t *testing.T, s *scene) {
		ruinRow(t, s)
	}, lost: "of the log and the messages not all could be read", aside: "telltale.db.damaged-", inputs: sceneInputs},
	{name: "the database is a directory", do: func(t *testing.T, s *scene) {
		ok(t, os.Remove(s.path(dbName)))
		ok(t, os.Mkdir(s.path(dbName), 0o700))
	}, lost: "of the log and the messages not all could be read", aside: "telltale.db.damaged-", noState: true, noLog: true, noDevice: true, inputs: sceneInputs},
	{name: "the database leads round in a circle", do: func(t *testing.T, s *scene) {
		ok(t, os.Remove(s.path(dbName)))
		ok(t, os.Symlink(dbName, s.path(dbName)))
	}, lost: "the database was damaged", aside: "telltale.db.damaged-", noState: true, noLog: true, noDevice: true, inputs: sceneInputs},
	{name: "the WAL begins with garbage", do: func(t *testing.T, s *scene) {
		s.change(t, dbName+"-wal", func(b []byte) []byte { return garbage(b, 0, 32) })
	}, lost: "(its WAL) are damaged", aside: "telltale.db-wal.damaged-", inputs: sceneInputs},
	{name: "the WAL is damaged in the middle", do: func(t *testing.T, s *scene) {
		s.change(t, dbName+"-wal", func(b []byte) []byte { return garbage(b, 5000, 5100) })
	}, lost: "(its WAL) are damaged", aside: "telltale.db-wal.damaged-", inputs: sceneInputs},
	{name: "the WAL is a directory", do: func(t *testing.T, s *scene) {
		ok(t, os.Remove(s.path(dbName+"-wal")))
		ok(t, os.Mkdir(s.path(dbName+"-wal"), 0o700))
	}, lost: "in the place of the file telltale.db-wal is put aside", aside: "telltale.db-wal.damaged-", inputs: sceneInputs},
	{name: "the index of the WAL is a directory", do: func(t *testing.T, s *scene) {
		ok(t, os.RemoveAll(s.path(dbName+"-shm")))
		ok(t, os.Mkdir(s.path(dbName+"-shm"), 0o700))
	}, lost: "in the place of the file telltale.db-shm is put aside", aside: "telltale.db-shm.damaged-", inputs: sceneInputs},
	{name: "head of a journal segment", do: func(t *testing.T, s *scene) {
		s.change(t, s.journal(t, 1), func(b []byte) []byte { return garbage(b, 0, 300) })
	}, lost: "a part of the journal", inputs: sceneInputs * 2 / 3},
	{name: "middle of a journal segment", do: func(t *testing.T, s *scene) {
		s.change(t, s.journal(t, 1), func(b []byte) []byte { return garbage(b, 1000, 1100) })
	}, lost: "a part of the journal", inputs: sceneInputs - 60},
	{name: "tail of a journal segment", do: func(t *testing.T, s *scene) {
		s.change(t, s.journal(t, 1), func(b []byte) []byte { return garbage(b, 1000, 100_000) })
	}, lost: "a part of the journal", inputs: sceneInputs * 2 / 3},
	{name: "all of a journal segment", do: func(t *testing.T, s *scene) {
		s.change(t, s.journal(t, 1), func(b []byte) []byte { return garbage(b, 0, 200_000) })
	}, lost: "it is put aside as journal-", aside: "journal-", inputs: sceneInputs * 2 / 3},
	{name: "a journal segment is a directory", do: func(t *testing.T, s *scene) {
		name := s.path(s.journal(t, 1))
		ok(t, os.Remove(name))
		ok(t, os.Mkdir(name, 0o700))
	}, lost: "it is put aside as journal-", aside: "journal-", inputs: sceneInputs * 2 / 3},
	{name: "a journal segment is gone", do: func(t *testing.T, s *scene) { ok(t, os.Remove(s.path(s.journal(t, 1)))) },
		lost: "of the journal are gone", inputs: sceneInputs * 2 / 3},
	{name: "a stray journal segment of the largest number", do: func(t *testing.T, s *scene) {
		ok(t, os.WriteFile(s.path("journal-18446744073709551615.log"), []byte("stray"), 0o600))
		ok(t, os.WriteFile(s.path("journal-ffffffffffffffff.log"), []byte("stray"), 0o600))
		ok(t, os.WriteFile(s.path("journal-9223372036854775807.log"), nil, 0o600))
	}, lost: "no part of the journal", aside: "journal-18446744073709551615.log.damaged-", inputs: sceneInputs},
	{name: "the database is empty", do: func(t *testing.T, s *scene) {
		s.change(t, dbName, func([]byte) []byte { return nil })
	}, lost: "the database was empty", noState: true, noLog: true, noDevice: true, inputs: sceneInputs},
	{name: "the database is gone", do: func(t *testing.T, s *scene) {
		ok(t, os.Remove(s.path(dbName)))
		ok(t, os.Remove(s.path(dbName+"-wal")))
	}, lost: "the database was gone", noState: true, noLog: true, noDevice: true, inputs: sceneInputs},
	{name: "the database is gone, but not its WAL", do: func(t *testing.T, s *scene) { ok(t, os.Remove(s.path(dbName))) },
		lost: "the database was gone", noState: true, noLog: true, noDevice: true, inputs: sceneInputs},
	{name: "the journal is gone", do: func(t *testing.T, s *scene) {
		for n := range 3 {
			defer os.Remove(s.path(s.journal(t, n))) //nolint:errcheck // asked below
		}
	}, lost: "the journal is gone"},
	{name: "the snapshot cannot be read", do: func(t *testing.T, s *scene) {
		d, err := sqlite.Open(s.path(dbName), 1, nil)
		ok(t, err)
		_, err = d.Write.Exec(`UPDATE core SET crc = crc + 1`)
		ok(t, errors.Join(err, d.Close()))
	}, lost: "the saved state of the alarms cannot be read", noState: true, inputs: sceneInputs},
	{name: "nothing can be written", do: func(_ *testing.T, s *scene) { s.guard = func(string, int) error { return syscall.EROFS } },
		apart: true, inputs: sceneInputs},
	{name: "the disk is full", do: func(_ *testing.T, s *scene) { s.guard = func(string, int) error { return syscall.ENOSPC } },
		apart: true, inputs: sceneInputs},
	{name: "the disk is full and the database damaged", do: func(t *testing.T, s *scene) {
		cut(9, 10)(t, s)
		s.guard = func(string, int) error { return syscall.ENOSPC }
	}, apart: true, inputs: sceneInputs},
	{name: "the directory is gone", do: func(t *testing.T, s *scene) { ok(t, os.RemoveAll(s.dir)) },
		lost: "the store was empty or gone, although", noState: true, noLog: true, noDevice: true},
	{name: "the directory is empty", do: func(t *testing.T, s *scene) {
		ok(t, os.RemoveAll(s.dir))
		ok(t, os.Mkdir(s.dir, 0o700))
	}, lost: "the store was empty or gone, although", noState: true, noLog: true, noDevice: true},
	{name: "what it is in is gone", do: func(t *testing.T, s *scene) { ok(t, os.RemoveAll(filepath.Dir(s.dir))) },
		apart: true, noState: true, noLog: true, noDevice: true},
	{name: "a file has its name", do: func(t *testing.T, s *scene) {
		ok(t, os.RemoveAll(s.dir))
		ok(t, os.WriteFile(s.dir, []byte("x"), 0o600))
	}, apart: true, noState: true, noLog: true, noDevice: true},
}

// cut shortens the database to a part of it, or to so many bytes of 0.
func cut(part, of int) func(t *testing.T, s *scene) {
	return func(t *testing.T, s *scene) {
		s.change(t, dbName, func(b []byte) []byte {
			if part == 0 {
				return b[:of]
			}
			return b[:len(b)*part/of]
		})
		ok(t, os.Remove(s.path(dbName+"-wal"))) // which may hold what is cut off
	}
}

// ruinRow zeroes a page in the middle of a table.
func ruinRow(t *testing.T, s *scene) {
	s.change(t, dbName, func(b []byte) []byte {
		at := bytes.Index(b, []byte(fmt.Sprintf(`"ID":%q`, raise(sceneLog/2, start).ID)))
		if at < 0 {
			t.Fatal("the row is not found")
		}
		clear(b[at/pageSize*pageSize:][:pageSize])
		return b
	})
	ok(t, os.Remove(s.path(dbName+"-wal")))
}

func TestWhateverIsDamagedTheStoreBegins(t *testing.T) {
	for _, d := range damages {
		t.Run(d.name, func(t *testing.T) {
			c := killed(t)
			d.do(t, &c)
			s := open(t, c.dir, Options{guard: c.guard})
			defer s.Close()
			snap, seq, err := s.Recover()
			if (err != nil) != d.noState || err != nil && !errors.Is(err, errSnapshot) {
				t.Errorf("Recover: %v", err)
			}
			if got := string(snap); !d.noState && got != "the state" {
				t.Errorf("the snapshot is %q", got)
			}
			n := 0
			for in, err := range seq {
				ok(t, err)
				if in.Kind == alarms.ReadingIn {
					n++
				}
			}
			if n < d.inputs || n > sceneInputs {
				t.Errorf("%d inputs, want at least %d", n, d.inputs)
			}
			lost := strings.Join(said(s), "\n")
			if (lost == "") != (d.lost == "") || !strings.Contains(lost, d.lost) {
				t.Errorf("lost is %q, want it to say %q", lost, d.lost)
			}
			if (s.Refusing() != nil) != d.apart {
				t.Errorf("it works from memory because of: %v", s.Refusing())
			}
			if d.aside != "" && len(asides(t, c.dir, d.aside)) == 0 {
				t.Errorf("nothing is put aside as %s…", d.aside)
			}
			if d.aside == "" && len(asides(t, c.dir, "")) > 0 {
				t.Errorf("put aside: %v", asides(t, c.dir, ""))
			}
			works(t, s, d.apart, d.noLog, d.noDevice)
			if !d.apart { // and all is well the next time
				ok(t, s.Checkpoint([]byte("new")))
				ok(t, s.Close())
				s = open(t, c.dir, Options{})
				defer s.Close()
				if again := s.Losses(); len(again) > 0 {
					t.Errorf("told again: %q", again)
				}
				snap, _ := recovered(t, s)
				same(t, "snapshot", snap, "new")
			}
		})
	}
}

func asides(t *testing.T, dir, prefix string) []string {
	if prefix == "" {
		prefix = "*damaged-"
	}
	all, err := filepath.Glob(filepath.Join(dir, prefix+"*"))
	ok(t, err)
	return all
}

// works tries what a watch does.
func works(t *testing.T, s *Store, apart, noLog, noDevice bool) {
	t.Helper()
	ctx := context.Background()
	all, err := s.Log.Transitions(ctx, LogQuery{Limit: 1000})
	ok(t, err)
	if noLog && len(all) > 0 || !noLog && len(all) < sceneLog/4 {
		t.Errorf("%d lines of the log are left", len(all))
	}
	devices, err := s.Devices.Of(ctx, "robin")
	ok(t, err)
	if (len(devices) == 0) != noDevice {
		t.Errorf("the devices are %v", devices)
	}
	due, err := allDue(s, ctx, start.Add(day), 1000)
	ok(t, err)
	if slices.ContainsFunc(due, func(w reach.Row) bool { return w.ID == raise(1, start).ID+"/robin" }) {
		t.Error("what was told is to be told again")
	}
	if (len(due) == 0) != noLog {
		t.Errorf("%d messages wait", len(due))
	}
	s.Append(numbered(77_777))
	tr := raise(7000, start.Add(day))
	err = s.Save([]alarms.Transition{tr}, []reach.Outgoing{telling(tr, "robin", 0)})
	var refused *DiskError
	if apart != errors.As(err, &refused) {
		t.Errorf("Save: %v", err)
	}
	got, err := s.History.Readings(ctx, "bench-1", alarms.Temperature, start, start.Add(1000*day), 100_000)
	ok(t, err)
	if len(got) == 0 || got[len(got)-1].Value != numbered(77_777).Value {
		t.Errorf("the reading is not in the history: %d are", len(got))
	}
}
