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
	"sync/atomic"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
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

// backlog is what the journal holds that no checkpoint covers: the segments of which
// the readings are in memory, and that Recover reads again. The owner's, but for the
// counters.
type backlog struct {
	folder *folder
	losses *losses
	take   func(alarms.Input) *stream // of each reading

	replay []uint64        // segments that Recover reads
	marred map[uint64]bool // of them, to be put aside, not removed

	tails, damaged, lost atomic.Int64
}

// read brings the readings since p back into memory. Unless the disk is
// still it also cuts torn tails, puts aside what is damaged, and removes the
// segments that the snapshot has made needless. It returns the number of the
// next segment and the newest time journaled.
func (l *backlog) read(p position, still bool) (next uint64, newest time.Time, err error) {
	all, err := segments(l.folder.dir)
	if err != nil {
		return 0, newest, err
	}
	next, l.replay = p.segment, nil
	exact, last := p.saved, l.lastWritten(all)
	for _, n := range all {
		if n < p.segment {
			if !still {
				err = os.Remove(l.folder.path(segmentName(n)))
			}
			if err != nil && !errors.Is(err, os.ErrNotExist) {
				return 0, newest, err
			}
			continue
		}
		b, found, err := l.readOne(n, func(in alarms.Input) bool {
			if in.At.After(newest) {
				newest = in.At
			}
			l.take(in)
			return true
		})
		expected := n == next || !exact && found.frames > 0
		wreck := found.torn && (n != last || wrecked(b, found.end)) // a power cut tears the last alone
		if err != nil || found.frames == 0 && (!expected || wreck) {
			if err := l.stray(n, expected, err, still); err != nil {
				return 0, newest, err
			}
		} else {
			if !expected {
				l.losses.lose(tongue.Keep("parts %d to %d of the journal are gone, with the readings and what people did in them", next, n-1))
			}
			l.replay = append(l.replay, n)
			if err := l.mend(n, found, wreck, still); err != nil {
				return 0, newest, err
			}
		}
		switch {
		case expected && found.frames == 0 && !found.torn && err == nil && n == all[len(all)-1]:
			l.replay, next = l.replay[:len(l.replay)-1], n // begun, and nothing written yet: it is begun again
		case expected || found.frames > 0:
			next, exact = n+1, true
		}
	}
	if p.begun && !slices.Contains(all, p.segment) && next == p.segment {
		l.losses.lose(tongue.Keep("the journal is gone, with the readings and what people did since the state of the alarms was last saved, up to an hour"))
	}
	return next, newest, nil
}

// lastWritten is the last segment in which there is more than its head.
func (l *backlog) lastWritten(all []uint64) uint64 {
	for _, n := range slices.Backward(all) {
		if info, err := os.Stat(l.folder.path(segmentName(n))); err == nil && info.Size() > segmentHead {
			return n
		}
	}
	return 0
}

// stray puts a file aside of which nothing can be used.
func (l *backlog) stray(n uint64, expected bool, why error, still bool) error {
	aside := segmentName(n)
	if !still {
		var err error
		if aside, err = l.folder.putAside(segmentName(n)); err != nil {
			return err
		}
	}
	if why != nil {
		l.losses.log.Error().Err(why).Str("file", aside).Msg("a part of the journal cannot be read")
	}
	if expected || why != nil {
		l.damaged.Add(1)
		l.losses.lose(tongue.Keep("a part of the journal cannot be read, with the readings and what people did in it; it is put aside as %s", aside))
	} else {
		l.losses.lose(tongue.Keep("a file that is no part of the journal is put aside as %s", aside))
	}
	return nil
}

func (l *backlog) readOne(n uint64, yield func(alarms.Input) bool) ([]byte, scan, error) {
	b, err := readSegmentFile(l.folder.path(segmentName(n)))
	if err != nil {
		return nil, scan{}, err
	}
	found, _ := readSegment(b, n, yield)
	return b, found, nil
}

