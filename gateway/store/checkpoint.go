package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"slices"
	"time"
)

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

// CheckpointDue reports whether it is time for Checkpoint: CheckpointEvery has
// passed, many readings are held in memory, or losses were taken.
func (s *Store) CheckpointDue() bool {
	held, _, _ := s.recent.counts()
	return s.losses.taken() || held >= s.opt.CheckpointReadings || s.opt.Now().Sub(s.last) >= s.opt.CheckpointEvery
}

// Checkpoint saves the core's snapshot and moves the readings held in memory
// to the history, in one transaction, and then removes the journal of before.
// Every appended input must have been applied to the core that snapshot is of.
// On error, a *DiskError, nothing has changed and the journal goes on; the
// next attempt is due after a twentieth of CheckpointEvery.
func (s *Store) Checkpoint(snapshot []byte) error {
	err := s.checkpoint(context.Background(), snapshot)
	s.last = s.opt.Now()
	if err != nil {
		s.last = s.last.Add(s.opt.CheckpointEvery/20 - s.opt.CheckpointEvery)
	}
	return s.diskError("save the state of the alarms", err)
}

func (s *Store) checkpoint(ctx context.Context, snapshot []byte) error {
	packed, err := packSnapshot(snapshot)
	if err != nil {
		return err
	}
	if err := s.attached(); err != nil {
		return err
	}
	if s.journal.due(s.opt.AliveEvery) {
		if err := s.flush(); err != nil {
			return err
		}
	}
	if err := errors.Join(s.journal.rotate(), s.journal.begin()); err != nil {
		return err
	}
	tx, err := s.db().write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after Commit it does nothing
	if err := s.writeBlocks(ctx, tx); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO core (id, segment, epoch, size, crc, body, ahead, begun) VALUES (1, ?, ?, ?, ?, ?, ?, 1)
		ON CONFLICT (id) DO UPDATE SET segment = excluded.segment, epoch = excluded.epoch, begun = 1,
		size = excluded.size, crc = excluded.crc, body = excluded.body, ahead = excluded.ahead`,
		s.journal.number, s.recent.epoch+1, len(snapshot), crc32.Checksum(snapshot, castagnoli), packed, int64(s.recent.ahead))
	if err != nil {
		return err
	}
	taken := s.losses.taken()
	if taken {
		if _, err := tx.ExecContext(ctx, `DELETE FROM kept WHERE name = ?`, lossesKept); err != nil {
			return err
		}
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	if taken {
		s.losses.mu.Lock()
		s.losses.kept = false
		s.losses.mu.Unlock()
	}
	s.recent.clear()
	s.dropSegments()
	return nil
}

// dropSegments removes the segments that the new snapshot covers, and puts
// aside those that are damaged. One that stays is removed by the next Open.
func (s *Store) dropSegments() {
	s.since = s.journal.number
	all, err := segments(s.dir)
	for _, n := range all {
		if n >= s.since {
			break
		}
		if s.marred[n] {
			_, err = s.putAside(segmentName(n))
		} else {
			err = errors.Join(err, os.Remove(s.path(segmentName(n))))
		}
	}
	clear(s.marred)
	if err != nil {
		s.opt.Log.Warn().Err(err).Msg("an old part of the journal cannot be removed")
	}
}

// writeBlocks puts every stream's readings into the transaction, in key order.
// The rows replace those of a commit that failed only in appearance.
func (s *Store) writeBlocks(ctx context.Context, tx *sql.Tx) error {
	type row struct {
		id     int64
		blocks []block
	}
	var rows []row
	days := map[int64]bool{}
	for _, st := range s.recent.streams {
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
		key := blockKey(s.recent.epoch, r.id)
		for part, b := range r.blocks {
			if _, err := put.ExecContext(ctx, key+int64(part), b.first, b.last, b.n, b.min, b.mean(), b.max, b.data); err != nil {
				return err
			}
			if err := daysIn(b, days); err != nil {
				return err
			}
		}
	}
	return s.writeSpans(ctx, tx, days)
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
func (s *Store) writeSpans(ctx context.Context, tx *sql.Tx, days map[int64]bool) error {
	for d := range days {
		if _, err := tx.ExecContext(ctx, `INSERT OR IGNORE INTO span (day, epoch) VALUES (?, ?)`, d, s.recent.epoch); err != nil {
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

func timeOf(nanos int64) time.Time { return time.Unix(0, nanos).UTC() }
