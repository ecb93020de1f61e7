package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"telltale/alarms"
)

// TellingSum is how many tellings to one person over one channel came to one
// end.
type TellingSum struct {
	Person, Channel string
	State           TellingState
	Tried           bool // and failed so far, while it waits
	Arrived         bool // so the channel reported after it was told
	Undelivered     bool // likewise, that it did not arrive
	N               int
}

const tellingsOf = `FROM outbox o WHERE o.person <> '' AND o.not_before >= ?1 AND o.not_before < ?2
	AND (substr(o.alarm, 1, length(?3)) = ?3 OR substr(o.alarm, 1, 6) = 'watch/')`

// TellingSums counts what was to be told from..to of a house and of the watch
// itself.
func (s *Store) TellingSums(ctx context.Context, h alarms.HouseID, from, to time.Time) ([]TellingSum, error) {
	return collect(ctx, s.db().read, func(r *sql.Rows, t *TellingSum) error {
		return r.Scan(&t.Person, &t.Channel, &t.State, &t.Tried, &t.Arrived, &t.Undelivered, &t.N)
	}, `SELECT person, channel, state, tried, state = 1 AND last = ?4, state = 1 AND last = ?5, count(*) FROM
		(SELECT o.person, o.channel, o.state, o.state = 0 AND o.attempts > 0 AS tried,
			coalesce((SELECT a.outcome FROM attempt a WHERE a.outgoing = o.id ORDER BY a.seq DESC LIMIT 1), -1) AS last `+tellingsOf+`)
		GROUP BY 1, 2, 3, 4, 5, 6 ORDER BY 1, 2, 3, 4, 5, 6`, from.UnixNano(), to.UnixNano(), string(h)+"/", Arrived, Undelivered)
}

// LostTelling is a telling that was given up.
type LostTelling struct {
	Person, Channel string
	Planned         time.Time
	Error           string // as the channel said last
	Of              alarms.Transition
}

// LostTellings lists what was to be told from..to and was given up, newest
// first.
func (s *Store) LostTellings(ctx context.Context, h alarms.HouseID, from, to time.Time, limit int) ([]LostTelling, error) {
	return collect(ctx, s.db().read, func(r *sql.Rows, t *LostTelling) error {
		var at int64
		var body []byte
		if err := r.Scan(&t.Person, &t.Channel, &at, &t.Error, &body); err != nil {
			return err
		}
		t.Planned = timeOf(at)
		if body == nil {
			return nil
		}
		if err := json.Unmarshal(body, &t.Of); err != nil {
			return fmt.Errorf("a saved transition cannot be read: %w", err)
		}
		return nil
	}, `SELECT o.person, o.channel, o.not_before,
		coalesce((SELECT a.error FROM attempt a WHERE a.outgoing = o.id ORDER BY a.seq DESC LIMIT 1), ''),
		(SELECT t.body FROM transition t WHERE t.id = o.transition) `+tellingsOf+
		` AND o.state = 2 ORDER BY o.seq DESC LIMIT ?4`, from.UnixNano(), to.UnixNano(), string(h)+"/", limit)
}

// Whole returns the transitions of a house, and of the watch itself, with
// from <= Due < to, oldest first, with all that is known of each, without the
// log of switchings; of more than limit the newest.
func (s *Store) Whole(ctx context.Context, h alarms.HouseID, from, to time.Time, limit int) ([]alarms.Transition, error) {
	return s.told(ctx, scanTransition, h, from, to, limit)
}
