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
	"slices"
	"time"

	"telltale/alarms"
)

// maxSnapshot bounds what a damaged size field may ask for.
const maxSnapshot = 256 << 20

// position is where the newest checkpoint stands.
type position struct {
	segment uint64        // first after it
	epoch   int64         // next of the history's blocks
	ahead   time.Duration // of the wall clock
	begun   bool          // the file of the segment was made before
	saved   bool          // there was a checkpoint
}

func readPosition(ctx context.Context, db *sql.DB) (p position, err error) {
	err = db.QueryRowContext(ctx, `SELECT segment, epoch, ahead, begun FROM core`).Scan(&p.segment, &p.epoch, &p.ahead, &p.begun)
	if errors.Is(err, sql.ErrNoRows) {
		p.segment = 1
		err = db.QueryRowContext(ctx, `SELECT 1 + (coalesce(max(id), 0) >> 24) FROM block`).Scan(&p.epoch)
		return p, err
	}
	p.saved = true
	return p, err
}

// readJournal brings the readings since p back into memory. Unless the disk is
// still it also cuts torn tails, puts aside what is damaged, and removes the
// segments that the snapshot has made needless. It returns the number of the
// next segment and the newest time journaled.
func (s *Store) readJournal(p position, still bool) (next uint64, newest time.Time, err error) {
	all, err := segments(s.dir)
	if err != nil {
		return 0, newest, err
	}
	next, s.replay = p.segment, nil
	exact, last := p.saved, s.lastWritten(all)
	for _, n := range all {
		if n < p.segment {
			if !still {
				err = os.Remove(s.path(segmentName(n)))
			}
			if err != nil && !errors.Is(err, os.ErrNotExist) {
				return 0, newest, err
			}
			continue
		}
		b, found, err := s.readOne(n, func(in alarms.Input) bool {
			if in.At.After(newest) {
				newest = in.At
			}
			s.recent.take(in)
			return true
		})
		expected := n == next || !exact && found.frames > 0
		wreck := found.torn && (n != last || wrecked(b, found.end)) // a power cut tears the last alone
		if err != nil || found.frames == 0 && (!expected || wreck) {
			if err := s.stray(n, expected, err, still); err != nil {
				return 0, newest, err
			}
		} else {
			if !expected {
				s.lose(fmt.Sprintf("parts %d to %d of the journal are gone, with the readings and what people did in them", next, n-1))
			}
			s.replay = append(s.replay, n)
			if err := s.mend(n, found, wreck, still); err != nil {
				return 0, newest, err
			}
		}
		switch {
		case expected && found.frames == 0 && !found.torn && err == nil && n == all[len(all)-1]:
			s.replay, next = s.replay[:len(s.replay)-1], n // begun, and nothing written yet: it is begun again
		case expected || found.frames > 0:
			next, exact = n+1, true
		}
	}
	if p.begun && !slices.Contains(all, p.segment) && next == p.segment {
		s.lose("the journal is gone, with the readings and what people did since the state of the alarms was last saved, up to an hour")
	}
	return next, newest, nil
}

// lastWritten is the last segment in which there is more than its head.
func (s *Store) lastWritten(all []uint64) uint64 {
	for _, n := range slices.Backward(all) {
		if info, err := os.Stat(s.path(segmentName(n))); err == nil && info.Size() > segmentHead {
			return n
		}
	}
	return 0
}

// stray puts a file aside of which nothing can be used.
func (s *Store) stray(n uint64, expected bool, why error, still bool) error {
	aside := segmentName(n)
	if !still {
		var err error
		if aside, err = s.putAside(segmentName(n)); err != nil {
			return err
		}
	}
	if why != nil {
		s.opt.Log.Error().Err(why).Str("file", aside).Msg("a part of the journal cannot be read")
	}
	if expected || why != nil {
		s.damaged.Add(1)
		s.lose("a part of the journal cannot be read, with the readings and what people did in it; it is put aside as " + aside)
	} else {
		s.lose("a file that is no part of the journal is put aside as " + aside)
	}
	return nil
}

func (s *Store) readOne(n uint64, yield func(alarms.Input) bool) ([]byte, scan, error) {
	b, err := os.ReadFile(s.path(segmentName(n)))
	if err != nil {
		return nil, scan{}, err
	}
	found, _ := readSegment(b, n, yield)
	return b, found, nil
}

// mend cuts a torn tail and reports what is wrong with a segment.
func (s *Store) mend(n uint64, found scan, wreck, still bool) error {
	if found.damaged > 0 || found.lost > 0 || wreck {
		s.damaged.Add(int64(found.damaged))
		s.lost.Add(int64(found.lost))
		s.marred[n] = true
		s.opt.Log.Warn().Uint64("segment", n).Int("places", found.damaged).Int("readings", found.lost).Bool("end", wreck).
			Msg("a part of the journal cannot be read; what follows it is used")
		s.lose("a part of the journal " + segmentName(n) + " cannot be read, with the readings and what people did in it; what follows it is used")
	}
	if !found.torn || wreck || still {
		return nil
	}
	s.tails.Add(1)
	s.opt.Log.Warn().Uint64("segment", n).Int64("kept_bytes", found.end).
		Msg("the last write to the journal was cut short, as by a power cut; the rest is used")
	return cutTail(s.path(segmentName(n)), found.end)
}

// Recover returns the newest snapshot, nil if there is none, and all inputs
// journaled since, in order, with the newest tick of each flush among them.
// Give the snapshot to the core's Restore and the inputs to its Step, Save the
// transitions that come out (those already saved are left as they are), then
// Checkpoint. The inputs may be ranged over once, before the first Append;
// an error among them is the disk's and ends them. Times come back in UTC.
//
// On ErrSnapshot the inputs are still good. A snapshot comes with it if the one
// that was lost has a successor already, and nobody has taken the loss yet.
func (s *Store) Recover() (snapshot []byte, inputs iter.Seq2[alarms.Input, error], err error) {
	snapshot, err = s.snapshot(context.Background())
	switch {
	case err != nil:
		s.lose("the saved state of the alarms cannot be read")
	case s.forgot.Load():
		err = fmt.Errorf("%w: it is gone", ErrSnapshot)
	}
	return snapshot, s.inputs(s.replay), err
}

func (s *Store) inputs(replay []uint64) iter.Seq2[alarms.Input, error] {
	return func(yield func(alarms.Input, error) bool) {
		for _, n := range replay {
			b, err := os.ReadFile(s.path(segmentName(n)))
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
