package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"telltale/alarms"
)

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
func (s *Store) Transitions(ctx context.Context, q LogQuery) ([]alarms.Transition, error) {
	var where []string
	var args []any
	and := func(cond string, a ...any) {
		where, args = append(where, cond), append(args, a...)
	}
	if !q.From.IsZero() {
		and("due >= ?", q.From.UnixNano())
	}
	if !q.To.IsZero() {
		and("due < ?", q.To.UnixNano())
	}
	if q.Alarm != "" {
		and("alarm = ?", q.Alarm)
	}
	if q.House != "" {
		and("house = ?", q.House)
	}
	if q.Ending != "" {
		and("substr(alarm, -length(?)) = ?", q.Ending, q.Ending)
	}
	if q.NotEnding != "" {
		and("substr(alarm, -length(?)) <> ?", q.NotEnding, q.NotEnding)
	}
	if q.OlderThan != "" {
		and("(due, seq) < (SELECT due, seq FROM transition WHERE id = ?)", q.OlderThan)
	}
	query := "SELECT body FROM transition"
	if len(where) > 0 {
		query += " WHERE " + strings.Join(where, " AND ")
	}
	limit := min(q.Limit, 10_000)
	if limit <= 0 {
		limit = 100
	}
	return collect(ctx, s.db().read, scanTransition, query+" ORDER BY due DESC, seq DESC LIMIT ?", append(args, limit)...)
}

// Transition returns the one with this ID; ok is false when there is none.
func (s *Store) Transition(ctx context.Context, id string) (t alarms.Transition, ok bool, err error) {
	all, err := collect(ctx, s.db().read, scanTransition, `SELECT body FROM transition WHERE id = ?`, id)
	if err != nil || len(all) == 0 {
		return t, false, err
	}
	return all[0], true, nil
}

func scanTransition(r *sql.Rows, t *alarms.Transition) error {
	var body []byte
	if err := r.Scan(&body); err != nil {
		return err
	}
	if err := json.Unmarshal(body, t); err != nil {
		return fmt.Errorf("a saved transition cannot be read: %w", err)
	}
	return nil
}

// Alarms returns the IDs of all alarms that have a transition kept, sorted.
func (s *Store) Alarms(ctx context.Context) ([]alarms.AlarmID, error) {
	return collect(ctx, s.db().read, func(r *sql.Rows, id *alarms.AlarmID) error { return r.Scan(id) },
		`SELECT DISTINCT alarm FROM transition ORDER BY alarm`)
}
