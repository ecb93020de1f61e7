package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/store/sqlite"
)

// A store is apart from its disk when nothing can be written there: then it
// answers from what the disk still reads, or from an empty database in memory,
// refuses every write, and opens the disk again when it can be written.

// tryEvery is how often, by Options.Now, the disk is tried while the store is
// apart from it, and looked for while it is not.
const tryEvery = time.Minute

// Refusing says why nothing can be written although the disk was tried; nil
// while the disk is open. It may be called by anybody.
func (s *Store) Refusing() error { return s.disk.refusing() }

// Losses returns what was found to be lost since it was last asked, each as
// tongue.Keep has it; nil for nothing. A checkpoint is due then: until it is done they
// come again after a crash. It may be called by anybody.
func (s *Store) Losses() []string { return s.losses.take() }

// Knows reports whether what Recover gives is what the disk keeps, as far as
// that can be read at all. If it does not, the disk is to be asked again.
func (s *Store) Knows() bool { return s.losses.knows.Load() }

// FoundEarlier reports whether the disk came back with an earlier state than
// the one the core began with. What was appended since is in the journal there:
// the store is to be closed and opened again, and gives both.
func (s *Store) FoundEarlier() bool { return s.earlier.Load() }

// attached is asked by the owner before each write. It tries the disk again
// when it is time to.
func (s *Store) attached() error {
	now := s.opt.Now()
	err := s.Refusing()
	if s.earlier.Load() {
		return err
	}
	if err == nil {
		switch {
		case s.disk.sick.Load():
			err = fmt.Errorf("telltale.db is %w", ErrDamaged)
		case now.Before(s.tryAt):
			return nil
		case s.folder.moved():
			err = errors.New("the directory was removed or replaced")
		default:
			s.tryAt = now.Add(tryEvery)
			return nil
		}
		s.leave(err)
		s.tryAt = now
	}
	if now.Before(s.tryAt) {
		return err
	}
	if err = s.attach(context.Background()); err != nil && !s.earlier.Load() {
		s.refuse(err)
	}
	s.tryAt = s.opt.Now().Add(tryEvery)
	return err
}

func (s *Store) refuse(err error) {
	s.disk.apart.Store(&err)
	s.journal.guard = func(string, int) error { return err }
}

// leave parts from a disk that was open.
func (s *Store) leave(err error) {
	s.opt.Log.Error().Err(err).Msg("the store goes on from memory")
	s.refuse(err)
	if s.journal.file != nil {
		s.warn(s.journal.file.Close())
	}
	s.journal.restart(s.journal.number)
	old := s.disk.db()
	db, openErr := sqlite.OpenStill(s.folder.path(dbName), s.opt.Readers, false)
	if openErr != nil {
		db, openErr = s.mender.inMemory()
	}
	if openErr != nil {
		s.warn(openErr)
		return
	}
	s.disk.base.Store(db)
	s.warn(old.Close()) // before a new file has its name: closing removes its WAL
	if s.folder.moved() {
		s.warn(s.folder.unclaim())
	}
}

func (s *Store) warn(err error) {
	if err != nil {
		s.opt.Log.Warn().Err(err).Msg("in the store")
	}
}

// begin has a store that cannot be written begin from what it can read.
func (s *Store) begin(ctx context.Context, why error) error {
	s.opt.Log.Error().Err(why).Msg("the store works from memory; the disk is tried again every minute")
	s.refuse(why)
	s.tryAt = s.opt.Now().Add(tryEvery)
	if s.folder.lock != nil {
		db, err := sqlite.OpenStill(s.folder.path(dbName), s.opt.Readers, false)
		if err == nil {
			err = s.beginFrom(ctx, db)
		}
		if err != nil { // damaged too
			if db, err = s.mender.inMemory(); err == nil {
				err = s.beginFrom(ctx, db)
			}
		}
		if err == nil && (s.since > 1 || len(s.backlog.replay) > 0) {
			s.losses.knows.Store(true)
			return nil
		}
		s.opt.Log.Error().Err(err).Msg("nothing of what the store keeps can be read")
	}
	s.losses.forget()
	if s.disk.db() != nil {
		return nil
	}
	db, err := s.mender.inMemory()
	if err == nil {
		s.disk.base.Store(db)
	}
	return err
}

