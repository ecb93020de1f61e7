package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Waiting is an outgoing row that may be told now.
type Waiting struct {
	Outgoing
	Attempts int       // that failed so far
	First    time.Time // of the first that failed; zero if none did
	Next     time.Time // when it may be told: NotBefore, or as the newest attempt said
}

// Outcome is what came of an attempt to tell.
type Outcome uint8

// Outcomes.
const (
	Failed    Outcome = iota // to be tried again
	Told                     // the channel took it
	Abandoned                // not to be tried again
	Postponed                // not tried, or cut short; does not count as failed
)

// Rehearsed is the outcome over a channel that only rehearses: nothing was
// sent. The row is done, and counts neither as told nor as tried.
const Rehearsed Outcome = 7

func (o Outcome) String() string {
	switch o {
	case Failed:
		return "failed"
	case Told:
		return "told"
	case Abandoned:
		return "abandoned"
	case Postponed:
		return "postponed"
	case Arrived:
		return "delivered"
	case Undelivered:
		return "not delivered"
	case Underway:
		return "on its way"
	case Rehearsed:
		return "rehearsed"
	}
	return "unknown"
}

// Attempt is one attempt to tell. Every one is kept.
type Attempt struct {
	Outgoing string    // ID of the row
	At       time.Time // to be shown
	// Began is At by the clock of NotBefore, from which it is counted for how
	// long a row is tried; zero: At.
	Began   time.Time
	Channel string
	Person  string
	Outcome Outcome
	Error   string // what the channel said, if it failed
	// Next is when the row may be told after Failed or Postponed. It is not
	// kept with the attempt.
	Next time.Time
	// Elsewhere is what says the same by other ways, to be told from NotBefore on.
	Elsewhere []Outgoing
}

const outgoingColumns = `o.id, coalesce(o.transition, ''), o.alarm, o.channel, o.person, o.not_before, o.cancellable, o.body, o.attempts, o.first, o.next`

func scanWaiting(r *sql.Rows, w *Waiting) error {
	var notBefore, first, next int64
	err := r.Scan(&w.ID, &w.Transition, &w.Alarm, &w.Channel, &w.Person, &notBefore, &w.Cancellable, &w.Body, &w.Attempts, &first, &next)
	if notBefore != 0 {
		w.NotBefore = timeOf(notBefore)
	}
	if first != 0 {
		w.First = timeOf(first)
	}
	if next != 0 {
		w.Next = timeOf(next)
	}
	return err
}

// Due returns up to limit rows that may be told at now, longest due first.
func (s *Store) Due(ctx context.Context, now time.Time, limit int) ([]Waiting, error) {
	return collect(ctx, s.db().read, scanWaiting, `SELECT `+outgoingColumns+` FROM outbox o
		WHERE o.state = 0 AND o.next <= ? ORDER BY o.next, o.seq LIMIT ?`, now.UnixNano(), limit)
}

// DueOn is Due for one channel. It waits for no other question.
func (s *Store) DueOn(ctx context.Context, channel string, now time.Time, limit int) ([]Waiting, error) {
	return collect(ctx, s.db().outbox, scanWaiting, `SELECT `+outgoingColumns+` FROM outbox o
		WHERE o.state = 0 AND o.channel = ? AND o.next <= ? ORDER BY o.next, o.seq LIMIT ?`, channel, now.UnixNano(), limit)
}

// Enqueue makes rows that tell of no transition last, as a test message does.
// It may be called by anybody.
func (s *Store) Enqueue(ctx context.Context, rows []Outgoing) error {
	return s.diskError("save a message", s.inTx(ctx, func(tx *sql.Tx) error {
		return putOutgoing(ctx, tx, rows, "", func(Outgoing) bool { return true })
	}))
}

// NextDue returns when the next waiting row may be told; ok is false when none
// waits.
func (s *Store) NextDue(ctx context.Context) (at time.Time, ok bool, err error) {
	next, err := one[sql.NullInt64](ctx, s.db().read, `SELECT min(next) FROM outbox WHERE state = 0`)
	if next.Int64 != 0 {
		at = timeOf(next.Int64)
	}
	return at, next.Valid, err
}

// Attempted records attempts at different rows in one transaction. After
// Failed or Postponed a row waits until Next; after Told, Abandoned or
// Rehearsed it is done. A row that was cancelled in the meantime stays so, unless it was told.
// Channel and Person left empty are the row's. Elsewhere is saved with it unless
// the row was cancelled; where its transition goes to its person by its channel
// anyway, and was not tried there yet, it is only told sooner. The error is a *DiskError, or
// says that there is no such row; then none is recorded.
func (s *Store) Attempted(ctx context.Context, attempts ...Attempt) error {
	missing := ""
	err := s.inTx(ctx, func(tx *sql.Tx) error {
		for _, a := range attempts {
			found, err := putAttempt(ctx, tx, a)
			if err != nil {
				return err
			}
			if !found {
				missing = a.Outgoing
				return errNoRow
			}
		}
		return nil
	})
	if errors.Is(err, errNoRow) {
		return fmt.Errorf("nothing with the ID %q is to be told", missing)
	}
	return s.diskError("save that somebody was told", err)
}

var errNoRow = errors.New("no such row")

