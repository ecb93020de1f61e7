package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"telltale/gateway/store/sqlite"
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
	err = s.disk.write(ctx, "sum up and clear old readings", func(tx *sql.Tx) error {
		for _, do := range []func(context.Context, *sql.Tx, time.Time) (bool, error){s.History.sumDays, s.History.dropRaw, s.History.dropDays, s.Log.drop} {
			again, err := do(ctx, tx, now)
			if err != nil {
				return err
			}
			more = more || again
		}
		return nil
	})
	return err == nil && more, err
}

// sumDays sums up some streams of the oldest day that waits for it.
func (h *History) sumDays(ctx context.Context, tx *sql.Tx, now time.Time) (bool, error) {
	end := dayOf(now.Add(-min(sumAfter, h.rawFor)).UnixMilli()) // days before this one
	if held, ok := h.recent.oldest(); ok {
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
	ids, err := sqlite.Collect(ctx, tx, func(r *sql.Rows, id *int64) error { return r.Scan(id) },
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
func (h *History) dropRaw(ctx context.Context, tx *sql.Tx, now time.Time) (bool, error) {
	before := dayOf(now.Add(-h.rawFor).UnixMilli())
	epochs, err := sqlite.Collect(ctx, tx, func(r *sql.Rows, e *int64) error { return r.Scan(e) },
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
func (h *History) dropDays(ctx context.Context, tx *sql.Tx, now time.Time) (bool, error) {
	before := dayOf(now.Add(-h.sumFor).UnixMilli())
	n, err := execute(ctx, tx, `DELETE FROM day WHERE id IN (SELECT id FROM day WHERE id < ? ORDER BY id LIMIT ?)`,
		dayKey(before, 0), daysPerCall)
	if err != nil || n == daysPerCall {
		return true, err
	}
	_, err = tx.ExecContext(ctx, `DELETE FROM summed WHERE day < ? AND raw = 0`, before)
	return false, err
}

// Numbers inside the keys of blocks and days.
const (
	partBits   = 4
	streamBits = 20
	maxParts   = 1 << partBits
)

// blockKey is the key of the first part of a stream's blocks of an epoch.
func blockKey(epoch, stream int64) int64 {
	return epoch<<(streamBits+partBits) | stream<<partBits
}

const dayMillis = 24 * 60 * 60 * 1000

// dayOf gives the UTC day of a time in ms, counted from 1970-01-01.
func dayOf(ms int64) int64 {
	d := ms / dayMillis
	if ms%dayMillis < 0 {
		d--
	}
	return d
}

// writeBlocks puts every stream's readings into the transaction, in key order.
// The rows replace those of a commit that failed only in appearance.
func (h *History) writeBlocks(ctx context.Context, tx *sql.Tx) error {
	type row struct {
		id     int64
		blocks []block
	}
	var rows []row
	days := map[int64]bool{}
	for _, st := range h.recent.streams {
		if st.open.n == 0 {
			continue
		}
		id, err := streamID(ctx, tx, st.name)
		if err != nil {
			return err
		}
		rows = append(rows, row{id, st.blocks()})
	}
	slices.SortFunc(rows, func(a, b row) int { return int(a.id - b.id) })
	put, err := tx.PrepareContext(ctx, `INSERT OR REPLACE INTO block
		(id, first_ms, last_ms, n, min, mean, max, data) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		return err
	}
	defer put.Close()
	for _, r := range rows {
		key := blockKey(h.recent.epoch, r.id)
		for part, b := range r.blocks {
			if _, err := put.ExecContext(ctx, key+int64(part), b.first, b.last, b.n, b.min, b.mean(), b.max, b.data); err != nil {
				return err
			}
			if err := daysIn(b, days); err != nil {
				return err
			}
		}
	}
	return h.writeSpans(ctx, tx, days)
}

// daysIn adds the UTC days on which b has readings. Only a block that spans
// more than two days is opened for it.
func daysIn(b block, days map[int64]bool) error {
	first, last := dayOf(b.first), dayOf(b.last)
	if last-first <= 1 {
		days[first], days[last] = true, true
		return nil
	}
	return unpack(b.data, b.n, func(p point) { days[dayOf(p.ms)] = true })
}

// writeSpans records the days of this epoch. A day that was summed up already
// is to be summed up again, if its readings are still here.
func (h *History) writeSpans(ctx context.Context, tx *sql.Tx, days map[int64]bool) error {
	for d := range days {
		if _, err := tx.ExecContext(ctx, `INSERT OR IGNORE INTO span (day, epoch) VALUES (?, ?)`, d, h.recent.epoch); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `DELETE FROM summed WHERE day = ? AND raw = 1`, d); err != nil {
			return err
		}
	}
	return nil
}

// streamID finds or makes the number of a stream.
func streamID(ctx context.Context, tx *sql.Tx, n name) (id int64, err error) {
	err = tx.QueryRowContext(ctx, `SELECT id FROM stream WHERE probe = ? AND quantity = ?`, n.probe, n.quantity).Scan(&id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	res, err := tx.ExecContext(ctx, `INSERT INTO stream (probe, quantity) VALUES (?, ?)`, n.probe, n.quantity)
	if err != nil {
		return 0, fmt.Errorf("a new stream for %s of %s: %w", n.quantity, n.probe, err)
	}
	return res.LastInsertId()
}
