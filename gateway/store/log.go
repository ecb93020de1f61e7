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
	"telltale/gateway/store/sqlite"
)

// Log is what happened to the alarms, and what the drives did. All of it may be
// called by anybody.
type Log struct {
	disk    *disk
	keepFor time.Duration
}

// LogQuery says which transitions are wanted. Zero fields ask for all.
type LogQuery struct {
	From, To time.Time // From <= Due < To
	Alarm    alarms.AlarmID
	House    alarms.HouseID
	// Ending asks for alarms whose ID ends so, NotEnding for all others.
	Ending, NotEnding string
	// OlderThan is the ID of the last transition of the page before.
	OlderThan string
	Limit     int // default 100, at most 10,000
}

// Transitions returns saved transitions, newest first by Due and then by the
// order of saving.
func (l *Log) Transitions(ctx context.Context, q LogQuery) ([]alarms.Transition, error) {
	var w where
	if !q.From.IsZero() {
		w.and("due >= ?", q.From.UnixNano())
	}
	if !q.To.IsZero() {
		w.and("due < ?", q.To.UnixNano())
	}
	if q.Alarm != "" {
		w.and("alarm = ?", q.Alarm)
	}
	if q.House != "" {
		w.and("house = ?", q.House)
	}
	if q.Ending != "" {
		w.and("substr(alarm, -length(?)) = ?", q.Ending, q.Ending)
	}
	if q.NotEnding != "" {
		w.and("substr(alarm, -length(?)) <> ?", q.NotEnding, q.NotEnding)
	}
	if q.OlderThan != "" {
		w.and("(due, seq) < (SELECT due, seq FROM transition WHERE id = ?)", q.OlderThan)
	}
	return sqlite.Collect(ctx, l.disk.db().Read, scanTransition, "SELECT body FROM transition"+w.sql()+" ORDER BY due DESC, seq DESC LIMIT ?",
		append(w.args, bounded(q.Limit, 100, 10_000))...)
}

func scanTransition(r *sql.Rows, t *alarms.Transition) error {
	var body []byte
	if err := r.Scan(&body); err != nil {
		return err
	}
	return readTransition(body, t)
}

// readTransition reads one that was saved; nil is none, and leaves t as it is.
func readTransition(body []byte, t *alarms.Transition) error {
	if body == nil {
		return nil
	}
	if err := json.Unmarshal(body, t); err != nil {
		return fmt.Errorf("a saved transition cannot be read: %w", err)
	}
	return nil
}

// Alarms returns the IDs of all alarms that have a transition kept, sorted.
func (l *Log) Alarms(ctx context.Context) ([]alarms.AlarmID, error) {
	return sqlite.Collect(ctx, l.disk.db().Read, func(r *sql.Rows, id *alarms.AlarmID) error { return r.Scan(id) },
		`SELECT DISTINCT alarm FROM transition ORDER BY alarm`)
}

// Told returns what happened to the alarms of a house, and of the watch itself,
// with from <= Due < to, oldest first, without the log of switchings; of more
// than limit the newest.
func (l *Log) Told(ctx context.Context, h alarms.HouseID, from, to time.Time, limit int) ([]alarms.Transition, error) {
	var all []alarms.Transition
	for _, of := range []alarms.HouseID{h, ""} {
		some, err := sqlite.Collect(ctx, l.disk.db().Read, scanTransition, `SELECT body FROM transition INDEXED BY transition_told
			WHERE house = ? AND due >= ? AND due < ? AND substr(alarm, -10) <> '/switching'
			ORDER BY due DESC, seq DESC LIMIT ?`, of, from.UnixNano(), to.UnixNano(), limit)
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
	}
	slices.Reverse(all)
	slices.SortStableFunc(all, func(a, b alarms.Transition) int { return a.Due.Compare(b.Due) })
	return all[max(0, len(all)-limit):], nil
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
func (l *Log) Saved(ctx context.Context, t alarms.Transition) (bool, error) {
	same, err := sameTransition(ctx, l.disk.db().Read, t)
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

// drop removes transitions over keepFor old, with their tellings and
// attempts, and old tellings that belong to none.
func (l *Log) drop(ctx context.Context, tx *sql.Tx, now time.Time) (more bool, err error) {
	before := now.Add(-l.keepFor).UnixNano()
	for _, q := range []string{
		`DELETE FROM transition WHERE seq IN (SELECT seq FROM transition WHERE due < ? ORDER BY due LIMIT ?)`,
		`DELETE FROM outbox WHERE seq IN (SELECT seq FROM outbox WHERE transition IS NULL AND state <> 0
			AND next < ? ORDER BY seq LIMIT ?)`,
	} {
		n, err := execute(ctx, tx, q, before, logPerCall)
		if err != nil {
			return false, err
		}
		more = more || n == logPerCall
	}
	return more, nil
}
