package store

import (
	"context"
	"fmt"
	"slices"

	"telltale/alarms"
	"telltale/gateway/reach"
)

// Save makes transitions, and what is to be told about them, last. Once it has
// returned nil they may be told, not before. It journals the inputs that wait,
// then saves everything in one transaction.
//
// Saving again what was saved changes nothing: transitions and outgoing rows
// are known by their IDs. If an ID comes back with another meaning (the plan
// was changed between a crash and the restart, so that the same count of an
// alarm stands for something else), the newcomer is kept beside the old one,
// its ID lengthened by "~" and its due time in ms. A transition to any state
// but unacknowledged cancels what waits cancellably for its alarm. The rows of
// outgoing get the ID under which they were saved, and Known.
//
// The error is a *DiskError; then nothing of it is saved, outgoing is as it
// was, and the caller keeps it and tries again.
func (s *Store) Save(transitions []alarms.Transition, outgoing []reach.Outgoing) error {
	if err := s.attached(); err != nil {
		return s.disk.fault("save what happened", err)
	}
	if s.journal.waiting > 0 || s.journal.newest.After(s.journal.written) {
		if err := s.flush(); err != nil {
			return err
		}
	}
	rows := slices.Clone(outgoing)
	err := s.save(context.Background(), transitions, rows)
	if err == nil {
		copy(outgoing, rows)
	}
	return s.disk.fault("save what happened", err)
}

func (s *Store) save(ctx context.Context, transitions []alarms.Transition, outgoing []reach.Outgoing) error {
	tx, err := s.disk.db().Write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after Commit it does nothing
	clashes := 0
	for _, t := range transitions {
		id, isNew, err := putTransition(ctx, tx, t)
		if err != nil {
			return fmt.Errorf("transition %s: %w", t.ID, err)
		}
		suffix := id[len(t.ID):]
		if suffix != "" && isNew {
			clashes++
		}
		if isNew && t.To != alarms.Unacknowledged && t.Move != alarms.Note {
			if err := cancelWaiting(ctx, tx, t.Alarm); err != nil {
				return err
			}
		}
		// At once, so that a later transition of the same call may cancel them.
		if err := putOutgoing(ctx, tx, outgoing, suffix, func(o reach.Outgoing) bool { return o.Transition == t.ID }); err != nil {
			return err
		}
	}
	other := func(o reach.Outgoing) bool {
		return !slices.ContainsFunc(transitions, func(t alarms.Transition) bool { return o.Transition == t.ID })
	}
	if err := putOutgoing(ctx, tx, outgoing, "", other); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	s.clashes.Add(int64(clashes))
	return nil
}
