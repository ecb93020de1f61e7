package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"telltale/alarms"
	"telltale/gateway/store/sqlite"
)

// OpenToRead opens the store in dir for its queries alone, beside the watch that
// owns it or without one. It takes no lock and changes nothing that is kept. It
// knows the readings of the moment it was opened, but for the last second or
// so that the watch has not yet given to the disk; of transitions and tellings
// also what comes later. No other method than those that query may be called,
// and close in place of Close.
func OpenToRead(dir string, opt Options) (s *Store, close func() error, err error) {
	s = newStore(dir, opt)
	if err := s.openToRead(); err != nil {
		return nil, nil, fmt.Errorf("cannot read the store %s: %w", s.folder.dir, errors.Join(err, s.release()))
	}
	return s, s.release, nil
}

func (s *Store) openToRead() error {
	path, err := filepath.Abs(s.folder.path(dbName))
	if err != nil {
		return err
	}
	if _, err := os.Stat(path); err != nil {
		return fmt.Errorf("there is no store yet: %w", err)
	}
	db, err := sqlite.OpenToQuery(path, s.opt.Readers)
	if err != nil {
		return explain(err)
	}
	s.disk.base.Store(db)
	ctx := context.Background()
	if err := upToDate(ctx, s.disk.db().Read); err != nil {
		return err
	}
	const tries = 5 // a checkpoint in between takes the journal away
	for range tries {
		s.History.recent.clear()
		steady, err := s.peekJournal(ctx)
		if steady || err != nil {
			return explain(err)
		}
	}
	return errors.New("the watch wrote to it all the time; try again")
}

// upToDate refuses a store whose schema is not the one known here: to bring it
// up to date is for the watch.
func upToDate(ctx context.Context, db *sql.DB) error {
	names, err := fs.Glob(migrations, "migration/*.sql")
	if err != nil {
		return err
	}
	done, err := migrated(ctx, db)
	if err != nil {
		return err
	}
	for _, d := range done {
		if !slices.Contains(names, "migration/"+d) {
			return fmt.Errorf("it was %w (it has the schema step %q); run the newer program", ErrNewer, d)
		}
	}
	if len(done) < len(names) {
		return errors.New("it was written by an older version; start the watch once to bring it up to date")
	}
	return nil
}

// peekJournal takes the readings since the newest checkpoint from the journal.
// steady is false where a checkpoint came in between.
func (s *Store) peekJournal(ctx context.Context) (steady bool, err error) {
	at, err := readPosition(ctx, s.disk.db().Read)
	if err != nil {
		return false, err
	}
	s.History.recent.epoch, s.History.recent.ahead = at.epoch, at.ahead
	all, err := segments(s.folder.dir)
	if err != nil {
		return false, err
	}
	for _, n := range all {
		if n < at.segment {
			continue
		}
		_, _, err := s.backlog.readOne(n, func(in alarms.Input) bool {
			s.History.recent.take(in)
			return true
		})
		if errors.Is(err, os.ErrNotExist) {
			return false, nil
		}
		if err != nil {
			return false, err
		}
	}
	now, err := readPosition(ctx, s.disk.db().Read)
	return at == now, err
}
