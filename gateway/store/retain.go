package store

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// A day is summed up once no reading can be late for it any more; what comes
// later all the same, after a wrong clock, has it summed up again.
const sumAfter = 8 * day

// How much one call of Retain does at most.
const (
	streamsPerCall = 100
	daysPerCall    = 1000
	logPerCall     = 200
)

func dayKey(day, stream int64) int64 { return day<<streamBits | stream }

// Retain does a bounded piece of the upkeep: it sums up old days to 10-minute
// values, then removes raw readings, 10-minute values and transitions that are
// older than they are kept. more says that another call has work too. Call it
// about once a minute; the pace also bounds what a watch with a wrong clock can
// remove. Freed pages of the file are used again, the file does not shrink.
func (s *Store) Retain(ctx context.Context, now time.Time) (more bool, err error) {
	err = s.inTx(ctx, func(tx *sql.Tx) error {
		for _, do := range []func(context.Context, *sql.Tx, time.Time) (bool, error){s.sumDays, s.dropRaw, s.dropDays, s.dropLog} {
			again, err := do(ctx, tx, now)
			if err != nil {
				return err
			}
			more = more || again
		}
		return nil
	})
	return err == nil && more, s.diskError("sum up and clear old readings", err)
}

// sumDays sums up some streams of the oldest day that waits for it.
func (s *Store) sumDays(ctx context.Context, tx *sql.Tx, now time.Time) (bool, error) {
	end := dayOf(now.Add(-min(sumAfter, s.opt.RawFor)).UnixMilli()) // days before this one
	if held, ok := s.recent.oldest(); ok {
		end = min(end, dayOf(held))
	}
	var d sql.NullInt64
	err := tx.QueryRowContext(ctx, `SELECT min(day) FROM span WHERE day < ?
		AND day NOT IN (SELECT day FROM summed WHERE done = 1)`, end).Scan(&d)
	if err != nil || !d.Valid {
		return false, err
	}
	var next int64
	err = tx.QueryRowContext(ctx, `SELECT next FROM summed WHERE day = ?`, d.Int64).Scan(&next)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return false, err
	}
	ids, err := collect(ctx, tx, func(r *sql.Rows, id *int64) error { return r.Scan(id) },
		`SELECT id FROM stream WHERE id >= ? ORDER BY id LIMIT ?`, next, streamsPerCall+1)
	if err != nil {
		return false, err
	}
	done := len(ids) <= streamsPerCall
	for _, id := range ids[:min(len(ids), streamsPerCall)] {
		if err := sumDay(ctx, tx, d.Int64, id); err != nil {
			return false, err
		}
		next = id + 1
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO summed (day, next, done, raw) VALUES (?, ?, ?, 1)
		ON CONFLICT (day) DO UPDATE SET next = excluded.next, done = excluded.done`, d.Int64, next, done)
	return true, err
}

// sumDay writes the 10-minute values of one stream on one day.
func sumDay(ctx context.Context, tx *sql.Tx, d, stream int64) error {
	sum := daySum{start: d * dayMillis}
	v := view{ctx: ctx, tx: tx, id: stream, lo: sum.start, hi: sum.start + dayMillis,
		savedLo: sum.start, savedHi: sum.start + dayMillis, epoch: 1 << 39}
	if err := v.savedBlocks(func(b block) error { return unpack(b.data, b.n, sum.add) }); err != nil {
		return err
	}
	whole, data := sum.pack()
	if whole.n == 0 {
		return nil
	}
	_, err := tx.ExecContext(ctx, `INSERT OR REPLACE INTO day (id, n, min, mean, max, data) VALUES (?, ?, ?, ?, ?, ?)`,
		dayKey(d, stream), whole.n, whole.min, whole.mean(), whole.max, data)
	return err
}

// dropRaw removes the blocks of one epoch all of whose days are over RawFor
// old and summed up.
func (s *Store) dropRaw(ctx context.Context, tx *sql.Tx, now time.Time) (bool, error) {
	before := dayOf(now.Add(-s.opt.RawFor).UnixMilli())
	epochs, err := collect(ctx, tx, func(r *sql.Rows, e *int64) error { return r.Scan(e) },
		`SELECT DISTINCT a.epoch FROM span a WHERE a.day < ?1 AND NOT EXISTS (
			SELECT 1 FROM span b WHERE b.epoch = a.epoch AND (b.day >= ?1
				OR b.day NOT IN (SELECT day FROM summed WHERE done = 1)))
		ORDER BY a.day LIMIT 2`, before)
	if err != nil || len(epochs) == 0 {
		return false, err
	}
	e := epochs[0]
	for _, q := range []string{
		`UPDATE summed SET raw = 0 WHERE day IN (SELECT day FROM span WHERE epoch = ?1)`,
		`DELETE FROM block WHERE id >= ?1 << 24 AND id < (?1 + 1) << 24`,
		`DELETE FROM span WHERE epoch = ?1`,
	} {
		if _, err := tx.ExecContext(ctx, q, e); err != nil {
			return false, err
		}
	}
	return len(epochs) > 1, nil
}

// dropDays removes 10-minute values over SumFor old.
func (s *Store) dropDays(ctx context.Context, tx *sql.Tx, now time.Time) (bool, error) {
	before := dayOf(now.Add(-s.opt.SumFor).UnixMilli())
	res, err := tx.ExecContext(ctx, `DELETE FROM day WHERE id IN (SELECT id FROM day WHERE id < ? ORDER BY id LIMIT ?)`,
		dayKey(before, 0), daysPerCall)
	if err != nil {
		return false, err
	}
	n, err := res.RowsAffected()
	if err != nil || n == daysPerCall {
		return true, err
	}
	_, err = tx.ExecContext(ctx, `DELETE FROM summed WHERE day < ? AND raw = 0`, before)
	return false, err
}

// dropLog removes transitions over LogFor old, with their tellings and
// attempts, and old tellings that belong to none.
func (s *Store) dropLog(ctx context.Context, tx *sql.Tx, now time.Time) (more bool, err error) {
	before := now.Add(-s.opt.LogFor).UnixNano()
	for _, q := range []string{
		`DELETE FROM transition WHERE seq IN (SELECT seq FROM transition WHERE due < ? ORDER BY due LIMIT ?)`,
		`DELETE FROM outbox WHERE seq IN (SELECT seq FROM outbox WHERE transition IS NULL AND state <> 0
			AND next < ? ORDER BY seq LIMIT ?)`,
	} {
		res, err := tx.ExecContext(ctx, q, before, logPerCall)
		if err != nil {
			return false, err
		}
		n, err := res.RowsAffected()
		if err != nil {
			return false, err
		}
		more = more || n == logPerCall
	}
	return more, nil
}
