package store

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store/sqlite"
)

// States of an outgoing row.
const (
	waiting = iota
	told
	abandoned
	cancelled
	rehearsed
)

// Outbox is what is to be told to people, and what came of telling it. All of it may
// be called by anybody.
type Outbox struct{ disk *disk }

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

// Needless is the outcome of what was not told because another watch of the garden had
// told it, or somebody had it in hand. The row is done as one that was cancelled.
const Needless Outcome = 8

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
	case Needless:
		return "not needed"
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
	Elsewhere []reach.Outgoing
}

const outgoingColumns = `o.id, coalesce(o.transition, ''), o.alarm, o.channel, o.person, o.cancellable, o.body, o.attempts, o.first, o.next`

// scanRow reads a row that waits, which is to be told from then on that its newest
// attempt said.
func scanRow(r *sql.Rows, w *reach.Row) error {
	var first, next int64
	err := r.Scan(&w.ID, &w.Transition, &w.Alarm, &w.Channel, &w.Person, &w.Cancellable, &w.Body, &w.Tries, &first, &next)
	w.First, w.NotBefore = timeOrNone(first), timeOrNone(next)
	return err
}

// Due returns up to limit rows that may be told by a channel at now, longest due
// first. It waits for no other question.
func (o *Outbox) Due(ctx context.Context, channel string, now time.Time, limit int) ([]reach.Row, error) {
	return sqlite.Collect(ctx, o.disk.db().Outbox, scanRow, `SELECT `+outgoingColumns+` FROM outbox o
		WHERE o.state = 0 AND o.channel = ? AND o.next <= ? ORDER BY o.next, o.seq LIMIT ?`, channel, now.UnixNano(), limit)
}

// Enqueue makes rows that tell of no transition last, as a test message does.
// It may be called by anybody.
func (o *Outbox) Enqueue(ctx context.Context, rows []reach.Outgoing) error {
	return o.disk.write(ctx, "save a message", func(tx *sql.Tx) error {
		return putOutgoing(ctx, tx, rows, "", func(reach.Outgoing) bool { return true })
	})
}

// Attempted records attempts at different rows in one transaction. After
// Failed or Postponed a row waits until Next; after Told, Abandoned or
// Rehearsed or Needless it is done. A row that was cancelled in the meantime stays so, unless it was told.
// Channel and Person left empty are the row's. Elsewhere is saved with it unless
// the row was cancelled; where its transition goes to its person by its channel
// anyway, and was not tried there yet, it is only told sooner. The error is a *DiskError, or
// says that there is no such row; then none is recorded.
func (o *Outbox) Attempted(ctx context.Context, attempts ...Attempt) error {
	return o.disk.write(ctx, "save that somebody was told", func(tx *sql.Tx) error {
		for _, a := range attempts {
			if err := putAttempt(ctx, tx, a); err != nil {
				return err
			}
		}
		return nil
	})
}

func putAttempt(ctx context.Context, tx *sql.Tx, a Attempt) error {
	n, err := execute(ctx, tx, `INSERT INTO attempt (outgoing, at, channel, person, outcome, error)
		SELECT id, ?, coalesce(nullif(?, ''), channel), coalesce(nullif(?, ''), person), ?, ? FROM outbox WHERE id = ?`,
		a.At.UnixNano(), a.Channel, a.Person, a.Outcome, a.Error, a.Outgoing)
	switch {
	case err != nil:
		return err
	case n == 0:
		return refusal{fmt.Errorf("nothing with the ID %q is to be told", a.Outgoing)}
	}
	_, err = tx.ExecContext(ctx, `UPDATE outbox SET attempts = attempts + (?1 NOT IN (3, 7, 8)),
		first = CASE WHEN ?1 = 0 AND first = 0 THEN ?4 ELSE first END,
		state = CASE WHEN ?1 = 1 THEN 1 WHEN state <> 0 THEN state WHEN ?1 = 2 THEN 2 WHEN ?1 = 7 THEN 4 WHEN ?1 = 8 THEN 3 ELSE 0 END,
		next = CASE WHEN ?1 IN (0, 3) THEN ?2 ELSE next END WHERE id = ?3`,
		a.Outcome, nanosOf(a.Next), a.Outgoing, cmp.Or(nanosOf(a.Began), a.At.UnixNano()))
	for i := 0; i < len(a.Elsewhere) && err == nil; i++ {
		err = putElsewhere(ctx, tx, a.Outgoing, a.Elsewhere[i])
	}
	return err
}

