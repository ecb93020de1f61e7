package store

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"time"
)

// Stats are counters since Open and present sizes.
type Stats struct {
	JournalBytes  uint64 // written to the journal, zeros ahead included
	DatabaseBytes uint64 // written to the SQLite file and its WAL
	Inputs        uint64 // journaled; ticks not counted
	Flushes       uint64 // of the journal
	DatabaseSyncs uint64

	Waiting      int       // inputs that wait for the disk
	Held         int       // readings in memory, not yet in the history tables
	Streams      int       // quantities of probes seen
	JournalSize  int64     // bytes of the segment written to
	WaitingSince time.Time // by Options.Now: since when the oldest of them waits; zero: none does

	Dropped        uint64 // inputs not journaled for want of room while the disk refused
	HistoryDropped uint64 // readings not kept for the history for want of room
	CutTails       int    // torn ends of segments cut off by Open
	Damaged        int    // unreadable places in segments that Open met
	Lost           int    // readings lost by them for certain
	Clashes        int    // transitions kept beside another one of the same ID
	Refused        bool   // the disk refused the last write
	Failures       uint64 // calls that failed because the disk refused

	LastFlush time.Time // by Options.Now: when the journal last reached the disk; zero: not yet
}

// Stats returns the counters. It may be called by anybody.
func (s *Store) Stats() Stats {
	c := &s.journal.counts
	st := Stats{
		JournalBytes: c.bytes.Load(), DatabaseBytes: s.db().written.Load(), Inputs: c.inputs.Load(),
		Flushes: c.flushes.Load(), DatabaseSyncs: s.db().syncs.Load(),
		Waiting: int(c.waiting.Load()), JournalSize: c.size.Load(), Dropped: c.dropped.Load(),
		CutTails: int(s.tails.Load()), Damaged: int(s.damaged.Load()), Lost: int(s.lost.Load()),
		Clashes: int(s.clashes.Load()), Refused: s.refused.Load(), Failures: s.failures.Load(),
	}
	if since := s.oldest.Load(); since != nil {
		st.WaitingSince = *since
	}
	if flushed := s.flushed.Load(); flushed != nil {
		st.LastFlush = *flushed
	}
	st.Held, st.HistoryDropped, st.Streams = s.recent.counts()
	return st
}

// Size returns how many bytes the files of the store hold. It looks them all
// up, so it is for the occasional question. It may be called by anybody.
func (s *Store) Size(ctx context.Context) (int64, error) {
	if !s.sizing.TryLock() {
		return 0, errors.New("the size of the store is being looked up already")
	}
	return within(ctx, func() (int64, error) {
		defer s.sizing.Unlock()
		return s.size()
	})
}

func (s *Store) size() (int64, error) {
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return 0, err
	}
	var sum int64
	for _, e := range entries {
		info, err := e.Info()
		switch {
		case errors.Is(err, fs.ErrNotExist): // a journal segment that has just gone
		case err != nil:
			return 0, err
		case info.Mode().IsRegular():
			sum += info.Size()
		}
	}
	return sum, nil
}
