package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/walk"
	"telltale/gateway/reach"
	"telltale/gateway/store/sqlite"
)

var start = time.Date(2025, 3, 3, 6, 0, 0, 0, time.UTC)

func open(t testing.TB, dir string, opt Options) *Store {
	t.Helper()
	s, err := Open(dir, opt)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func fresh(t testing.TB, opt Options) *Store {
	t.Helper()
	s := open(t, filepath.Join(t.TempDir(), "store"), opt)
	t.Cleanup(func() { s.Close() })
	return s
}

// said is what was lost, in words.
func said(s *Store) (all []string) { return walk.Each(s.Losses(), say.English) }

func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func reading(at time.Time, probe string, v float64) alarms.Input {
	return alarms.Input{At: at, Kind: alarms.ReadingIn, Probe: alarms.ProbeID(probe), Quantity: alarms.Temperature, Value: v}
}

// everyKind is one input of every kind, with fields of every kind.
func everyKind(at time.Time) []alarms.Input {
	sec := func(n int) time.Time { return at.Add(time.Duration(n) * time.Second) }
	return []alarms.Input{
		reading(sec(0), "bench-1", 21.5),
		{At: sec(1).Add(1234567), Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Humidity, Value: 1.0 / 3,
			Measured: sec(-3).Add(17), Retained: true},
		{At: sec(2), Kind: alarms.GarbledIn, Probe: "ridge", Quantity: alarms.Temperature, Note: "not a number: \"--\""},
		{At: sec(3), Kind: alarms.Acknowledge, Alarm: "long-house/bench/temperature/high", By: "Robin"},
		{At: sec(4), Kind: alarms.Shelve, Alarm: "long-house/ridge/unwatched", Until: sec(7200), By: "Robin", Note: "painting"},
		{At: sec(5), Kind: alarms.Unshelve, Alarm: "long-house/ridge/unwatched", By: "Robin"},
		{At: sec(6), Kind: alarms.TakeOut, Probe: "ridge", By: "Robin", Note: "battery"},
		{At: sec(7), Kind: alarms.PutBack, Probe: "ridge", By: "Robin"},
		{At: sec(8), Kind: alarms.SetSeason, House: "low-house", Season: alarms.SeasonWinter, By: "Robin"},
		{At: sec(9), Kind: alarms.LinkDown, Note: "connection refused"},
		{At: sec(10), Kind: alarms.LinkUp},
		{At: sec(11), Kind: alarms.RestartMarker},
		{At: sec(5), Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: -0.25,
			Measured: time.Date(1970, 1, 1, 0, 0, 5, 0, time.UTC)},
		{At: sec(12), Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: "", Value: 0},
		{At: sec(13), Kind: alarms.ReadingIn, Probe: "bench-1", Quantity: alarms.Temperature, Value: 5, Note: "odd", By: "x"},
		{At: sec(14), Kind: alarms.TroubleOn, Alarm: alarms.TroubleDisk, Note: "no room"},
		{At: sec(15), Kind: alarms.TroubleOff, Alarm: alarms.TroubleDisk},
		{At: sec(16), Kind: alarms.SetSelector, House: "long-house", Selector: "door-box", Position: "winter", By: "Robin"},
		{At: sec(17), Kind: alarms.ClockStep, Shift: -12 * 365 * 24 * time.Hour},
		{At: sec(18), Kind: alarms.StoodStill, Since: sec(17)},
		{At: sec(19), Kind: alarms.GoAway, Person: "Robin", StandIn: "Ann", Spared: true, Until: sec(90000), By: "Robin"},
		{At: sec(20), Kind: alarms.ComeBack, Person: "Robin"},
	}
}

// recovered reads everything back; ticks are left out.
func recovered(t testing.TB, s *Store) (snapshot string, inputs []alarms.Input) {
	t.Helper()
	b, seq, err := s.Recover()
	ok(t, err)
	for in, err := range seq {
		ok(t, err)
		if in.Kind != alarms.Tick {
			inputs = append(inputs, in)
		}
	}
	return string(b), inputs
}

func same[T any](t testing.TB, what string, got, want T) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Fatalf("%s:\n got %+v\nwant %+v", what, got, want)
	}
}

func TestEveryInputComesBack(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	want := everyKind(start)
	for i, in := range want {
		s.Append(in)
		if i%4 == 0 {
			ok(t, s.Sync())
		}
	}
	ok(t, s.Close())
	s = open(t, dir, Options{})
	defer s.Close()
	snap, got := recovered(t, s)
	if snap != "" {
		t.Fatalf("a snapshot out of nowhere: %q", snap)
	}
	same(t, "inputs", got, want)
}

