package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"time"
)

// A store is apart from its disk when nothing can be written there: then it
// answers from what the disk still reads, or from an empty database in memory,
// refuses every write, and opens the disk again when it can be written.

// tryEvery is how often, by Options.Now, the disk is tried while the store is
// apart from it, and looked for while it is not.
const tryEvery = time.Minute

// Refusing says why nothing can be written although the disk was tried; nil
// while the disk is open. It may be called by anybody.
func (s *Store) Refusing() error {
	if err := s.apart.Load(); err != nil {
		return *err
	}
	return nil
}

// Knows reports whether what Recover gives is what the disk keeps, as far as
// that can be read at all. If it does not, the disk is to be asked again.
func (s *Store) Knows() bool { return s.knows.Load() }

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
		case s.sick.Load():
			err = fmt.Errorf("telltale.db is %w", ErrDamaged)
		case now.Before(s.tryAt):
			return nil
		case s.moved():
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

// moved reports whether the directory is not the one that was locked.
func (s *Store) moved() bool {
	held, err := s.lock.Stat()
	if err != nil {
		return true
	}
	there, err := os.Stat(s.dir)
	return err != nil || !os.SameFile(held, there)
}

func (s *Store) refuse(err error) {
	s.apart.Store(&err)
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
	old := s.db()
	db, openErr := openStill(s.path(dbName), s.opt.Readers, false)
	if openErr != nil {
		db, openErr = s.inMemory()
	}
	if openErr != nil {
		s.warn(openErr)
		return
	}
	s.base.Store(db)
	s.warn(old.close()) // before a new file has its name: closing removes its WAL
	if s.moved() {
		s.warn(s.unclaim())
	}
}

func (s *Store) warn(err error) {
	if err != nil {
		s.opt.Log.Warn().Err(err).Msg("in the store")
	}
}

// inMemory makes a database in memory, with what can be read of a damaged one
// but for its history.
func (s *Store) inMemory() (*database, error) {
	return openMemory(s.opt.Readers, func(d *database) error {
		_, err := fill(context.Background(), d, s.path(dbName), false)
		return err
	})
}

// begin has a store that cannot be written begin from what it can read.
func (s *Store) begin(ctx context.Context, why error) error {
	s.opt.Log.Error().Err(why).Msg("the store works from memory; the disk is tried again every minute")
	s.refuse(why)
	s.tryAt = s.opt.Now().Add(tryEvery)
	if s.lock != nil {
		db, err := openStill(s.path(dbName), s.opt.Readers, false)
		if err == nil {
			err = s.beginFrom(ctx, db)
		}
		if err != nil { // damaged too
			if db, err = s.inMemory(); err == nil {
				err = s.beginFrom(ctx, db)
			}
		}
		if err == nil && (s.since > 1 || len(s.replay) > 0) {
			s.knows.Store(true)
			return nil
		}
		s.opt.Log.Error().Err(err).Msg("nothing of what the store keeps can be read")
	}
	s.forget()
	if s.db() != nil {
		return nil
	}
	db, err := s.inMemory()
	if err == nil {
		s.base.Store(db)
	}
	return err
}

// beginFrom begins with the database and the journal of a disk that cannot be
// written. On an error the database is closed.
func (s *Store) beginFrom(ctx context.Context, db *database) error {
	err := upToDate(ctx, db.read)
	if err == nil {
		err = lookThrough(ctx, db)
	}
	var p position
	if err == nil {
		p, err = readPosition(ctx, db.read)
	}
	if err != nil {
		return errors.Join(err, db.close())
	}
	s.recent.clear() // of what attach has read
	s.recent.epoch, s.recent.ahead, s.since = p.epoch, p.ahead, p.segment
	next, newest, err := s.readJournal(p, true)
	if err != nil {
		return errors.Join(err, db.close())
	}
	s.journal.number, s.journal.newest, s.journal.written = next, newest, newest
	s.base.Store(db)
	return nil
}

// attach opens the disk for writing, at the start or after the store was
// apart from it.
func (s *Store) attach(ctx context.Context) error {
	if err := s.claim(); err != nil {
		return err
	}
	db, fresh, err := s.openSound(ctx)
	if err != nil {
		return err
	}
	p, next, err := s.place(ctx, db, fresh)
	if err == nil && s.apart.Load() != nil && !s.knows.Load() && (p.saved || len(s.replay) > 0) {
		return errors.Join(s.handOver(next), db.close())
	}
	if err == nil {
		s.journal.guard = s.opt.guard
		s.journal.restart(next)
		err = s.explain(s.journal.begin())
	}
	if err == nil {
		err = s.explain(s.identify(ctx, db, fresh))
	}
	if err == nil {
		err = s.explain(s.keepLosses(ctx, db))
	}
	if err != nil {
		return errors.Join(err, s.journal.rotate(), db.close())
	}
	old := s.base.Swap(db)
	s.since = p.segment
	if s.apart.Swap(nil) != nil {
		s.opt.Log.Info().Msg("the store has its disk again")
		s.knows.Store(true)
		s.last = time.Time{} // a checkpoint is due
		s.warn(old.close())
	}
	return nil
}

// place reads where the disk stands. What a store of before held is in memory
// already where the core knows it.
func (s *Store) place(ctx context.Context, db *database, fresh bool) (p position, next uint64, err error) {
	if p, err = readPosition(ctx, db.write); err != nil {
		return p, 0, s.explain(err)
	}
	if s.apart.Load() != nil {
		all, err := segments(s.dir)
		if err != nil {
			return p, 0, s.explain(err)
		}
		next = p.segment
		for _, n := range all {
			if n >= next && n < next+1<<20 {
				next = n + 1
			}
		}
		s.replay = slices.DeleteFunc(all, func(n uint64) bool { return n < p.segment || n >= next })
		s.recent.mu.Lock()
		s.recent.epoch = p.epoch
		s.recent.mu.Unlock()
		return p, next, nil
	}
	s.recent.epoch, s.recent.ahead = p.epoch, p.ahead
	next, newest, err := s.readJournal(p, false)
	if err != nil {
		return p, 0, s.explain(err)
	}
	s.journal.newest, s.journal.written = newest, newest
	if fresh && len(s.replay) > 0 {
		s.forget()
		s.lose("the database was gone or empty, and only the journal was left")
	}
	return p, next, nil
}

// handOver writes what the core was given since the start behind an earlier
// journal, to be replayed after it.
func (s *Store) handOver(next uint64) error {
	s.journal.guard = s.opt.guard
	s.journal.restart(next)
	if err := s.journal.flush(); err != nil {
		return s.explain(err)
	}
	s.earlier.Store(true)
	return errors.New("the disk has an earlier state of the watch, which takes it up again now")
}
