package store

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/gateway/reach"
)

func TestInspectSaysWhatIsThereAndChangesNothing(t *testing.T) {
	t.Parallel()
	s := killed(t)
	before := filesIn(t, s.dir)
	c, err := Inspect(context.Background(), s.dir)
	ok(t, err)
	same(t, "what changed", changed(before, filesIn(t, s.dir)), "")
	same(t, "problems", strings.Join(c.Problems, "; "), "")
	same(t, "in use", c.InUse, false)
	same(t, "readings", c.Readings, 2000+sceneInputs)
	same(t, "log", c.Log, sceneLog+5)
	same(t, "segments", c.Journal, 3)
	same(t, "waiting", c.Outbox.Waiting, sceneLog-1)
	same(t, "told", c.Outbox.Told, 1)
	same(t, "devices", c.Devices, 1)
	same(t, "snapshot", string(c.Snapshot), "the state")
	same(t, "last", c.Last, numbered(10_000+sceneInputs-1).At)
	same(t, "first reading", c.ReadingsFrom, numbered(1).At)
	inputs := 0
	for _, err := range c.Replay {
		ok(t, err)
		inputs++
	}
	same(t, "replayed", inputs, c.Inputs)

	open := open(t, s.dir, Options{})
	defer open.Close()
	before = filesIn(t, s.dir)
	c, err = Inspect(context.Background(), s.dir)
	ok(t, err)
	same(t, "in use", c.InUse, true)
	same(t, "problems", strings.Join(c.Problems, "; "), "")
	same(t, "what changed", changed(before, filesIn(t, s.dir)), "")
	open.Append(numbered(20_000)) // and the watch is not locked out
	ok(t, open.Sync())
}

func TestInspectFindsDamage(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		do   func(t *testing.T, s *scene)
		says string
	}{
		{"journal", func(t *testing.T, s *scene) {
			s.change(t, s.journal(t, 1), func(b []byte) []byte { return garbage(b, 40, 80) })
		}, "journal-"},
		{"journal gone", func(t *testing.T, s *scene) { ok(t, os.Remove(s.path(s.journal(t, 1)))) }, "of the journal are gone"},
		{"database", func(t *testing.T, s *scene) {
			s.change(t, dbName, func(b []byte) []byte { return garbage(b, 5*4096, 8*4096) })
		}, dbName},
		{"WAL", func(t *testing.T, s *scene) {
			s.change(t, dbName+"-wal", func(b []byte) []byte { return garbage(b, 60, 90) })
		}, dbName + "-wal"},
		{"a row", ruinRow, dbName},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := killed(t)
			c.do(t, &s)
			before := filesIn(t, s.dir)
			found, err := Inspect(context.Background(), s.dir)
			said := ""
			if found != nil {
				said = strings.Join(found.Problems, "; ")
			}
			if err != nil {
				said += err.Error()
			}
			if !strings.Contains(said, c.says) || !strings.Contains(said, s.dir) {
				t.Errorf("it says %q, want where %q is", said, c.says)
			}
			same(t, "what changed", changed(before, filesIn(t, s.dir)), "")
		})
	}
}

// What a newer program wrote is refused, and stays as it is.
func TestANewerStoreIsRefusedUnchanged(t *testing.T) {
	t.Parallel()
	s := killed(t)
	live := open(t, s.dir, Options{IDFile: s.id})
	_, err := live.disk.db().Write.Exec(`INSERT INTO migration (name) VALUES ('9999_from_the_future.sql')`)
	ok(t, err)
	ok(t, live.Close())
	before := filesIn(t, s.dir)
	_, openErr := Open(s.dir, Options{IDFile: s.id})
	_, lookErr := Inspect(context.Background(), s.dir)
	copyErr := Copy(context.Background(), s.dir, t.TempDir(), Copying{})
	for _, err := range []error{openErr, lookErr, copyErr} {
		if !errors.Is(err, ErrNewer) || !strings.Contains(err.Error(), "run the newer program") {
			t.Errorf("got %v", err)
		}
	}
	after := filesIn(t, s.dir)
	same(t, "what changed", changed(before, after), "")
}

func TestRenewMakesAStoreOfItsOwn(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "store")
	ctx := context.Background()
	s := open(t, dir, Options{})
	was, err := s.Notes.Garden(ctx)
	ok(t, err)
	part, err := s.Notes.ClientPart(ctx)
	ok(t, err)
	ok(t, s.Notes.Keep(ctx, "runs", "x"))
	ok(t, s.Notes.Keep(ctx, "else", "y"))
	tr := raise(1, start)
	ok(t, s.Save([]alarms.Transition{tr}, []reach.Outgoing{telling(tr, "robin", 0), telling(tr, "kim", 0)}))
	ok(t, s.Renew(ctx, func(n int) string { same(t, "cancelled", n, 2); return "it was put back" }, "runs"))
	ok(t, s.Close())
	id, err := os.ReadFile(dir + ".id")
	ok(t, err)

	s = open(t, dir, Options{})
	defer s.Close()
	same(t, "losses", strings.Join(s.Losses(), "; "), "it was put back")
	now, err := s.Notes.Garden(ctx)
	ok(t, err)
	other, err := s.Notes.ClientPart(ctx)
	ok(t, err)
	if now == was || other == part {
		t.Errorf("the garden is %s, before %s; the client %s, before %s", now, was, other, part)
	}
	again, err := os.ReadFile(dir + ".id")
	ok(t, err)
	if bytes.Equal(id, again) {
		t.Error("the store has the name of the one it was copied from")
	}
	runs, err := s.Notes.Kept(ctx, "runs")
	ok(t, err)
	other, err = s.Notes.Kept(ctx, "else")
	ok(t, err)
	same(t, "kept", runs+other, "y")
	same(t, "messages", counts(t, s), OutboxCounts{Cancelled: 2})
}
