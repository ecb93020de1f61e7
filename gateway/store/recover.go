package store

import (
	"bytes"
	"compress/flate"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"iter"
	"os"
	"path/filepath"
	"time"

	"telltale/alarms"
)

// maxSnapshot bounds what a damaged size field may ask for.
const maxSnapshot = 256 << 20

// position reads where the journal after the snapshot begins.
func (s *Store) position(ctx context.Context) error { return s.readPosition(ctx, s.db().write) }

func (s *Store) readPosition(ctx context.Context, db *sql.DB) error {
	err := db.QueryRowContext(ctx, `SELECT segment, epoch, ahead FROM core`).Scan(&s.since, &s.recent.epoch, &s.recent.ahead)
	if errors.Is(err, sql.ErrNoRows) {
		s.since, s.recent.epoch = 1, 1
		return nil
	}
	return err
}

// readJournal brings the readings since the snapshot back into memory, cuts
// torn tails and removes segments that the snapshot has made needless. It
// returns the number of the next segment and the newest time journaled.
func (s *Store) readJournal() (next uint64, newest time.Time, err error) {
	all, err := segments(s.dir)
	if err != nil {
		return 0, newest, err
	}
	next = s.since
	for _, n := range all {
		path := filepath.Join(s.dir, segmentName(n))
		if n < s.since {
			if err := os.Remove(path); err != nil {
				return 0, newest, err
			}
			continue
		}
		next = n + 1
		found, err := s.readOne(n, func(in alarms.Input) bool {
			if in.At.After(newest) {
				newest = in.At
			}
			s.recent.take(in)
			return true
		})
		if err != nil {
			return 0, newest, err
		}
		if err := s.mend(path, n, found); err != nil {
			return 0, newest, err
		}
	}
	return next, newest, nil
}

func (s *Store) readOne(n uint64, yield func(alarms.Input) bool) (scan, error) {
	b, err := os.ReadFile(filepath.Join(s.dir, segmentName(n)))
	if err != nil {
		return scan{}, err
	}
	found, _ := readSegment(b, n, yield)
	return found, nil
}

// mend cuts a torn tail and reports what is wrong with a segment.
func (s *Store) mend(path string, n uint64, found scan) error {
	if found.damaged > 0 || found.lost > 0 {
		s.damaged.Add(int64(found.damaged))
		s.lost.Add(int64(found.lost))
		s.opt.Log.Warn().Uint64("segment", n).Int("places", found.damaged).Int("readings", found.lost).
			Msg("a part of the journal cannot be read; what follows it is used")
	}
	if !found.torn {
		return nil
	}
	s.tails.Add(1)
	s.opt.Log.Warn().Uint64("segment", n).Int64("kept_bytes", found.end).
		Msg("the last write to the journal was cut short, as by a power cut; the rest is used")
	return cutTail(path, found.end)
}

// Recover returns the newest snapshot, nil if there is none, and all inputs
// journaled since, in order, with the newest tick of each flush among them.
// Give the snapshot to the core's Restore and the inputs to its Step, Save the
// transitions that come out (those already saved are left as they are), then
// Checkpoint. The inputs may be ranged over once, before the first Append;
// an error among them is the disk's and ends them. Times come back in UTC.
//
// On ErrSnapshot the inputs are still good.
func (s *Store) Recover() (snapshot []byte, inputs iter.Seq2[alarms.Input, error], err error) {
	snapshot, err = s.snapshot(context.Background())
	return snapshot, s.inputs(s.replayFrom, s.replayTo), err
}

func (s *Store) inputs(from, to uint64) iter.Seq2[alarms.Input, error] {
	return func(yield func(alarms.Input, error) bool) {
		for n := from; n < to; n++ {
			b, err := os.ReadFile(filepath.Join(s.dir, segmentName(n)))
			if errors.Is(err, os.ErrNotExist) {
				continue
			}
			if err != nil {
				yield(alarms.Input{}, fmt.Errorf("journal segment %d: %w", n, err))
				return
			}
			if _, stopped := readSegment(b, n, func(in alarms.Input) bool { return yield(in, nil) }); stopped {
				return
			}
		}
	}
}

func (s *Store) snapshot(ctx context.Context) ([]byte, error) {
	var packed []byte
	var size int64
	var sum uint32
	err := s.db().read.QueryRowContext(ctx, `SELECT size, crc, body FROM core`).Scan(&size, &sum, &packed)
	if errors.Is(err, sql.ErrNoRows) || err == nil && packed == nil {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrSnapshot, err)
	}
	if size < 0 || size > maxSnapshot {
		return nil, fmt.Errorf("%w: its size is given as %d bytes", ErrSnapshot, size)
	}
	b, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(packed)), size+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("%w: %w", ErrSnapshot, err)
	case int64(len(b)) != size || crc32.Checksum(b, castagnoli) != sum:
		return nil, fmt.Errorf("%w: its checksum is wrong", ErrSnapshot)
	}
	return b, nil
}

func packSnapshot(b []byte) ([]byte, error) {
	var out bytes.Buffer
	w, err := flate.NewWriter(&out, flate.BestSpeed)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(b); err != nil {
		return nil, err
	}
	err = w.Close()
	return out.Bytes(), err
}