// Each field there is, alone on a reading and on something else: one that the
// journal does not know would be lost.
func TestEveryFieldComesBack(t *testing.T) {
	var want []alarms.Input
	fields := reflect.TypeFor[alarms.Input]()
	for i := range fields.NumField() {
		for _, kind := range []alarms.InputKind{alarms.ReadingIn, alarms.SetSelector} {
			in := alarms.Input{At: start.Add(time.Duration(i) * time.Second), Kind: kind, Probe: "bench-1"}
			switch f := reflect.ValueOf(&in).Elem().Field(i); f.Interface().(type) {
			case time.Time:
				f.Set(reflect.ValueOf(start.Add(time.Hour)))
			case alarms.InputKind:
				f.SetUint(uint64(alarms.GarbledIn))
			case float64:
				f.SetFloat(1.25)
			case bool:
				f.SetBool(true)
			case time.Duration:
				f.SetInt(int64(-3 * time.Hour))
			default:
				f.SetString("a-" + fields.Field(i).Name)
			}
			want = append(want, in)
		}
	}
	dir := t.TempDir()
	s := open(t, dir, Options{})
	for _, in := range want {
		s.Append(in)
	}
	ok(t, s.Close())
	s = open(t, dir, Options{})
	defer s.Close()
	_, got := recovered(t, s)
	same(t, "inputs", got, want)
}

func TestOnlyInputsSinceTheSnapshotComeBack(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	for round := range 3 {
		s.Append(reading(start.Add(time.Duration(round)*time.Minute), "bench-1", float64(round)))
		ok(t, s.Checkpoint([]byte(fmt.Sprintf("state %d", round))))
	}
	last := reading(start.Add(time.Hour), "bench-1", 7)
	s.Append(last)
	ok(t, s.Close())
	for range 2 { // opening alone changes nothing
		s = open(t, dir, Options{})
		snap, got := recovered(t, s)
		same(t, "snapshot", snap, "state 2")
		same(t, "inputs", got, []alarms.Input{last})
		ok(t, s.Close())
	}
	files, err := segments(dir)
	ok(t, err)
	if len(files) != 2 {
		t.Fatalf("segments %v are left, want the one since the snapshot, and the next", files)
	}
}

func TestTheNewestTickOfEachFlushComesBack(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	tick := func(sec int) {
		s.Append(alarms.Input{At: start.Add(time.Duration(sec) * time.Second), Kind: alarms.Tick})
		ok(t, s.Sync())
	}
	s.Append(reading(start, "bench-1", 20))
	tick(1)
	before := s.Stats().Flushes
	for i := 2; i <= 60; i++ {
		tick(i) // less than a minute since the last time on disk
	}
	if n := s.Stats().Flushes; n != before {
		t.Fatalf("%d flushes for ticks alone within a minute", n-before)
	}
	tick(61)
	ok(t, s.Close())
	s = open(t, dir, Options{})
	defer s.Close()
	_, seq, err := s.Recover()
	ok(t, err)
	var ticks []int
	for in, err := range seq {
		ok(t, err)
		if in.Kind == alarms.Tick {
			ticks = append(ticks, int(in.At.Sub(start).Seconds()))
		}
	}
	same(t, "ticks", ticks, []int{1, 61})
}

func TestSyncEndsTheWait(t *testing.T) {
	now := start
	s := fresh(t, Options{Now: func() time.Time { return now }})
	s.Append(reading(start, "bench-1", 20))
	now = now.Add(700 * time.Millisecond)
	s.Append(reading(start, "bench-1", 21))
	same(t, "waiting since", s.Stats().WaitingSince, start)
	ok(t, s.Sync())
	if st := s.Stats(); st.Waiting != 0 || !st.WaitingSince.IsZero() {
		t.Fatalf("still waiting after Sync: %+v", st)
	}
}

func TestSnapshotIsCheckedBySum(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	big := make([]byte, 200_000)
	for i := range big {
		big[i] = byte(rand.IntN(7))
	}
	ok(t, s.Checkpoint(big))
	got, _ := recovered(t, s)
	same(t, "snapshot", got, string(big))
	_, err := s.disk.db().Write.Exec(`UPDATE core SET crc = crc + 1`)
	ok(t, err)
	last := reading(start, "bench-1", 20)
	s.Append(last)
	ok(t, s.Sync())
	ok(t, s.Close())
	s = open(t, dir, Options{})
	defer s.Close()
	b, seq, err := s.Recover()
	if !errors.Is(err, errSnapshot) || b != nil {
		t.Fatalf("got %v, want errSnapshot", err)
	}
	for in := range seq {
		if in.Kind == alarms.ReadingIn {
			same(t, "input", in, last)
			return
		}
	}
	t.Fatal("the inputs are gone with the snapshot")
}

