package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/store/sqlite"
)

// History is the readings of the past, those included that still wait for the disk.
// What asks for it may be called by anybody.
type History struct {
	disk           *disk
	rawFor, sumFor time.Duration
	recent         recent
}

// Reading is one raw reading in the history.
type Reading struct {
	At    time.Time // history time, UTC, whole ms
	Value float64
}

// Readings returns the raw readings of one quantity of one probe with
// from <= At < to, oldest first, those still waiting for the disk included.
// limit bounds how many, the oldest ones; 0 means 1,000,000.
func (h *History) Readings(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, from, to time.Time, limit int) ([]Reading, error) {
	lo, hi := ceilMillis(from), ceilMillis(to)
	var points []point
	err := h.look(ctx, name{p, q}, lo, hi, func(v *view) error {
		return v.eachBlock(func(b block) error {
			return unpack(b.data, b.n, func(pt point) {
				if pt.ms >= lo && pt.ms < hi {
					points = append(points, pt)
				}
			})
		})
	})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(points, func(a, b point) int { return cmp.Compare(a.ms, b.ms) })
	if limit <= 0 {
		limit = 1_000_000
	}
	all := make([]Reading, 0, min(limit, len(points)))
	for _, pt := range points[:min(limit, len(points))] {
		all = append(all, Reading{At: joinTime(pt.ms, 0), Value: pt.value})
	}
	return all, nil
}

// ceilMillis is the first whole ms not before t.
func ceilMillis(t time.Time) int64 {
	ms, nanos := splitTime(t)
	if nanos > 0 {
		ms++
	}
	return ms
}

// view is one moment's view of the history of one stream: what was in memory
// and, in one read transaction, the database.
type view struct {
	ctx    context.Context
	tx     *sql.Tx
	id     int64 // 0: nothing of it in the database
	lo, hi int64 // ms, lo <= t < hi
	recent []block
	epoch  int64 // first epoch that is in memory

	savedLo, savedHi int64 // of lo..hi what is read of the database's blocks
}

// look gives f a view. A checkpoint at the same time does not disturb it: what
// was taken from memory is left out of the database by its epoch.
func (h *History) look(ctx context.Context, n name, lo, hi int64, f func(*view) error) error {
	if hi <= lo {
		return nil
	}
	v := &view{ctx: ctx, lo: lo, hi: hi, savedLo: lo, savedHi: hi}
	v.recent, v.epoch = h.recent.copyOf(n, lo, hi)
	return sqlite.Ask(ctx, func() error { return h.lookBy(v, n, f) })
}

func (h *History) lookBy(v *view, n name, f func(*view) error) error {
	ctx := v.ctx
	tx, err := h.disk.db().Read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // it only reads
	v.tx = tx
	err = tx.QueryRowContext(ctx, `SELECT id FROM stream WHERE probe = ? AND quantity = ?`, n.probe, n.quantity).Scan(&v.id)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	return f(v)
}

// eachBlock gives f every block that touches the view, in the order of
// checkpoints. The data is good only during the call.
func (v *view) eachBlock(f func(block) error) error {
	if v.id != 0 {
		if err := v.savedBlocks(f); err != nil {
			return err
		}
	}
	for _, b := range v.recent {
		if err := f(b); err != nil {
			return err
		}
	}
	return nil
}

func (v *view) savedBlocks(f func(block) error) error {
	if v.savedHi <= v.savedLo {
		return nil
	}
	rows, err := v.tx.QueryContext(v.ctx, `SELECT b.first_ms, b.last_ms, b.n, b.min, b.mean, b.max, b.data
		FROM (SELECT DISTINCT epoch FROM span WHERE day BETWEEN ?1 AND ?2 AND epoch < ?3) e
		CROSS JOIN block b ON b.id BETWEEN (e.epoch << 24) + (?4 << 4) AND (e.epoch << 24) + (?4 << 4) + 15
		WHERE b.last_ms >= ?5 AND b.first_ms < ?6 ORDER BY b.id`,
		dayOf(v.savedLo), dayOf(v.savedHi-1), v.epoch, v.id, v.savedLo, v.savedHi)
	if err != nil {
		return err
	}
	defer rows.Close()
	var data sql.RawBytes
	for rows.Next() {
		var b block
		var mean float64
		if err := rows.Scan(&b.first, &b.last, &b.n, &b.min, &mean, &b.max, &data); err != nil {
			return err
		}
		b.sum, b.data = mean*float64(b.n), data
		if err := f(b); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Gaps is how the readings of one stream followed on each other.
type Gaps struct {
	N           int // readings
	First, Last time.Time
	Median      time.Duration // between readings; 0 with fewer than two
	Longest     time.Duration // between readings
	LongestFrom time.Time
}

// Gaps looks at the raw readings of one quantity of one probe with
// from <= At < to, those still waiting for the disk included. Readings of days
// that are long gone are not among them.
func (h *History) Gaps(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, from, to time.Time) (g Gaps, err error) {
	lo, hi := ceilMillis(from), ceilMillis(to)
	var ms []int64
	err = h.look(ctx, name{p, q}, lo, hi, func(v *view) error {
		return v.eachBlock(func(b block) error {
			return unpack(b.data, b.n, func(pt point) {
				if pt.ms >= lo && pt.ms < hi {
					ms = append(ms, pt.ms)
				}
			})
		})
	})
	if err != nil || len(ms) == 0 {
		return g, err
	}
	if !slices.IsSorted(ms) { // some came late
		slices.Sort(ms)
	}
	g = Gaps{N: len(ms), First: joinTime(ms[0], 0), Last: joinTime(ms[len(ms)-1], 0)}
	for i := len(ms) - 1; i > 0; i-- {
		ms[i] -= ms[i-1]
		if d := time.Duration(ms[i]) * time.Millisecond; d > g.Longest {
			g.Longest, g.LongestFrom = d, joinTime(ms[i-1], 0)
		}
	}
	if steps := ms[1:]; len(steps) > 0 {
		slices.Sort(steps)
		g.Median = time.Duration(steps[len(steps)/2]) * time.Millisecond
	}
	return g, nil
}