// beginFrom begins with the database and the journal of a disk that cannot be
// written. On an error the database is closed.
func (s *Store) beginFrom(ctx context.Context, db *sqlite.Database) error {
	err := upToDate(ctx, db.Read)
	if err == nil {
		err = lookThrough(ctx, db)
	}
	var p position
	if err == nil {
		p, err = readPosition(ctx, db.Read)
	}
	if err != nil {
		return errors.Join(err, db.Close())
	}
	s.History.recent.clear() // of what attach has read
	s.History.recent.epoch, s.History.recent.ahead, s.since = p.epoch, p.ahead, p.segment
	next, newest, err := s.backlog.read(p, true)
	if err != nil {
		return errors.Join(err, db.Close())
	}
	s.journal.number, s.journal.newest, s.journal.written = next, newest, newest
	s.disk.base.Store(db)
	return nil
}

// attach opens the disk for writing, at the start or after the store was
// apart from it.
func (s *Store) attach(ctx context.Context) error {
	if err := s.folder.claim(); err != nil {
		return err
	}
	db, fresh, err := s.mender.openSound(ctx)
	if err != nil {
		return err
	}
	p, next, err := s.place(ctx, db, fresh)
	if err == nil && s.disk.apart.Load() != nil && !s.losses.knows.Load() && (p.saved || len(s.backlog.replay) > 0) {
		return errors.Join(s.handOver(next), db.Close())
	}
	if err == nil {
		s.journal.guard = s.opt.guard
		s.journal.restart(next)
		err = explain(s.journal.begin())
	}
	if err == nil {
		err = explain(s.identify(ctx, db, fresh))
	}
	if err == nil {
		err = explain(s.losses.keep(ctx, db))
	}
	if err != nil {
		return errors.Join(err, s.journal.rotate(), db.Close())
	}
	old := s.disk.base.Swap(db)
	s.since = p.segment
	if s.disk.apart.Swap(nil) != nil {
		s.opt.Log.Info().Msg("the store has its disk again")
		s.losses.knows.Store(true)
		s.last = time.Time{} // a checkpoint is due
		s.warn(old.Close())
	}
	return nil
}

// place reads where the disk stands. What a store of before held is in memory
// already where the core knows it.
func (s *Store) place(ctx context.Context, db *sqlite.Database, fresh bool) (p position, next uint64, err error) {
	if p, err = readPosition(ctx, db.Write); err != nil {
		return p, 0, explain(err)
	}
	if s.disk.apart.Load() != nil {
		all, err := segments(s.folder.dir)
		if err != nil {
			return p, 0, explain(err)
		}
		next = p.segment
		for _, n := range all {
			if n >= next && n < next+1<<20 {
				next = n + 1
			}
		}
		s.backlog.replay = slices.DeleteFunc(all, func(n uint64) bool { return n < p.segment || n >= next })
		s.History.recent.mu.Lock()
		s.History.recent.epoch = p.epoch
		s.History.recent.mu.Unlock()
		return p, next, nil
	}
	s.History.recent.epoch, s.History.recent.ahead = p.epoch, p.ahead
	next, newest, err := s.backlog.read(p, false)
	if err != nil {
		return p, 0, explain(err)
	}
	s.journal.newest, s.journal.written = newest, newest
	if fresh && len(s.backlog.replay) > 0 {
		s.losses.forget()
		s.losses.lose(tongue.Keep("the database was gone or empty, and only the journal was left"))
	}
	return p, next, nil
}

// handOver writes what the core was given since the start behind an earlier
// journal, to be replayed after it.
func (s *Store) handOver(next uint64) error {
	s.journal.guard = s.opt.guard
	s.journal.restart(next)
	if err := s.journal.flush(); err != nil {
		return explain(err)
	}
	s.earlier.Store(true)
	return errors.New("the disk has an earlier state of the watch, which takes it up again now")
}
