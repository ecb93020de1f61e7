package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"sync"
	"syscall"
)

// Errors of Open and Refusing, to be told apart with errors.Is. Each stands for
// a sentence that says where and what to do. Open fails with the first two
// alone; with the others the store works from memory.
var (
	// ErrInUse: another process has this directory.
	ErrInUse = errors.New("in use by another process")
	// ErrNewer: a newer version of the program has written here.
	ErrNewer = errors.New("written by a newer version")
	// ErrNotDirectory: something else has the name of the directory.
	ErrNotDirectory = errors.New("not a directory")
	// ErrReadOnly: the directory or the disk cannot be written to.
	ErrReadOnly = errors.New("cannot be written to")
	// ErrDamaged: the database cannot be read.
	ErrDamaged = errors.New("damaged")
)

// ErrSnapshot is what Recover returns when the core's snapshot cannot be read,
// or is gone, and with it what people had set. The inputs since are still given.
var ErrSnapshot = errors.New("the saved state of the alarms cannot be read")

// ErrFull is found by errors.Is in a *DiskError when no space is left.
var ErrFull = errors.New("no space left on the disk")

// DiskError is what Sync, Save, Checkpoint, Attempted and Retain return when
// the disk refuses. Nothing that was saved is lost, and the same call may be
// repeated at any time.
type DiskError struct {
	Dir     string // the store
	Doing   string // what was not done, for example "save readings"
	Full    bool   // no space is left
	Waiting int    // inputs that wait in memory
	Dropped uint64 // inputs that found no room to wait in, since Open
	Err     error
}

func (e *DiskError) Error() string {
	why := fmt.Sprintf("the disk refused to %s in %s (%v)", e.Doing, e.Dir, e.Err)
	if e.Full {
		why = fmt.Sprintf("no space is left on the disk to %s in %s", e.Doing, e.Dir)
	}
	rest := "what was saved is safe, and judging goes on"
	if e.Waiting > 0 {
		rest = fmt.Sprintf("%s; readings and inputs that wait in memory: %d", rest, e.Waiting)
	}
	if e.Dropped > 0 {
		rest = fmt.Sprintf("%s; lost for want of room: %d", rest, e.Dropped)
	}
	if e.Full {
		rest += "; please make room"
	}
	return why + ": " + rest
}

// Unwrap gives the disk's own error, and ErrFull when no space is left.
func (e *DiskError) Unwrap() []error {
	if e.Full {
		return []error{e.Err, ErrFull}
	}
	return []error{e.Err}
}

// noSpace reports whether err says that the disk, a quota or a limit on the
// size of files is used up.
func noSpace(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) ||
		errors.Is(err, syscall.EFBIG) || driverFull(err)
}

func readOnly(err error) bool {
	return errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS) || driverReadOnly(err)
}

// diskError wraps err of a call that writes; nil stays nil.
func (s *Store) diskError(doing string, err error) error {
	if err == nil {
		s.refused.Store(false)
		return nil
	}
	var already *DiskError
	if errors.As(err, &already) {
		return err
	}
	if driverDamaged(err) {
		s.sick.Store(true)
	}
	s.refused.Store(true)
	s.failures.Add(1)
	return &DiskError{Dir: s.dir, Doing: doing, Full: noSpace(err), Err: err,
		Waiting: int(s.journal.counts.waiting.Load()), Dropped: s.journal.counts.dropped.Load()}
}

// losses are what was kept and is gone, in words, until somebody takes them.
// They are kept in the database until a checkpoint after that, which has what
// was made of them.
type losses struct {
	mu   sync.Mutex
	new  []string
	told []string
	kept bool
}

func (s *Store) lose(words string) {
	s.losses.mu.Lock()
	defer s.losses.mu.Unlock()
	if slices.Contains(s.losses.told, words) {
		return
	}
	s.losses.told = append(s.losses.told, words)
	s.losses.new = append(s.losses.new, words)
	s.opt.Log.Error().Msg(words)
}

// forget notes that the state of the alarms is lost, if the core has it not.
func (s *Store) forget() {
	if !s.knows.Load() {
		s.forgot.Store(true)
	}
}

// Losses returns what was found to be lost since it was last asked, each in
// plain words; nil for nothing. A checkpoint is due then: until it is done they
// come again after a crash. It may be called by anybody.
func (s *Store) Losses() []string {
	s.losses.mu.Lock()
	defer s.losses.mu.Unlock()
	all := s.losses.new
	s.losses.new = nil
	return all
}

// taken reports whether somebody has taken what is kept of losses.
func (l *losses) taken() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.kept && len(l.new) == 0
}

const lossesKept = "losses"

// lost is what is kept of losses.
type lost struct {
	Words  []string
	Forgot bool // the state of the alarms is among them
}

// keepLosses keeps what is not taken yet, with what an earlier run left so.
func (s *Store) keepLosses(ctx context.Context, db *database) error {
	var text string
	err := db.write.QueryRowContext(ctx, `SELECT value FROM kept WHERE name = ?`, lossesKept).Scan(&text)
	if err == nil {
		var before lost
		if err := json.Unmarshal([]byte(text), &before); err != nil {
			return err
		}
		for _, words := range before.Words {
			s.lose(words)
		}
		if before.Forgot {
			s.forget()
		}
	} else if !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	s.losses.mu.Lock()
	defer s.losses.mu.Unlock()
	if s.losses.kept = len(s.losses.new) > 0; !s.losses.kept {
		return nil
	}
	value, err := json.Marshal(lost{s.losses.new, s.forgot.Load()})
	if err == nil {
		_, err = db.write.ExecContext(ctx, `INSERT OR REPLACE INTO kept (name, value) VALUES (?, ?)`, lossesKept, value)
	}
	return err
}
