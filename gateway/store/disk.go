package store

import (
	"context"
	"database/sql"
	"errors"
	"sync/atomic"

	"telltale/gateway/store/sqlite"
)

// disk is the database that is open now, and what came of the writes to it. All
// rooms of the store ask it for the one and tell it of the other. It may be asked
// by anybody.
type disk struct {
	dir     string
	counts  *journalCounts                  // what waits beside the database
	base    atomic.Pointer[sqlite.Database] // another one once a disk is back
	apart   atomic.Pointer[error]           // why nothing can be written; nil: the disk is open
	sick    atomic.Bool                     // damage was met in the database
	refused atomic.Bool                     // the disk refused the last write

	failures atomic.Uint64
}

func (d *disk) db() *sqlite.Database { return d.base.Load() }

// refusing says why nothing can be written; nil while the disk is open.
func (d *disk) refusing() error {
	if err := d.apart.Load(); err != nil {
		return *err
	}
	return nil
}

// write runs f in a transaction of the writing connection. What f leaves elsewhere
// may be looked at only if there is no error. The error is a *DiskError; doing says
// what was not done. A refusal by f comes back as what it holds.
func (d *disk) write(ctx context.Context, doing string, f func(*sql.Tx) error) error {
	return d.fault(doing, sqlite.Ask(ctx, func() error {
		if err := d.refusing(); err != nil {
			return err
		}
		tx, err := d.db().Write.BeginTx(ctx, nil)
		if err != nil {
			return err
		}
		defer tx.Rollback() //nolint:errcheck // after Commit it does nothing
		if err := f(tx); err != nil {
			return err
		}
		return tx.Commit()
	}))
}

// changed runs one statement and reports whether it changed a row.
func (d *disk) changed(ctx context.Context, doing, statement string, args ...any) (ok bool, err error) {
	err = d.write(ctx, doing, func(tx *sql.Tx) error {
		n, err := execute(ctx, tx, statement, args...)
		ok = n > 0
		return err
	})
	return err == nil && ok, err
}

// execute runs one statement and counts the rows that it changed.
func execute(ctx context.Context, tx *sql.Tx, statement string, args ...any) (rows int64, err error) {
	res, err := tx.ExecContext(ctx, statement, args...)
	if err != nil {
		return 0, err
	}
	return res.RowsAffected()
}

// refusal is why one who was asked to write something will not: no fault of the
// disk.
type refusal struct{ error }

// fault wraps err of a call that writes in a *DiskError; nil stays nil.
func (d *disk) fault(doing string, err error) error {
	if err == nil {
		d.refused.Store(false)
		return nil
	}
	if own := (refusal{}); errors.As(err, &own) {
		return own.error
	}
	if already := (*DiskError)(nil); errors.As(err, &already) {
		return err
	}
	if sqlite.Damaged(err) {
		d.sick.Store(true)
	}
	d.refused.Store(true)
	d.failures.Add(1)
	return &DiskError{Dir: d.dir, Doing: doing, Full: sqlite.NoSpace(err), Err: err,
		Waiting: int(d.counts.waiting.Load()), Dropped: d.counts.dropped.Load()}
}
