package store

import (
	"context"
	"errors"
	"hash/crc32"
)

// CheckpointDue reports whether it is time for Checkpoint: CheckpointEvery has
// passed, many readings are held in memory, or losses were taken.
func (s *Store) CheckpointDue() bool {
	held, _, _ := s.History.recent.counts()
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
	return s.disk.fault("save the state of the alarms", err)
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
	tx, err := s.disk.db().Write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after Commit it does nothing
	if err := s.History.writeBlocks(ctx, tx); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO core (id, segment, epoch, size, crc, body, ahead, begun) VALUES (1, ?, ?, ?, ?, ?, ?, 1)
		ON CONFLICT (id) DO UPDATE SET segment = excluded.segment, epoch = excluded.epoch, begun = 1,
		size = excluded.size, crc = excluded.crc, body = excluded.body, ahead = excluded.ahead`,
		s.journal.number, s.History.recent.epoch+1, len(snapshot), crc32.Checksum(snapshot, castagnoli), packed, int64(s.History.recent.ahead))
	if err != nil {
		return err
	}
	told, err := s.losses.clear(ctx, tx)
	if err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	told()
	s.History.recent.clear()
	s.since = s.journal.number
	s.backlog.drop(s.since)
	return nil
}
