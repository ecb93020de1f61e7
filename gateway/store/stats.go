package store

import (
	"context"
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
		JournalBytes: c.bytes.Load(), DatabaseBytes: s.disk.db().Written.Load(), Inputs: c.inputs.Load(),
		Flushes: c.flushes.Load(), DatabaseSyncs: s.disk.db().Syncs.Load(),
		Waiting: int(c.waiting.Load()), JournalSize: c.size.Load(), Dropped: c.dropped.Load(),
		CutTails: int(s.backlog.tails.Load()), Damaged: int(s.backlog.damaged.Load()), Lost: int(s.backlog.lost.Load()),
		Clashes: int(s.clashes.Load()), Refused: s.disk.refused.Load(), Failures: s.disk.failures.Load(),
	}
	if since := c.since.Load(); since != nil {
		st.WaitingSince = *since
	}
	if flushed := c.flushed.Load(); flushed != nil {
		st.LastFlush = *flushed
	}
	st.Held, st.HistoryDropped, st.Streams = s.History.recent.counts()
	return st
}

// Size returns how many bytes the files of the store hold. It looks them all
// up, so it is for the occasional question. It may be called by anybody.
func (s *Store) Size(ctx context.Context) (int64, error) { return s.folder.size(ctx) }
