package store

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Outcomes of what a channel took, as it says later. They change no row's
// state and count as no attempt.
const (
	Arrived     Outcome = 4 // it reached the person's device
	Undelivered Outcome = 5 // it will not
	Underway    Outcome = 6 // it has not yet; the channel goes on trying
)

// Reported keeps what a channel says of a row after it took it. ok is false,
// and nothing is kept, while the row is not recorded as told.
func (s *Store) Reported(ctx context.Context, a Attempt) (ok bool, err error) {
	err = s.inTx(ctx, func(tx *sql.Tx) error {
		state := waiting
		err := tx.QueryRowContext(ctx, `SELECT state FROM outbox WHERE id = ?`, a.Outgoing).Scan(&state)
		if errors.Is(err, sql.ErrNoRows) || err == nil && state != told {
			return nil
		}
		if err != nil {
			return err
		}
		ok = true
		_, err = tx.ExecContext(ctx, `INSERT INTO attempt (outgoing, at, channel, person, outcome, error)
			SELECT id, ?, channel, person, ?, ? FROM outbox WHERE id = ?`, a.At.UnixNano(), a.Outcome, a.Error, a.Outgoing)
		return err
	})
	return err == nil && ok, s.diskError("save that a message arrived", err)
}

// SentSince counts the messages that channels took since a time. Rows told
// together to one person are one message.
func (s *Store) SentSince(ctx context.Context, channels []string, since time.Time) (n int, err error) {
	for _, c := range channels {
		some, err := one[int](ctx, s.db().read, `SELECT count(*) FROM (SELECT DISTINCT at, person FROM attempt
			WHERE channel = ? AND outcome = ? AND at >= ?)`, c, Told, since.UnixNano())
		if err != nil {
			return n, err
		}
		n += some
	}
	return n, nil
}
