package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
)

// Cells is Buckets over cells of any width, such as days on the calendar: each
// begins at one of cuts, which rise, and ends at the next; the last cut ends the
// last cell. Where only 10-minute values are kept a cut within one gives it to
// the cell in which it begins. Cells without a reading are left out.
func (s *Store) Cells(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, cuts []time.Time) ([]Bucket, error) {
	if len(cuts) < 2 {
		return nil, nil
	}
	edges := make([]int64, len(cuts))
	whole := true // every cell is of whole 10-minute values
	for i, c := range cuts {
		edges[i] = ceilMillis(c)
		whole = whole && edges[i]%slotMillis == 0
	}
	at := func(ms int64) int {
		i, found := slices.BinarySearch(edges, ms)
		if !found {
			i--
		}
		return min(max(i, 0), len(edges)-2)
	}
	g := &grid{start: func(ms int64) int64 { return edges[at(ms)] }, cells: map[int64]*extent{}}
	err := s.look(ctx, name{p, q}, edges[0], edges[len(edges)-1], func(v *view) error { return v.fill(g, !whole) })
	if err != nil {
		return nil, err
	}
	return g.buckets(func(start int64) int64 { i := at(start); return edges[i+1] - edges[i] }), nil
}

// Began is the UTC day of the oldest reading that is kept; zero for none.
func (s *Store) Began(ctx context.Context) (time.Time, error) {
	first, err := one[sql.NullInt64](ctx, s.db().read, `SELECT min(d) FROM (SELECT min(day) AS d FROM span
		UNION ALL SELECT min(id) >> ? FROM day)`, streamBits)
	if err != nil {
		return time.Time{}, err
	}
	oldest, held := s.recent.oldest()
	switch {
	case first.Valid && (!held || first.Int64 <= dayOf(oldest)):
		return joinTime(first.Int64*dayMillis, 0), nil
	case held:
		return joinTime(dayOf(oldest)*dayMillis, 0), nil
	}
	return time.Time{}, nil
}

// Told returns what happened to the alarms of a house, and of the watch itself,
// with from <= Due < to, oldest first, without the log of switchings; of more
// than limit the newest. Reasons are left out, so that a year can be read.
func (s *Store) Told(ctx context.Context, h alarms.HouseID, from, to time.Time, limit int) ([]alarms.Transition, error) {
	return s.told(ctx, scanTold, h, from, to, limit)
}

// told reads for Told and Whole.
func (s *Store) told(ctx context.Context, scan func(*sql.Rows, *alarms.Transition) error, h alarms.HouseID,
	from, to time.Time, limit int) ([]alarms.Transition, error) {
	var all []alarms.Transition
	for _, of := range []alarms.HouseID{h, ""} {
		some, err := collect(ctx, s.db().read, scan, `SELECT body FROM transition INDEXED BY transition_told
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

// scanTold is scanTransition without the reason.
func scanTold(r *sql.Rows, t *alarms.Transition) error {
	var body sql.RawBytes
	if err := r.Scan(&body); err != nil {
		return err
	}
	var x struct {
		ID       string
		Alarm    alarms.AlarmID
		Move     alarms.Move
		From, To alarms.State
		Priority alarms.Priority
		Due      time.Time
		Sentence string
		Other    string
	}
	if err := json.Unmarshal(body, &x); err != nil {
		return fmt.Errorf("a saved transition cannot be read: %w", err)
	}
	*t = alarms.Transition{ID: x.ID, Alarm: x.Alarm, Move: x.Move, From: x.From, To: x.To, Priority: x.Priority,
		Due: x.Due, Sentence: x.Sentence, Other: x.Other}
	return nil
}
