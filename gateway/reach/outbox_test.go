package reach

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"
)

// memory is an Outbox that forgets everything at the end.
type memory struct {
	mu       sync.Mutex
	rows     []Row
	finished map[string]Outcome
	attempts []Attempt
	reads    int
	writes   int
	lost     int  // writes that failed
	deaf     bool // Attempted fails
	blind    bool // Due fails
}

func newMemory(rows ...Outgoing) *memory {
	m := &memory{finished: map[string]Outcome{}}
	m.save(rows...)
	return m
}

func (m *memory) save(rows ...Outgoing) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, r := range rows {
		if !slices.ContainsFunc(m.rows, func(old Row) bool { return old.ID == r.ID }) {
			m.rows = append(m.rows, Row{Outgoing: r})
		}
	}
}

// cancel drops what waits for an alarm, as the store does.
func (m *memory) cancel(alarm string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.rows = slices.DeleteFunc(m.rows, func(r Row) bool {
		return string(r.Alarm) == alarm && r.Cancellable && m.finished[r.ID] == ""
	})
}

func (m *memory) Due(_ context.Context, channel string, until time.Time, limit int) ([]Row, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.reads++
	if m.blind {
		return nil, errors.New("disk I/O error")
	}
	var due []Row
	for _, r := range m.rows {
		if r.Channel == channel && m.finished[r.ID] == "" && !r.NotBefore.After(until) {
			due = append(due, r)
		}
	}
	slices.SortStableFunc(due, func(a, b Row) int { return a.NotBefore.Compare(b.NotBefore) })
	return due[:min(limit, len(due))], nil
}

func (m *memory) Attempted(_ context.Context, attempts []Attempt) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.deaf {
		m.lost++
		return errors.New("disk is full")
	}
	m.writes++
	for _, a := range attempts {
		m.take(a)
	}
	return nil
}

func (m *memory) take(a Attempt) {
	m.attempts = append(m.attempts, a)
	i := slices.IndexFunc(m.rows, func(r Row) bool { return r.ID == a.Row })
	if i < 0 {
		return // cancelled meanwhile
	}
	row := &m.rows[i]
	for _, e := range a.Elsewhere {
		if !slices.ContainsFunc(m.rows, func(r Row) bool { return r.Transition == e.Transition && r.Channel == e.Channel }) {
			m.rows = append(m.rows, Row{Outgoing: e})
			row = &m.rows[i]
		}
	}
	switch {
	case a.Outcome.Finishes():
		m.finished[a.Row] = a.Outcome
		return
	case a.Outcome == Failed:
		row.Tries++
		if row.First.IsZero() {
			row.First = a.Began
		}
	}
	row.NotBefore = a.Next
}

func (m *memory) Reached(_ context.Context, channel, person string) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.ContainsFunc(m.attempts, func(a Attempt) bool {
		return a.Channel == channel && a.Person == person && a.Outcome == Delivered
	}), nil
}

func (m *memory) log() []Attempt {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.attempts)
}

// tally returns how often it was read, written and written in vain.
func (m *memory) tally() (reads, writes, lost int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.reads, m.writes, m.lost
}

func (m *memory) set(change func(*memory)) {
	m.mu.Lock()
	defer m.mu.Unlock()
	change(m)
}

// recorder is a Notifier that remembers, and does as it is told.
type recorder struct {
	mu     sync.Mutex
	told   []Telling
	answer func(ctx context.Context, t Telling) error // nil: success
}

func (r *recorder) Tell(ctx context.Context, t Telling) error {
	r.mu.Lock()
	r.told = append(r.told, t)
	answer := r.answer
	r.mu.Unlock()
	if answer == nil {
		return nil
	}
	return answer(ctx, t)
}

func (r *recorder) tellings() []Telling {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.told)
}

// hang waits for the end of ctx.
func hang(ctx context.Context, _ Telling) error {
	<-ctx.Done()
	return ctx.Err()
}

func always(err error) func(context.Context, Telling) error {
	return func(context.Context, Telling) error { return err }
}
