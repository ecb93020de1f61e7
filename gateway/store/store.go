package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/rs/zerolog"
)

// Options say how a Store works. The zero value of each means its default.
type Options struct {
	MaxWait    time.Duration // longest wait of an input for the disk; default 1 s
	AliveEvery time.Duration // how often the time alone is journaled when nothing else is; default 1 min

	CheckpointEvery    time.Duration // default 1 h
	CheckpointReadings int           // due earlier when so many are held in memory; default 250,000
	MaxReadings        int           // held in memory at most, while checkpoints fail; default 1,000,000 (about 4 MB)
	MaxWaiting         int           // bytes of inputs that may wait for the disk; default 1 MiB (about 150,000 readings)

	RawFor  time.Duration    // raw readings; default 90 days
	SumFor  time.Duration    // 10-minute values; default 5 years
	LogFor  time.Duration    // transitions and attempts; default 5 years
	Readers int              // connections for queries; default 3
	Now     func() time.Time // for MaxWait and CheckpointEvery alone; nil means time.Now
	Log     zerolog.Logger

	// IDFile, outside the directory, says that there is a store: so one that is
	// gone is missed. Default: the directory's name and ".id".
	IDFile string

	guard guard // tests: refuse writes
}

const day = 24 * time.Hour

func (o Options) withDefaults() Options {
	o.MaxWait = cmp.Or(o.MaxWait, time.Second)
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

// Store is an open store. See the package comment for who may call what.
type Store struct {
	dir     string
	opt     Options
	lock    *os.File                 // the directory, and
	file    *os.File                 // "lock" in it, which a version of before locks alone
	base    atomic.Pointer[database] // another one once a disk is back
	journal *journal
	recent  recent

	since  uint64                    // first segment after the snapshot
	replay []uint64                  // segments that Recover reads
	marred map[uint64]bool           // segments to be put aside, not removed
	oldest atomic.Pointer[time.Time] // by opt.Now: since when something waits; nil: nothing does
	retry  time.Time                 // by opt.Now: of the last refusal, until the disk takes it again
	last   time.Time                 // by opt.Now: of the last checkpoint

	apart   atomic.Pointer[error] // why nothing can be written; nil: the disk is open
	tryAt   time.Time             // by opt.Now: when to open the disk again, or to look for the directory
	knows   atomic.Bool           // the core has the state that is on the disk
	earlier atomic.Bool           // the disk came back with a state that the core has not
	sick    atomic.Bool           // damage was met in the database
	forgot  atomic.Bool           // the state of the alarms was lost
	losses  losses

	refused atomic.Bool // the disk refused the last write
	tails   atomic.Int64
	damaged atomic.Int64
	lost    atomic.Int64
	clashes atomic.Int64

	failures atomic.Uint64
	sizing   sync.Mutex                // held while the files are looked up
	flushed  atomic.Pointer[time.Time] // by opt.Now: when the journal last reached the disk
}

// Open opens the store in dir, which is made if it is not there; its parent
// must be. What is damaged is put aside, what can be read of it is used, and
// Losses says what could not. Where nothing can be written the store works from
// memory: Refusing says why, every write is refused with a *DiskError, and the
// disk is tried again once a minute. The errors are ErrInUse and ErrNewer, each
// within a sentence.
func Open(dir string, opt Options) (*Store, error) {
	opt.IDFile = cmp.Or(opt.IDFile, filepath.Clean(dir)+".id")
	s := &Store{dir: filepath.Clean(dir), opt: opt.withDefaults(), marred: map[uint64]bool{}}
	if err := s.open(); err != nil {
		return nil, fmt.Errorf("cannot open the store %s: %w", s.dir, errors.Join(err, s.release()))
	}
	return s, nil
}

func (s *Store) open() error {
	s.recent = recent{streams: map[name]*stream{}, max: s.opt.MaxReadings, epoch: 1}
	s.journal = newJournal(s.dir, 1, s.opt.MaxWaiting, s.opt.guard)
	s.last = s.opt.Now()
	err := s.attach(context.Background())
	switch {
	case errors.Is(err, ErrInUse), errors.Is(err, ErrNewer):
		return err
	case err != nil:
		return s.begin(context.Background(), err)
	}
	s.knows.Store(true)
	return nil
}

// claim makes the directory and takes it for this process.
func (s *Store) claim() error {
	if s.lock != nil {
		return nil
	}
	if err := os.Mkdir(s.dir, 0o750); err != nil && !errors.Is(err, os.ErrExist) {
		return s.explain(err)
	}
	if info, err := os.Stat(s.dir); err != nil {
		return s.explain(err)
	} else if !info.IsDir() {
		return fmt.Errorf("it is %w; give the name of a directory", ErrNotDirectory)
	}
	dir, err := os.Open(s.dir)
	if err != nil {
		return s.explain(err)
	}
	s.lock = dir
	ok, err := tryLock(dir) // some file systems lock files alone
	if ok || err != nil {
		f, openErr := os.OpenFile(s.path("lock"), os.O_RDWR|os.O_CREATE, 0o640)
		switch {
		case openErr == nil:
			s.file = f
			ok, err = tryLock(f)
		case err != nil:
			return errors.Join(s.explain(openErr), s.unclaim())
		}
	}
	switch {
	case err != nil:
		return errors.Join(fmt.Errorf("it cannot be locked: %w", err), s.unclaim())
	case !ok:
		return errors.Join(fmt.Errorf("it is %w; two watches must not share one store", ErrInUse), s.unclaim())
	}
	return nil
}

// unclaim gives the directory up.
func (s *Store) unclaim() error {
	var errs []error
	for _, f := range []*os.File{s.lock, s.file} {
		if f != nil {
			errs = append(errs, unlock(f), f.Close())
		}
	}
	s.lock, s.file = nil, nil
	return errors.Join(errs...)
}

// explain adds what to do to the errors a person can do something about.
func (s *Store) explain(err error) error {
	switch {
	case errors.Is(err, ErrNewer):
		return err
	case errors.Is(err, syscall.ENOTDIR):
		return fmt.Errorf("a part of the path is %w: %w", ErrNotDirectory, err)
	case readOnly(err):
		return fmt.Errorf("it %w by this user; check its owner and the disk: %w", ErrReadOnly, err)
	case driverDamaged(err):
		return fmt.Errorf("telltale.db is %w: %w", ErrDamaged, err)
	case noSpace(err):
		return fmt.Errorf("%w; make room: %w", ErrFull, err)
	}
	return err
}

func (s *Store) db() *database { return s.base.Load() }

// Close writes what waits and ends the store. It takes no snapshot: call
// Checkpoint before.
func (s *Store) Close() error {
	return errors.Join(s.Sync(), s.release())
}

func (s *Store) release() error {
	var errs []error
	if s.journal != nil {
		errs = append(errs, s.journal.rotate())
	}
	if db := s.db(); db != nil {
		errs = append(errs, db.close())
	}
	return errors.Join(append(errs, s.unclaim())...)
}
