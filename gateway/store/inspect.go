package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/gateway/store/sqlite"
)

// Contents are what Inspect found in a store.
type Contents struct {
	Name     string        // the store's own, by chance
	InUse    bool          // a watch has it
	Older    bool          // an older version wrote it; the watch brings it up to date at its start
	Problems []string      // what cannot be read, each with where
	Aside    []Aside       // what was put aside as damaged earlier
	Bytes    int64         // in all files
	Ahead    time.Duration // of the wall clock before the core's time, at the end of the journal

	Database int64 // bytes, with what is not folded into it yet
	Journal  int   // segments since the state of the alarms was laid down
	Inputs   int   // in them
	First    time.Time
	Last     time.Time // of the inputs, by the core's time; zero: there is none

	Streams                int
	Readings, Sums         int64 // kept each, and as 10-minute values
	ReadingsFrom, SumsFrom time.Time
	ReadingsTo             time.Time
	Log                    int64 // transitions
	LogFrom, LogTo         time.Time
	Outbox                 OutboxCounts
	Devices                int

	// Snapshot is the core's state; nil: none was laid down yet. Replay gives
	// what was journaled since, as Recover does.
	Snapshot []byte
	Replay   iter.Seq2[alarms.Input, error]
}

// Aside is a file that was put aside.
type Aside struct {
	Name  string
	Bytes int64
}

// Inspect reads the store in dir through, database and journal, and changes
// nothing: with a watch beside it or without one. What is damaged is among the
// Problems. The error says that it cannot be read at all: ErrNewer, that there is
// none, or that the disk refuses.
func Inspect(ctx context.Context, dir string) (c *Contents, err error) {
	const tries = 10 // what a watch is just writing may look damaged
	for n := range tries {
		var steady bool
		c, steady, err = inspectOnce(ctx, filepath.Clean(dir))
		if err != nil || steady && (len(c.Problems) == 0 || !c.InUse || n > tries/2) {
			return c, err
		}
		time.Sleep(50 * time.Millisecond)
	}
	return c, errors.New("the watch wrote to it all the time; try again")
}

// looking is a store that is only looked at.
type looking struct {
	folder  *folder
	losses  *losses
	backlog *backlog
	recent  *recent
	db      *sqlite.Database
	inUse   bool
}

// beside opens the database in dir for reading, as it must be with a watch
// beside it or without one: then nothing is written.
func beside(ctx context.Context, dir string) (*looking, error) {
	path, err := filepath.Abs(filepath.Join(dir, dbName))
	if err == nil {
		_, err = os.Stat(path)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%w in %s: %w", ErrNone, dir, err)
	}
	if err != nil {
		return nil, err
	}
	s := newStore(dir, Options{})
	l := &looking{folder: s.folder, losses: s.losses, backlog: s.backlog, recent: &s.History.recent, inUse: sqlite.InUse(dir)}
	if l.inUse {
		l.db, err = sqlite.OpenToQuery(path, 1)
	} else {
		l.db, err = sqlite.OpenStill(path, 1, false)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, explain(err))
	}
	done, err := migrated(ctx, l.db.Read)
	switch {
	case err == nil && len(done) == 0:
		err = errShape
	case err == nil:
		err = known(done)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", path, explain(err)), l.db.Close())
	}
	return l, nil
}

func (l *looking) close() error { return l.db.Close() }

func inspectOnce(ctx context.Context, dir string) (c *Contents, steady bool, err error) {
	l, err := beside(ctx, dir)
	if err != nil {
		return nil, false, err
	}
	defer func() { err = errors.Join(err, l.close()) }()
	c = &Contents{InUse: l.inUse}
	if err := l.files(c); err != nil {
		return c, false, err
	}
	if err := l.readThrough(ctx, c); err != nil {
		return c, false, err
	}
	c.Older = upToDate(ctx, l.db.Read) != nil // newer it is not
	p, err := l.position(ctx, c.Older)
	if err != nil {
		c.problem("%s: where the journal begins cannot be read: %v", l.folder.path(dbName), err)
		return c, true, nil
	}
	if err := l.journalThrough(c, p); err != nil {
		return c, false, err
	}
	l.count(ctx, c)
	now, err := l.position(ctx, c.Older)
	return c, err == nil && p == now && l.inUse == sqlite.InUse(dir), err
}

func (c *Contents) problem(form string, args ...any) {
	c.Problems = append(c.Problems, fmt.Sprintf(form, args...))
}

// files looks at the files of the store.
func (l *looking) files(c *Contents) error {
	entries, err := os.ReadDir(l.folder.dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		info, err := e.Info()
		if err != nil || !info.Mode().IsRegular() {
			continue // one that has just gone, or is none of ours
		}
		c.Bytes += info.Size()
		switch name := e.Name(); {
		case strings.Contains(name, ".damaged-"):
			c.Aside = append(c.Aside, Aside{name, info.Size()})
		case name == dbName || name == dbName+"-wal":
			c.Database += info.Size()
		}
	}
	return nil
}