// mend cuts a torn tail and reports what is wrong with a segment.
func (l *backlog) mend(n uint64, found scan, wreck, still bool) error {
	if found.damaged > 0 || found.lost > 0 || wreck {
		l.damaged.Add(int64(found.damaged))
		l.lost.Add(int64(found.lost))
		l.marred[n] = true
		l.losses.log.Warn().Uint64("segment", n).Int("places", found.damaged).Int("readings", found.lost).Bool("end", wreck).
			Msg("a part of the journal cannot be read; what follows it is used")
		l.losses.lose(tongue.Keep("a part of the journal %s cannot be read, with the readings and what people did in it; what follows it is used", segmentName(n)))
	}
	if !found.torn || wreck || still {
		return nil
	}
	l.tails.Add(1)
	l.losses.log.Warn().Uint64("segment", n).Int64("kept_bytes", found.end).
		Msg("the last write to the journal was cut short, as by a power cut; the rest is used")
	return cutTail(l.folder.path(segmentName(n)), found.end)
}

// drop removes the segments before the first that is still needed, and puts aside
// those that are damaged. One that stays is removed by the next Open.
func (l *backlog) drop(first uint64) {
	all, err := segments(l.folder.dir)
	for _, n := range all {
		if n >= first {
			break
		}
		if l.marred[n] {
			_, err = l.folder.putAside(segmentName(n))
		} else {
			err = errors.Join(err, os.Remove(l.folder.path(segmentName(n))))
		}
	}
	clear(l.marred)
	if err != nil {
		l.losses.log.Warn().Err(err).Msg("an old part of the journal cannot be removed")
	}
}

// Recover returns the newest snapshot, nil if there is none, and all inputs
// journaled since, in order, with the newest tick of each flush among them.
// Give the snapshot to the core's Restore and the inputs to its Step, Save the
// transitions that come out (those already saved are left as they are), then
// Checkpoint. The inputs may be ranged over once, before the first Append;
// an error among them is the disk's and ends them. Times come back in UTC.
//
// An error is that the snapshot cannot be read, or is gone, and with it what people
// had set: the inputs are still good. A snapshot comes with it if the one that was
// lost has a successor already, and nobody has taken the loss yet.
func (s *Store) Recover() (snapshot []byte, inputs iter.Seq2[alarms.Input, error], err error) {
	snapshot, err = readSnapshot(context.Background(), s.disk.db().Read)
	switch {
	case err != nil:
		s.losses.lose(tongue.Keep("the saved state of the alarms cannot be read"))
	case s.losses.forgot.Load():
		err = fmt.Errorf("%w: it is gone", errSnapshot)
	}
	return snapshot, s.backlog.inputs(), err
}

func (l *backlog) inputs() iter.Seq2[alarms.Input, error] {
	replay := slices.Clone(l.replay)
	return func(yield func(alarms.Input, error) bool) {
		for _, n := range replay {
			b, err := readSegmentFile(l.folder.path(segmentName(n)))
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

// readSnapshot returns the newest state of the core; nil: there is none.
func readSnapshot(ctx context.Context, db *sql.DB) ([]byte, error) {
	var packed []byte
	var size int64
	var sum uint32
	err := db.QueryRowContext(ctx, `SELECT size, crc, body FROM core`).Scan(&size, &sum, &packed)
	if errors.Is(err, sql.ErrNoRows) || err == nil && packed == nil {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errSnapshot, err)
	}
	if size < 0 || size > maxSnapshot {
		return nil, fmt.Errorf("%w: its size is given as %d bytes", errSnapshot, size)
	}
	b, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(packed)), size+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("%w: %w", errSnapshot, err)
	case int64(len(b)) != size || crc32.Checksum(b, castagnoli) != sum:
		return nil, fmt.Errorf("%w: its checksum is wrong", errSnapshot)
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