func putAttempt(ctx context.Context, tx *sql.Tx, a Attempt) (found bool, err error) {
	res, err := tx.ExecContext(ctx, `INSERT INTO attempt (outgoing, at, channel, person, outcome, error)
		SELECT id, ?, coalesce(nullif(?, ''), channel), coalesce(nullif(?, ''), person), ?, ? FROM outbox WHERE id = ?`,
		a.At.UnixNano(), a.Channel, a.Person, a.Outcome, a.Error, a.Outgoing)
	if err != nil {
		return false, err
	}
	if n, err := res.RowsAffected(); n == 0 || err != nil {
		return false, err
	}
	_, err = tx.ExecContext(ctx, `UPDATE outbox SET attempts = attempts + (?1 NOT IN (3, 7)),
		first = CASE WHEN ?1 = 0 AND first = 0 THEN ?4 ELSE first END,
		state = CASE WHEN ?1 = 1 THEN 1 WHEN state <> 0 THEN state WHEN ?1 = 2 THEN 2 WHEN ?1 = 7 THEN 4 ELSE 0 END,
		next = CASE WHEN ?1 IN (0, 3) THEN ?2 ELSE next END WHERE id = ?3`,
		a.Outcome, nanosOf(a.Next), a.Outgoing, cmp.Or(nanosOf(a.Began), a.At.UnixNano()))
	for i := 0; i < len(a.Elsewhere) && err == nil; i++ {
		err = putElsewhere(ctx, tx, a.Outgoing, a.Elsewhere[i])
	}
	return true, err
}

// putElsewhere saves o beside the row of which it says the same.
func putElsewhere(ctx context.Context, tx *sql.Tx, row string, o Outgoing) error {
	at := nanosOf(o.NotBefore)
	_, err := tx.ExecContext(ctx, `UPDATE outbox SET next = ?1, body = ?2 FROM (SELECT transition t, state s FROM outbox WHERE id = ?3) same
		WHERE transition = t AND s <> 3 AND channel = ?4 AND person = ?5 AND state = 0 AND attempts = 0 AND next = not_before AND next > ?1`,
		at, o.Body, row, o.Channel, o.Person)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO outbox
		(id, transition, alarm, channel, person, not_before, cancellable, body, state, next)
		SELECT ?1, r.transition, r.alarm, ?2, ?3, ?4, r.cancellable, ?5, 0, ?4 FROM outbox r
		WHERE r.id = ?6 AND r.state <> 3 AND r.transition IS NOT NULL AND NOT EXISTS
			(SELECT 1 FROM outbox o WHERE o.transition = r.transition AND o.channel = ?2 AND o.person = ?3)
		ON CONFLICT (id) DO NOTHING`, o.ID, o.Channel, o.Person, at, o.Body, row)
	return err
}

// Reached reports whether anything was ever told to person by channel, as far
// back as the log is kept.
func (s *Store) Reached(ctx context.Context, channel, person string) (yes bool, err error) {
	return one[bool](ctx, s.db().outbox, `SELECT EXISTS (SELECT 1 FROM outbox WHERE person = ? AND channel = ? AND state = 1)`,
		person, channel)
}

// Attempts returns every attempt to tell of a transition, in order.
func (s *Store) Attempts(ctx context.Context, transition string) ([]Attempt, error) {
	return collect(ctx, s.db().read, scanAttempt, `SELECT a.outgoing, a.at, a.channel, a.person, a.outcome, a.error
		FROM outbox o JOIN attempt a ON a.outgoing = o.id WHERE o.transition = ? ORDER BY a.seq`, transition)
}

// RecentAttempts returns up to limit attempts of any kind, newest first.
func (s *Store) RecentAttempts(ctx context.Context, limit int) ([]Attempt, error) {
	return collect(ctx, s.db().read, scanAttempt, `SELECT outgoing, at, channel, person, outcome, error
		FROM attempt ORDER BY seq DESC LIMIT ?`, limit)
}

func scanAttempt(r *sql.Rows, a *Attempt) error {
	var at int64
	err := r.Scan(&a.Outgoing, &at, &a.Channel, &a.Person, &a.Outcome, &a.Error)
	a.At = timeOf(at)
	return err
}

// Cancel takes a waiting row out; ok is false when it no longer waits.
func (s *Store) Cancel(ctx context.Context, id string) (ok bool, err error) {
	err = s.inTx(ctx, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, `UPDATE outbox SET state = ? WHERE id = ? AND state = 0`, cancelled, id)
		if err != nil {
			return err
		}
		n, err := res.RowsAffected()
		ok = n > 0
		return err
	})
	return err == nil && ok, s.diskError("take a message out", err)
}

// OutboxCounts says how many rows are in which state.
type OutboxCounts struct {
	Waiting, Told, Abandoned, Cancelled, Rehearsed int
}

// OutboxCounts counts the rows that are kept.
func (s *Store) OutboxCounts(ctx context.Context) (OutboxCounts, error) {
	return within(ctx, func() (c OutboxCounts, err error) {
		err = s.db().read.QueryRowContext(ctx, `SELECT count(*) FILTER (WHERE state = 0), count(*) FILTER (WHERE state = 1),
		count(*) FILTER (WHERE state = 2), count(*) FILTER (WHERE state = 3), count(*) FILTER (WHERE state = 4) FROM outbox`).
			Scan(&c.Waiting, &c.Told, &c.Abandoned, &c.Cancelled, &c.Rehearsed)
		return c, err
	})
}

// inTx runs f in a transaction of the writing connection. What f leaves
// elsewhere may be looked at only if there is no error.
func (s *Store) inTx(ctx context.Context, f func(*sql.Tx) error) error {
	return ask(ctx, func() error { return s.inTxOf(ctx, f) })
}

func (s *Store) inTxOf(ctx context.Context, f func(*sql.Tx) error) error {
	if err := s.Refusing(); err != nil {
		return err
	}
	tx, err := s.db().write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after Commit it does nothing
	if err := f(tx); err != nil {
		return err
	}
	return tx.Commit()
}
