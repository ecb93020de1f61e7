package store

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Origin is where the core's time of a run of the watch comes from: it was At
// when the machine was started. Within one start the next run can tell by it
// how long the watch was away.
type Origin struct {
	Boot string // names the start of the machine; "" where that is not known
	At   time.Time
}

// SetOrigin keeps o in the place of that of the run before. The error is a
// *DiskError.
func (s *Store) SetOrigin(ctx context.Context, o Origin) error {
	return s.diskError("save when this run began", s.inTx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO origin (id, boot, at) VALUES (1, ?, ?)
			ON CONFLICT (id) DO UPDATE SET boot = excluded.boot, at = excluded.at`, o.Boot, o.At.UnixNano())
		return err
	}))
}

// Origin returns what SetOrigin kept last, the zero Origin for nothing.
func (s *Store) Origin(ctx context.Context) (o Origin, err error) {
	var at int64
	err = s.db().read.QueryRowContext(ctx, `SELECT boot, at FROM origin`).Scan(&o.Boot, &at)
	if errors.Is(err, sql.ErrNoRows) {
		return Origin{}, nil
	}
	o.At = timeOf(at)
	return o, err
}
