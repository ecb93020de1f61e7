package store

import (
	"errors"
	"fmt"
)

// Errors of Open and Refusing, to be told apart with errors.Is. Each stands for
// a sentence that says where and what to do. Open fails with the first two
// alone; with the others the store works from memory.
var (
	// ErrInUse: another process has this directory.
	ErrInUse = errors.New("in use by another process")
	// ErrNewer: a newer version of the program has written here.
	ErrNewer = errors.New("written by a newer version")
	// errNotDirectory: something else has the name of the directory.
	errNotDirectory = errors.New("not a directory")
	// errReadOnly: the directory or the disk cannot be written to.
	errReadOnly = errors.New("cannot be written to")
	// ErrDamaged: the database cannot be read.
	ErrDamaged = errors.New("damaged")
)

// ErrNone: Copy and Inspect found no store in the directory.
var ErrNone = errors.New("there is no store")

// errSnapshot is what Recover returns with the inputs alone.
var errSnapshot = errors.New("the saved state of the alarms cannot be read")

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