// readThrough reads every page of the database.
func (l *looking) readThrough(ctx context.Context, c *Contents) error {
	if !l.inUse {
		if b, err := os.ReadFile(l.folder.path(dbName + "-wal")); err == nil && sqlite.WALDamaged(b) {
			c.problem("%s: the newest writes to the database are damaged", l.folder.path(dbName+"-wal"))
		}
	}
	const most = 20
	found, err := sqlite.CollectAll(ctx, l.db.Read, func(r *sql.Rows, s *string) error { return r.Scan(s) }, fmt.Sprintf("PRAGMA integrity_check(%d)", most))
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		found = []string{err.Error()}
	}
	for _, f := range found {
		if f != "ok" {
			c.problem("%s: %s", l.folder.path(dbName), strings.ReplaceAll(f, "\n", " "))
		}
	}
	return nil
}

// position is readPosition, also for a store of an older version.
func (l *looking) position(ctx context.Context, older bool) (p position, err error) {
	if !older {
		return readPosition(ctx, l.db.Read)
	}
	p.segment, err = firstSegment(ctx, l.db.Read)
	return p, err
}

// journalThrough reads every segment since p, and the state of the alarms.
func (l *looking) journalThrough(c *Contents, p position) error {
	l.recent.ahead = p.ahead
	if _, _, err := l.backlog.read(p, true); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil // a checkpoint came: it is not steady
		}
		return err
	}
	for _, words := range l.losses.take() {
		c.problem("%s: %s", l.folder.dir, say.English(words))
	}
	c.Ahead, c.Journal = l.recent.ahead, len(l.backlog.replay)
	for in := range l.backlog.inputs() {
		if c.Inputs == 0 {
			c.First = in.At
		}
		c.Inputs++
		c.Last = in.At
	}
	var err error
	if c.Snapshot, err = readSnapshot(context.Background(), l.db.Read); err != nil {
		c.problem("%s: %v", l.folder.path(dbName), err)
	}
	c.Replay = l.backlog.inputs()
	return nil
}

func scanNumber(r *sql.Rows, n *uint64) error { return r.Scan(n) }

// count counts what is kept, of an older version what every version had.
func (l *looking) count(ctx context.Context, c *Contents) {
	ask := func(query string, into ...any) {
		if err := l.db.Read.QueryRowContext(ctx, query).Scan(into...); err != nil {
			c.problem("%s: %v", l.folder.path(dbName), err)
		}
	}
	var from, to, day, logFrom, logTo sql.NullInt64
	ask(`SELECT count(*) FROM stream`, &c.Streams)
	ask(`SELECT coalesce(sum(n), 0), min(first_ms), max(last_ms) FROM block`, &c.Readings, &from, &to)
	ask(`SELECT coalesce(sum(n), 0), min(id >> 20) FROM day`, &c.Sums, &day)
	ask(`SELECT count(*), min(due), max(due) FROM transition`, &c.Log, &logFrom, &logTo)
	ask(`SELECT count(*) FILTER (WHERE state = 0), count(*) FILTER (WHERE state = 1), count(*) FILTER (WHERE state = 2),
		count(*) FILTER (WHERE state = 3), count(*) FILTER (WHERE state = 4) FROM outbox`,
		&c.Outbox.Waiting, &c.Outbox.Told, &c.Outbox.Abandoned, &c.Outbox.Cancelled, &c.Outbox.Rehearsed)
	if !c.Older {
		ask(`SELECT count(*) FROM subscription WHERE endpoint IS NOT NULL`, &c.Devices)
		ask(`SELECT coalesce(max(value), '') FROM kept WHERE name = '`+nameKept+`'`, &c.Name)
	}
	for _, t := range []struct {
		n    sql.NullInt64
		unit time.Duration
		to   *time.Time
	}{{from, time.Millisecond, &c.ReadingsFrom}, {to, time.Millisecond, &c.ReadingsTo}, {day, 24 * time.Hour, &c.SumsFrom},
		{logFrom, time.Nanosecond, &c.LogFrom}, {logTo, time.Nanosecond, &c.LogTo}} {
		if t.n.Valid {
			*t.to = time.Unix(0, 0).UTC().Add(time.Duration(t.n.Int64) * t.unit)
		}
	}
	held, _, streams := l.recent.counts()
	c.Readings, c.Streams = c.Readings+int64(held), max(c.Streams, streams)
	if held > 0 && c.Last.Add(c.Ahead).After(c.ReadingsTo) {
		c.ReadingsTo = c.Last.Add(c.Ahead)
	}
}