// putElsewhere saves o beside the row of which it says the same.
func putElsewhere(ctx context.Context, tx *sql.Tx, row string, o reach.Outgoing) error {
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
func (o *Outbox) Reached(ctx context.Context, channel, person string) (yes bool, err error) {
	return sqlite.One[bool](ctx, o.disk.db().Outbox, `SELECT EXISTS (SELECT 1 FROM outbox WHERE person = ? AND channel = ? AND state = 1)`,
		person, channel)
}

// OutboxCounts says how many rows are in which state.
type OutboxCounts struct {
	Waiting, Told, Abandoned, Cancelled, Rehearsed int
}

// Counts counts the rows that are kept.
func (o *Outbox) Counts(ctx context.Context) (OutboxCounts, error) {
	return sqlite.Within(ctx, func() (c OutboxCounts, err error) {
		err = o.disk.db().Read.QueryRowContext(ctx, `SELECT count(*) FILTER (WHERE state = 0), count(*) FILTER (WHERE state = 1),
		count(*) FILTER (WHERE state = 2), count(*) FILTER (WHERE state = 3), count(*) FILTER (WHERE state = 4) FROM outbox`).
			Scan(&c.Waiting, &c.Told, &c.Abandoned, &c.Cancelled, &c.Rehearsed)
		return c, err
	})
}

func cancelWaiting(ctx context.Context, tx *sql.Tx, a alarms.AlarmID) error {
	_, err := tx.ExecContext(ctx, `UPDATE outbox SET state = ? WHERE alarm = ? AND state = 0 AND cancellable = 1`, cancelled, a)
	return err
}

// putOutgoing saves the rows that pick says, unless they are there, and sets
// their ID and Known. suffix lengthens their IDs as it did that of their
// transition.
func putOutgoing(ctx context.Context, tx *sql.Tx, all []reach.Outgoing, suffix string, pick func(reach.Outgoing) bool) error {
	for i, o := range all {
		if !pick(o) {
			continue
		}
		if o.ID == "" {
			return fmt.Errorf("what is to be told to %q over %q has no ID", o.Person, o.Channel)
		}
		if err := replace(ctx, tx, o, suffix); err != nil {
			return err
		}
		n, err := execute(ctx, tx, `INSERT INTO outbox
			(id, transition, alarm, channel, person, not_before, cancellable, body, state, next)
			VALUES (?, (SELECT id FROM transition WHERE id = ?), ?, ?, ?, ?, ?, ?, 0, ?) ON CONFLICT (id) DO NOTHING`,
			o.ID+suffix, o.Transition+suffix, o.Alarm, o.Channel, o.Person, nanosOf(o.NotBefore), o.Cancellable, o.Body, nanosOf(o.NotBefore))
		if err != nil {
			return fmt.Errorf("what is to be told, %s: %w", o.ID, err)
		}
		all[i].ID, all[i].Known = o.ID+suffix, n == 0
	}
	return nil
}

// replace takes out what o, unless it is there already, says again.
func replace(ctx context.Context, tx *sql.Tx, o reach.Outgoing, suffix string) error {
	if !o.Replaces {
		return nil
	}
	_, err := tx.ExecContext(ctx, `UPDATE outbox SET state = ? WHERE alarm = ? AND channel = ? AND person = ?
		AND state = 0 AND cancellable = 1 AND NOT EXISTS (SELECT 1 FROM outbox WHERE id = ?)`,
		cancelled, o.Alarm, o.Channel, o.Person, o.ID+suffix)
	return err
}
