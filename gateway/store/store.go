package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms/tongue"
	"telltale/gateway/store/sqlite"
)

// Options say how a Store works. The zero value of each means its default.
type Options struct {
	AliveEvery time.Duration // how often the time alone is journaled when nothing else is; default 1 min

	CheckpointEvery    time.Duration // default 1 h
	CheckpointReadings int           // due earlier when so many are held in memory; default 250,000
	MaxReadings        int           // held in memory at most, while checkpoints fail; default 1,000,000 (about 4 MB)
	MaxWaiting         int           // bytes of inputs that may wait for the disk; default 1 MiB (about 150,000 readings)

	RawFor  time.Duration    // raw readings; default 90 days
	SumFor  time.Duration    // 10-minute values; default 5 years
	LogFor  time.Duration    // transitions and attempts; default 5 years
	Readers int              // connections for queries; default 3
	Now     func() time.Time // for CheckpointEvery and Stats alone; nil means time.Now
	Log     zerolog.Logger

	// IDFile, outside the directory, says that there is a store: so one that is
	// gone is missed. Default: the directory's name and ".id".
	IDFile string

	guard sqlite.Guard // tests: refuse writes
}

const day = 24 * time.Hour

func (o Options) withDefaults() Options {
	o.AliveEvery = cmp.Or(o.AliveEvery, time.Minute)
	o.CheckpointEvery = cmp.Or(o.CheckpointEvery, time.Hour)
	o.CheckpointReadings = cmp.Or(o.CheckpointReadings, 250_000)
	o.MaxReadings = cmp.Or(o.MaxReadings, 1_000_000)
	o.MaxWaiting = min(max(cmp.Or(o.MaxWaiting, 1<<20), 2*peopleRoom), maxFrame/2)
	o.RawFor = cmp.Or(o.RawFor, 90*day)
	o.SumFor = cmp.Or(o.SumFor, 5*365*day)
	o.LogFor = cmp.Or(o.LogFor, 5*365*day)
	o.Readers = cmp.Or(o.Readers, 3)
	if o.Now == nil {
		o.Now = time.Now
	}
	return o
}

// Store is an open store: the journal, the state of the alarms, and rooms for all
// else. See the package comment for who may call what.
type Store struct {
	Log     Log
	Outbox  Outbox
	Devices Devices
	History History
	Notes   Notes

	opt     Options
	folder  *folder
	losses  *losses
	disk    *disk
	mender  *mender
	backlog *backlog
	journal *journal

	since   uint64      // first segment after the snapshot
	last    time.Time   // by opt.Now: of the last checkpoint
	tryAt   time.Time   // by opt.Now: when to open the disk again, or to look for the directory
	earlier atomic.Bool // the disk came back with a state that the core has not
	clashes atomic.Int64
}

// newStore makes the rooms of a store that is not open yet.
func newStore(dir string, opt Options) *Store {
	dir, opt = filepath.Clean(dir), opt.withDefaults()
	j := newJournal(dir, 1, opt.MaxWaiting, opt.guard)
	f, l, d := &folder{dir: dir}, &losses{log: opt.Log}, &disk{dir: dir, counts: &j.counts}
	s := &Store{opt: opt, folder: f, losses: l, disk: d, journal: j,
		Log: Log{d, opt.LogFor}, Outbox: Outbox{d}, Devices: Devices{d}, Notes: Notes{d},
		History: History{disk: d, rawFor: opt.RawFor, sumFor: opt.SumFor, recent: recent{streams: map[name]*stream{}, max: opt.MaxReadings, epoch: 1}},
		mender:  &mender{folder: f, losses: l, disk: d, readers: opt.Readers, guard: opt.guard}}
	s.backlog = &backlog{folder: f, losses: l, take: s.History.recent.take, marred: map[uint64]bool{}}
	return s
}

// Open opens the store in dir, which is made if it is not there; its parent
// must be. What is damaged is put aside, what can be read of it is used, and
// Losses says what could not. Where nothing can be written the store works from
// memory: Refusing says why, every write is refused with a *DiskError, and the
// disk is tried again once a minute. The errors are ErrInUse and ErrNewer, each
// within a sentence.
func Open(dir string, opt Options) (*Store, error) {
	opt.IDFile = cmp.Or(opt.IDFile, filepath.Clean(dir)+".id")
	s := newStore(dir, opt)
	s.last = s.opt.Now()
	err := s.attach(context.Background())
	switch {
	case err == nil:
		s.losses.knows.Store(true)
	case !errors.Is(err, ErrInUse) && !errors.Is(err, ErrNewer):
		err = s.begin(context.Background(), err)
	}
	if err != nil {
		return nil, fmt.Errorf("cannot open the store %s: %w", s.folder.dir, errors.Join(err, s.release()))
	}
	return s, nil
}

// Close writes what waits and ends the store. It takes no snapshot: call
// Checkpoint before.
func (s *Store) Close() error {
	return errors.Join(s.Sync(), s.release())
}

func (s *Store) release() error {
	errs := []error{s.journal.rotate()}
	if db := s.disk.db(); db != nil {
		errs = append(errs, db.Close())
	}
	return errors.Join(append(errs, s.folder.unclaim())...)
}

// Renew makes a store that was put back from a copy one of its own. What waits to
// be told is cancelled: the store that it was copied from has told it. It forgets
// its own name, the garden's ID and the given names of what was kept. words say
// what is lost by it, from the number of rows that were cancelled: they are among
// the Losses of the next Open. The error is a *DiskError.
func (s *Store) Renew(ctx context.Context, words func(cancelled int) string, forget ...string) error {
	const doing = "make the copy a store of its own"
	var n int64
	err := s.disk.write(ctx, doing, func(tx *sql.Tx) (err error) {
		if n, err = execute(ctx, tx, `UPDATE outbox SET state = ? WHERE state = ?`, cancelled, waiting); err != nil {
			return err
		}
		for _, name := range append(forget, gardenKept, birthKept, clientKept, nameKept) {
			if _, err := tx.ExecContext(ctx, `DELETE FROM kept WHERE name = ?`, name); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		s.losses.lose(words(int(n)))
		err = s.disk.fault(doing, s.losses.keep(ctx, s.disk.db()))
	}
	return err
}

// nameKept is the name under which the store keeps its own.
const nameKept = "name of the store"

// identify holds the store's name against the one outside its directory.
func (s *Store) identify(ctx context.Context, db *sqlite.Database, fresh bool) error {
	path := s.opt.IDFile
	outside, _ := os.ReadFile(path)
	there := strings.TrimSpace(string(outside))
	var name string
	err := db.Write.QueryRowContext(ctx, `SELECT value FROM kept WHERE name = ?`, nameKept).Scan(&name)
	if errors.Is(err, sql.ErrNoRows) {
		if fresh && there != "" && len(s.backlog.replay) == 0 {
			s.losses.lose(tongue.Keep("the store was empty or gone, although %s says that there was one; log, history, devices and messages that waited are gone with it", path))
			s.losses.forget()
		}
		name = randomID()
		_, err = db.Write.ExecContext(ctx, `INSERT INTO kept (name, value) VALUES (?, ?)`, nameKept, name)
	}
	if err != nil || name == there {
		return err
	}
	if err := os.WriteFile(path, []byte(name+"\n"), 0o640); err != nil {
		s.opt.Log.Warn().Err(err).Msg("the store's name cannot be kept outside its directory: if the whole store goes, nobody is told")
	}
	return nil
}
