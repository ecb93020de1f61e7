package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"telltale/alarms"
)

// Outgoing is something to be told to one person over one channel. Telling is
// done by whoever works the outbox, any time after Save.
type Outgoing struct {
	ID         string // the same whenever it is made again
	Transition string // ID of what it tells of; empty for a test message
	Alarm      alarms.AlarmID
	Channel    string
	Person     string
	NotBefore  time.Time // zero: at once
	// Cancellable: not to be told if the alarm is taken, or gone, by then.
	Cancellable bool
	// Replaces: cancellable rows of the same alarm, channel and person that wait
	// are not to be told any more. It is not kept.
	Replaces bool
	Body     []byte
	// Known is set by Save: the row was there before, and is as the outbox says.
	Known bool
}

// States of an outgoing row.
const (
	waiting = iota
	told
	abandoned
	cancelled
	rehearsed
)

// Save makes transitions, and what is to be told about them, last. Once it has
// returned nil they may be told, not before. It journals the inputs that wait,
// then saves everything in one transaction.
//
// Saving again what was saved changes nothing: transitions and outgoing rows
// are known by their IDs. If an ID comes back with another meaning (the plan
// was changed between a crash and the restart, so that the same count of an
// alarm stands for something else), the newcomer is kept beside the old one,
// its ID lengthened by "~" and its due time in ms. A transition to any state
// but unacknowledged cancels what waits cancellably for its alarm. The rows of
// outgoing get the ID under which they were saved, and Known.
//
// The error is a *DiskError; then nothing of it is saved, outgoing is as it
// was, and the caller keeps it and tries again.
func (s *Store) Save(transitions []alarms.Transition, outgoing []Outgoing) error {
	if err := s.attached(); err != nil {
		return s.diskError("save what happened", err)
	}
	if s.journal.waiting > 0 || s.journal.newest.After(s.journal.written) {
		if err := s.flush(); err != nil {
			return err
		}
	}
	rows := slices.Clone(outgoing)
	err := s.save(context.Background(), transitions, rows)
	if err == nil {
		copy(outgoing, rows)
	}
	return s.diskError("save what happened", err)
}

func (s *Store) save(ctx context.Context, transitions []alarms.Transition, outgoing []Outgoing) error {
	tx, err := s.db().write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after Commit it does nothing
	clashes := 0
	for _, t := range transitions {
		id, isNew, err := putTransition(ctx, tx, t)
		if err != nil {
			return fmt.Errorf("transition %s: %w", t.ID, err)
		}
		suffix := id[len(t.ID):]
		if suffix != "" && isNew {
			clashes++
		}
		if isNew && t.To != alarms.Unacknowledged && t.Move != alarms.Note {
			if err := cancelWaiting(ctx, tx, t.Alarm); err != nil {
				return err
			}
		}
		// At once, so that a later transition of the same call may cancel them.
		if err := putOutgoing(ctx, tx, outgoing, suffix, func(o Outgoing) bool { return o.Transition == t.ID }); err != nil {
			return err
		}
	}
	other := func(o Outgoing) bool {
		return !slices.ContainsFunc(transitions, func(t alarms.Transition) bool { return o.Transition == t.ID })
	}
	if err := putOutgoing(ctx, tx, outgoing, "", other); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	s.clashes.Add(int64(clashes))
	return nil
}

// putTransition saves t unless it is there, and returns the ID it has.
func putTransition(ctx context.Context, tx *sql.Tx, t alarms.Transition) (id string, isNew bool, err error) {
	id = t.ID
	for {
		t.ID = id
		isNew, err = insertTransition(ctx, tx, t)
		if err != nil || isNew {
			return id, isNew, err
		}
		same, err := sameTransition(ctx, tx, t)
		if err != nil || same {
			return id, false, err
		}
		id = fmt.Sprintf("%s~%d", id, t.Due.UnixMilli())
	}
}

