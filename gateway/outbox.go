package gateway

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// outbox is the store's outbox as reach sees it. When a row is due, and since
// when it is tried, goes by the core's time, so that no step of the wall clock
// holds a message back; when it was tried is shown, and goes by the wall clock.
// While the disk refuses to
// write, rows that could not be saved wait here in memory: an alarm that is
// told and then forgotten is better than one that is neither saved nor told.
// Attempts that could not be recorded are kept and recorded later.
type outbox struct {
	store rowStore
	clock *Clock

	mu     sync.Mutex
	loose  []reach.Row              // not saved; bounded by looseRows
	done   map[string]store.Attempt // loose rows that are finished, and how
	late   []store.Attempt          // not recorded
	hidden map[string]time.Time     // saved rows with a late attempt: not before
	taken  map[alarms.AlarmID]bool  // saved cancellable rows of these are void; not saved yet

	news func() // called after each attempt; nil: nobody wants to know
}

// rowStore is what the outbox needs of the store.
type rowStore interface {
	DueOn(ctx context.Context, channel string, until time.Time, limit int) ([]store.Waiting, error)
	Attempted(ctx context.Context, attempts ...store.Attempt) error
	Reached(ctx context.Context, channel, person string) (bool, error)
}

// looseRows bounds what waits in memory; beyond it the oldest are dropped.
const looseRows = 1000

func newOutbox(s rowStore, c *Clock) *outbox {
	return &outbox{store: s, clock: c, done: map[string]store.Attempt{}, hidden: map[string]time.Time{}, taken: map[alarms.AlarmID]bool{}}
}

// Due implements reach.Outbox.
func (o *outbox) Due(ctx context.Context, channel string, until time.Time, limit int) ([]reach.Row, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.recordLate(ctx)
	var rows []reach.Row
	for _, r := range o.loose {
		if r.Channel == channel && !r.NotBefore.After(until) {
			rows = append(rows, r)
		}
	}
	saved, err := o.store.DueOn(ctx, channel, until, limit+len(o.hidden))
	if err != nil && len(rows) == 0 {
		return nil, err
	}
	for _, w := range saved {
		if next, hidden := o.hidden[w.ID]; hidden && (next.IsZero() || next.After(until)) {
			continue
		}
		if w.Cancellable && o.taken[w.Alarm] {
			continue
		}
		if !slices.ContainsFunc(rows, func(r reach.Row) bool { return r.ID == w.ID }) {
			rows = append(rows, rowOf(w))
		}
	}
	slices.SortStableFunc(rows, func(a, b reach.Row) int { return a.NotBefore.Compare(b.NotBefore) })
	return rows[:min(len(rows), limit)], nil
}

func rowOf(w store.Waiting) reach.Row {
	return reach.Row{
		Outgoing: reach.Outgoing{
			ID: w.ID, Transition: w.Transition, Alarm: w.Alarm, Channel: w.Channel, Person: w.Person,
			NotBefore: w.Next, Cancellable: w.Cancellable, Body: w.Body,
		},
		Tries: w.Attempts, First: w.First,
	}
}