// Only another watch and a newer version keep a store from being opened.
func TestOpenFailsForTwoCausesAlone(t *testing.T) {
	taken := t.TempDir()
	defer open(t, taken, Options{}).Close()
	newer := t.TempDir()
	s := open(t, newer, Options{})
	_, err := s.disk.db().Write.Exec(`INSERT INTO migration (name) VALUES ('9999_later.sql')`)
	ok(t, err)
	ok(t, s.Close())
	for _, c := range []struct {
		dir  string
		is   error
		says string
	}{
		{taken, ErrInUse, "in use by another process; two watches must not share one store"},
		{newer, ErrNewer, `it has the schema step "9999_later.sql", the last one known here is "`},
	} {
		s, err := Open(c.dir, Options{})
		if err == nil {
			s.Close()
			t.Errorf("%s: opened", c.dir)
			continue
		}
		if !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.says) ||
			!strings.HasPrefix(err.Error(), "cannot open the store "+c.dir+": ") {
			t.Errorf("%s: got %v\nwant one that says %q", c.dir, err, c.says)
		}
	}
}

func TestEveryConnectionHasItsPragmas(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	for range 3 {
		c, err := s.disk.db().Read.Conn(ctx)
		ok(t, err)
		defer c.Close()
		for pragma, want := range map[string]int{"foreign_keys": 1, "synchronous": 2, "busy_timeout": 10000, "query_only": 1} {
			var got int
			ok(t, c.QueryRowContext(ctx, "PRAGMA "+pragma).Scan(&got))
			same(t, pragma, got, want)
		}
	}
	var mode string
	ok(t, s.disk.db().Write.QueryRow("PRAGMA journal_mode").Scan(&mode))
	same(t, "journal mode", mode, "wal")
}

// In a directory that was made by hand others read nothing either.
func TestOthersReadNothingOfTheStore(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "store")
	if err := errors.Join(os.Mkdir(dir, 0o755), os.Chmod(dir, 0o755)); err != nil {
		t.Fatal(err)
	}
	for range 2 { // new, and there already
		s, err := Open(dir, Options{})
		if err != nil {
			t.Fatal(err)
		}
		s.Append(alarms.Input{At: time.Date(2026, 4, 5, 12, 0, 0, 0, time.UTC), Kind: alarms.RestartMarker})
		if err := errors.Join(s.Sync(), s.Checkpoint([]byte("snapshot"))); err != nil {
			t.Fatal(err)
		}
		files, err := os.ReadDir(dir)
		if err != nil || len(files) < 4 {
			t.Fatalf("got %v, %v", files, err)
		}
		for _, f := range files {
			info, err := f.Info()
			if err == nil && info.Mode()&fs.ModeSymlink != 0 { // to the index in memory
				info, err = os.Stat(filepath.Join(dir, f.Name()))
			}
			if err != nil || info.Mode().Perm()&0o007 != 0 {
				t.Errorf("%s: mode %v, %v", f.Name(), info.Mode(), err)
			}
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// allDue is Due of all channels together.
func allDue(s *Store, ctx context.Context, now time.Time, limit int) ([]reach.Row, error) {
	return sqlite.Collect(ctx, s.disk.db().Read, scanRow, `SELECT `+outgoingColumns+` FROM outbox o
		WHERE o.state = 0 AND o.next <= ? ORDER BY o.next, o.seq LIMIT ?`, now.UnixNano(), limit)
}

// attempts are all that are kept, in order.
func attempts(t *testing.T, s *Store) []Attempt {
	t.Helper()
	all, err := sqlite.Collect(context.Background(), s.disk.db().Read, func(r *sql.Rows, a *Attempt) error {
		var at int64
		err := r.Scan(&a.Outgoing, &at, &a.Channel, &a.Person, &a.Outcome, &a.Error)
		a.At = timeOf(at)
		return err
	}, `SELECT outgoing, at, channel, person, outcome, error FROM attempt ORDER BY seq`)
	ok(t, err)
	return all
}

// cancel takes a row out that waits, as what happens to its alarm does.
func cancel(t *testing.T, s *Store, id string) {
	t.Helper()
	_, err := s.disk.db().Write.Exec(`UPDATE outbox SET state = ? WHERE id = ? AND state = 0`, cancelled, id)
	ok(t, err)
}

// logged is the transition with this ID.
func logged(t *testing.T, s *Store, id string) (alarms.Transition, bool) {
	t.Helper()
	all, err := sqlite.Collect(context.Background(), s.disk.db().Read, scanTransition, `SELECT body FROM transition WHERE id = ?`, id)
	ok(t, err)
	return append(all, alarms.Transition{})[0], len(all) > 0
}
