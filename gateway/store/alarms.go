package store

import (
	"context"
	"database/sql"

	"telltale/alarms"
)

// Alarms returns the IDs of all alarms that have a transition kept, sorted.
func (s *Store) Alarms(ctx context.Context) ([]alarms.AlarmID, error) {
	return collect(ctx, s.db().read, func(r *sql.Rows, id *alarms.AlarmID) error { return r.Scan(id) },
		`SELECT DISTINCT alarm FROM transition ORDER BY alarm`)
}