func insertTransition(ctx context.Context, tx *sql.Tx, t alarms.Transition) (bool, error) {
	t.Reason = finite(t.Reason)
	body, err := json.Marshal(t)
	if err != nil {
		return false, err
	}
	res, err := tx.ExecContext(ctx, `INSERT OR IGNORE INTO transition (id, alarm, house, due, move, state, body)
		VALUES (?, ?, ?, ?, ?, ?, ?)`, t.ID, t.Alarm, t.Reason.House, t.Due.UnixNano(), t.Move.String(), t.To.String(), body)
	if err != nil {
		return false, err
	}
	if n, err := res.RowsAffected(); err != nil || n == 0 {
		return false, err
	}
	seq, err := res.LastInsertId()
	if err != nil {
		return false, err
	}
	return true, putRun(ctx, tx, seq, t)
}

// Saved reports whether a transition is saved, with the meaning that it has.
func (s *Store) Saved(ctx context.Context, t alarms.Transition) (bool, error) {
	same, err := sameTransition(ctx, s.db().read, t)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return same, err
}

// sameTransition reports whether the saved row means what t means. When the
// core noticed may differ: that depends on the ticks.
func sameTransition(ctx context.Context, tx interface {
	QueryRowContext(context.Context, string, ...any) *sql.Row
}, t alarms.Transition) (bool, error) {
	var due int64
	var move, state string
	err := tx.QueryRowContext(ctx, `SELECT due, move, state FROM transition WHERE id = ?`, t.ID).Scan(&due, &move, &state)
	return due == t.Due.UnixNano() && move == t.Move.String() && state == t.To.String(), err
}

// finite drops figures that JSON cannot hold: an alarm must not go unsaved
// because a probe sent something that is no number.
func finite(r alarms.Reason) alarms.Reason {
	for _, p := range []**float64{&r.Value, &r.Limit, &r.Rate, &r.Peak} {
		if *p != nil && (math.IsNaN(**p) || math.IsInf(**p, 0)) {
			*p = nil
		}
	}
	return r
}

func cancelWaiting(ctx context.Context, tx *sql.Tx, a alarms.AlarmID) error {
	_, err := tx.ExecContext(ctx, `UPDATE outbox SET state = ? WHERE alarm = ? AND state = 0 AND cancellable = 1`, cancelled, a)
	return err
}

// putOutgoing saves the rows that pick says, unless they are there, and sets
// their ID and Known. suffix lengthens their IDs as it did that of their
// transition.
func putOutgoing(ctx context.Context, tx *sql.Tx, all []Outgoing, suffix string, pick func(Outgoing) bool) error {
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
		res, err := tx.ExecContext(ctx, `INSERT INTO outbox
			(id, transition, alarm, channel, person, not_before, cancellable, body, state, next)
			VALUES (?, (SELECT id FROM transition WHERE id = ?), ?, ?, ?, ?, ?, ?, 0, ?) ON CONFLICT (id) DO NOTHING`,
			o.ID+suffix, o.Transition+suffix, o.Alarm, o.Channel, o.Person, nanosOf(o.NotBefore), o.Cancellable, o.Body, nanosOf(o.NotBefore))
		if err != nil {
			return fmt.Errorf("what is to be told, %s: %w", o.ID, err)
		}
		n, err := res.RowsAffected()
		if err != nil {
			return err
		}
		all[i].ID, all[i].Known = o.ID+suffix, n == 0
	}
	return nil
}

// replace takes out what o, unless it is there already, says anew.
func replace(ctx context.Context, tx *sql.Tx, o Outgoing, suffix string) error {
	if !o.Replaces {
		return nil
	}
	_, err := tx.ExecContext(ctx, `UPDATE outbox SET state = ? WHERE alarm = ? AND channel = ? AND person = ?
		AND state = 0 AND cancellable = 1 AND NOT EXISTS (SELECT 1 FROM outbox WHERE id = ?)`,
		cancelled, o.Alarm, o.Channel, o.Person, o.ID+suffix)
	return err
}

// nanosOf gives t for a column; the zero time is 0.
func nanosOf(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixNano()
}
