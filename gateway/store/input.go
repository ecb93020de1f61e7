package store

import (
	"time"

	"telltale/alarms"
)

// Append takes an input for the journal and, if it is a reading, for the
// history. It only touches memory; Sync makes it last. Give it every input
// before the core applies it, ticks too, but not those that Recover returned.
// Times of whole milliseconds take the least room. When the disk has refused
// for so long that there is no room, the input is counted in Stats.Dropped and
// not kept; some room is set aside for what people do.
func (s *Store) Append(in alarms.Input) {
	s.journal.add(in, s.recent.take(in))
	if s.journal.waiting > 0 && s.oldest.Load() == nil {
		now := s.opt.Now()
		s.oldest.Store(&now)
	}
}

// SyncDue returns when Sync must be called next, by Options.Now, so that
// nothing waits longer than MaxWait; zero when nothing waits. After a refusal
// it is MaxWait later.
func (s *Store) SyncDue() time.Time {
	since := s.oldest.Load()
	if since == nil {
		return time.Time{}
	}
	if s.retry.After(*since) {
		return s.retry.Add(s.opt.MaxWait)
	}
	return since.Add(s.opt.MaxWait)
}

// Sync writes what waits to the journal and returns once the disk has it. When
// nothing waits it does nothing, but for the time of the newest tick once in
// AliveEvery. The error is a *DiskError; then everything still waits.
func (s *Store) Sync() error {
	if !s.journal.due(s.opt.AliveEvery) {
		return nil
	}
	return s.flush()
}

// flush journals what waits and the newest time.
func (s *Store) flush() error {
	if err := s.attached(); err != nil && !s.earlier.Load() {
		s.retry = s.opt.Now()
		return s.diskError("save readings", err)
	}
	if err := s.journal.flush(); err != nil {
		s.retry = s.opt.Now()
		return s.diskError("save readings", err)
	}
	now := s.opt.Now()
	s.flushed.Store(&now)
	s.retry = time.Time{}
	s.oldest.Store(nil)
	if s.journal.full() {
		return s.diskError("begin a new journal", s.journal.rotate())
	}
	s.refused.Store(false)
	return nil
}