// Attempted implements reach.Outbox.
func (o *outbox) Attempted(ctx context.Context, attempts []reach.Attempt) error {
	if o.news != nil {
		defer o.news()
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	var rows []store.Attempt
	for _, a := range attempts {
		i := slices.IndexFunc(o.loose, func(r reach.Row) bool { return r.ID == a.Row })
		if i >= 0 {
			o.tried(i, a)
			o.elsewhere(a.Elsewhere)
			continue
		}
		rows = append(rows, o.attemptOf(a))
		rows[len(rows)-1].Elsewhere = storeRows(a.Elsewhere)
	}
	if len(rows) == 0 {
		return nil
	}
	if err := o.store.Attempted(ctx, rows...); err != nil {
		for _, a := range attempts {
			o.elsewhere(a.Elsewhere)
		}
		for _, a := range rows {
			a.Elsewhere = nil // told from memory
			o.late = append(o.late, a)
			o.hidden[a.Outgoing] = a.Next
		}
	}
	return nil
}

// Reached implements reach.Outbox.
func (o *outbox) Reached(ctx context.Context, channel, person string) (bool, error) {
	return o.store.Reached(ctx, channel, person)
}

// elsewhere lets rows be told from memory, or sooner what waits there and says
// the same to the same person by the same channel.
func (o *outbox) elsewhere(rows []reach.Outgoing) {
	for _, r := range rows {
		i := slices.IndexFunc(o.loose, func(l reach.Row) bool {
			return l.Transition == r.Transition && l.Channel == r.Channel && l.Person == r.Person
		})
		switch {
		case i < 0:
			o.loosen(r)
		case o.loose[i].Tries == 0 && o.loose[i].NotBefore.After(r.NotBefore):
			o.loose[i].NotBefore, o.loose[i].Body = r.NotBefore, r.Body
		}
	}
}

// tried notes an attempt at the loose row i.
func (o *outbox) tried(i int, a reach.Attempt) {
	r := &o.loose[i]
	if a.Outcome.Finishes() {
		o.done[r.ID] = o.attemptOf(a)
		o.loose = slices.Delete(o.loose, i, i+1)
		return
	}
	r.NotBefore = a.Next
	if a.Outcome == reach.Failed {
		if r.Tries++; r.First.IsZero() {
			r.First = a.Began
		}
	}
}

func (o *outbox) attemptOf(a reach.Attempt) store.Attempt {
	return store.Attempt{Outgoing: a.Row, At: o.clock.Wall(a.Began), Began: a.Began, Channel: a.Channel, Person: a.Person,
		Error: a.Detail, Outcome: outcomeOf(a.Outcome), Next: a.Next}
}

func outcomeOf(o reach.Outcome) store.Outcome {
	switch o {
	case reach.Delivered:
		return store.Told
	case reach.Rehearsed:
		return store.Rehearsed
	case reach.Refused, reach.GivenUp:
		return store.Abandoned
	case reach.Held, reach.Broken:
		return store.Postponed
	}
	return store.Failed
}

// recordLate records attempts that the disk refused before.
func (o *outbox) recordLate(ctx context.Context) {
	for len(o.late) > 0 {
		a := o.late[0]
		var disk *store.DiskError
		if err := o.store.Attempted(ctx, a); errors.As(err, &disk) {
			return
		}
		delete(o.hidden, a.Outgoing)
		o.late = o.late[1:]
	}
}

// tellUnsaved lets rows that the disk refused be told all the same. ts are the
// transitions that they tell of, oldest first. A row comes once, however often
// this is called with it.
func (o *outbox) tellUnsaved(ts []alarms.Transition, rows []reach.Outgoing) {
	o.mu.Lock()
	defer o.mu.Unlock()
	byTransition := map[string][]reach.Outgoing{}
	for _, r := range rows {
		byTransition[r.Transition] = append(byTransition[r.Transition], r)
	}
	for _, t := range ts {
		if reach.Cancels(t) {
			o.taken[t.Alarm] = true
			o.loose = slices.DeleteFunc(o.loose, func(l reach.Row) bool { return l.Cancellable && l.Alarm == t.Alarm })
		}
		for _, r := range byTransition[t.ID] {
			o.loosen(r)
		}
	}
}

func (o *outbox) loosen(r reach.Outgoing) {
	_, done := o.done[r.ID]
	if done || slices.ContainsFunc(o.loose, func(l reach.Row) bool { return l.ID == r.ID }) {
		return
	}
	if r.Replaces {
		o.loose = slices.DeleteFunc(o.loose, func(l reach.Row) bool {
			return l.Cancellable && l.Alarm == r.Alarm && l.Channel == r.Channel && l.Person == r.Person
		})
	}
	if len(o.loose) == looseRows {
		o.loose = o.loose[1:]
	}
	o.loose = append(o.loose, reach.Row{Outgoing: r})
}

// saved hears that rows are on disk after all: what was told from memory is
// recorded as told, the rest goes its usual way.
func (o *outbox) saved(ctx context.Context, rows []reach.Outgoing) {
	o.mu.Lock()
	defer o.mu.Unlock()
	clear(o.taken)
	for _, r := range rows {
		o.loose = slices.DeleteFunc(o.loose, func(l reach.Row) bool { return l.ID == r.ID })
		if a, done := o.done[r.ID]; done {
			o.late = append(o.late, a)
			o.hidden[r.ID] = time.Time{}
			delete(o.done, r.ID)
		}
	}
	o.recordLate(ctx)
}

// scheduled puts the times at which rows are due, given by the wall clock, into
// the core's time.
func scheduled(rows []reach.Outgoing, c *Clock) []reach.Outgoing {
	for i := range rows {
		rows[i].NotBefore = c.CoreAt(rows[i].NotBefore)
	}
	return rows
}

func storeRows(rows []reach.Outgoing) []store.Outgoing {
	out := make([]store.Outgoing, 0, len(rows))
	for _, r := range rows {
		out = append(out, store.Outgoing{
			ID: r.ID, Transition: r.Transition, Alarm: r.Alarm, Channel: r.Channel, Person: r.Person,
			NotBefore: r.NotBefore, Cancellable: r.Cancellable, Replaces: r.Replaces, Body: r.Body,
		})
	}
	return out
}
