package gateway

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"telltale/alarms"
	"telltale/alarms/companion"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// outbox is the store's outbox as reach sees it. What waits to be told is held
// in memory, saved or not, so that telling needs no disk: the database is read
// for what an earlier run left, and for what found no room here. When a row is
// due, and since when it is tried, goes by the core's time, so that no step of
// the wall clock holds a message back; when it was tried is shown, and goes by
// the wall clock.
//
// While the disk refuses to write, or does not answer, rows that are not saved
// are told all the same: an alarm that is told and then forgotten is better
// than one that is neither saved nor told. Attempts that could not be recorded
// are kept and recorded later. Nothing is read or written under the lock.
type outbox struct {
	store    rowStore
	clock    *Clock
	patience time.Duration // real time: the longest wait of a lane for the disk
	run      string        // by chance: no other run has the same

	mu       sync.Mutex
	lines    map[string]*line                  // by channel
	seq      int                               // of the newest row
	done     map[string]store.Attempt          // rows not saved that are finished, and how
	before   map[string]bool                   // transitions saved by a run before: their rows are in the database
	applied  map[string]bool                   // transitions not saved whose rows are here all the same
	void     map[alarms.AlarmID]bool           // cancellable rows of these are void; that is not saved yet
	expected map[string]bool                   // rows that are being saved
	told     map[alarms.AlarmID]companion.Told // to people, of alarms that are on, in this run

	late     []store.Attempt // to be recorded, oldest first; bounded by lateAttempts
	writing  []store.Attempt // being recorded
	recorded chan struct{}   // closed when that has ended; nil: nothing is
	again    time.Time       // real time: not before then is it tried again
	slow     bool            // the last recording took too long, or failed
	lost     uint64          // rows and attempts that found no room

	work sync.WaitGroup
	news func() // called after each attempt; nil: nobody wants to know
	wake func() // rows have come from the database; nil: the same
}

// rowStore is what the outbox needs of the store.
type rowStore interface {
	Due(ctx context.Context, channel string, until time.Time, limit int) ([]reach.Row, error)
	Attempted(ctx context.Context, attempts ...store.Attempt) error
	Enqueue(ctx context.Context, rows []reach.Outgoing) error
	Reached(ctx context.Context, channel, person string) (bool, error)
	ToldOf(ctx context.Context, a alarms.AlarmID, since time.Time) ([]string, error)
}

const (
	// patience is how long anybody waits for the disk, in real time, before
	// the watch goes on from memory.
	patience = 2 * time.Second
	// lateAttempts bounds what waits to be recorded; beyond it the oldest are
	// dropped.
	lateAttempts = 5000
)

// errNoAnswer is the error of a disk that has not answered in time.
var errNoAnswer = errors.New("the disk does not answer")

func newOutbox(s rowStore, c *Clock) *outbox {
	return &outbox{store: s, clock: c, patience: patience, run: rand.Text()[:8], lines: map[string]*line{}, done: map[string]store.Attempt{},
		before: map[string]bool{}, applied: map[string]bool{}, void: map[alarms.AlarmID]bool{}, told: map[alarms.AlarmID]companion.Told{}}
}

// Due implements reach.Outbox. It never fails: what cannot be read is a trouble
// of the watch, and the rest is told.
func (o *outbox) Due(ctx context.Context, channel string, until time.Time, limit int) ([]reach.Row, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.record()
	l := o.line(channel)
	if loaded := o.load(l); loaded != nil && l.unread == nil && !o.await(ctx, loaded) && ctx.Err() == nil {
		l.unread = cmp.Or(l.unread, errNoAnswer)
	}
	var due []*queued
	for _, q := range l.rows {
		if !q.NotBefore.After(until) {
			due = append(due, q)
		}
	}
	slices.SortFunc(due, func(a, b *queued) int { return cmp.Or(a.NotBefore.Compare(b.NotBefore), a.seq-b.seq) })
	var rows []reach.Row
	for _, q := range due[:min(len(due), limit)] {
		row := q.Row
		if !q.saved {
			row.Unsaved = o.run
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// await lets go of the lock until c is closed, and reports whether that was in
// time.
func (o *outbox) await(ctx context.Context, c <-chan struct{}) bool {
	o.mu.Unlock()
	defer o.mu.Lock()
	select {
	case <-c:
		return true
	case <-time.After(o.patience):
	case <-ctx.Done():
	}
	return false
}

// Attempted implements reach.Outbox. It returns once the disk has it, or does
// not answer, or refuses.
func (o *outbox) Attempted(ctx context.Context, attempts []reach.Attempt) error {
	if o.news != nil {
		defer o.news()
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	var elsewhere []reach.Outgoing
	for _, a := range attempts {
		elsewhere = append(elsewhere, o.tried(a)...)
	}
	if recorded := o.record(); recorded != nil && !o.slow {
		o.slow = !o.await(ctx, recorded) || o.slow
	}
	if o.slow || o.recorded == nil && len(o.late) > 0 {
		o.beside(elsewhere)
	}
	return nil
}

// Reached implements reach.Outbox.
func (o *outbox) Reached(ctx context.Context, channel, person string) (bool, error) {
	ctx, cancel := context.WithTimeout(ctx, o.patience)
	defer cancel()
	var reached bool
	read := make(chan error, 1)
	o.work.Go(func() {
		var err error
		reached, err = o.store.Reached(ctx, channel, person)
		read <- err
	})
	select {
	case err := <-read:
		return reached, err
	case <-ctx.Done():
		return false, errNoAnswer
	}
}

// tried notes one attempt, and returns what is to be told elsewhere once that
// is saved, or if it cannot be.
func (o *outbox) tried(a reach.Attempt) (elsewhere []reach.Outgoing) {
	l := o.line(a.Channel)
	q, here := l.rows[a.Row]
	if here {
		o.noteTold(a, q.Body)
	}
	unsaved := here && !q.saved || !here && o.applied[a.Transition]
	switch {
	case a.Outcome.Finishes():
		l.end(a.Row)
		if unsaved {
			o.done[a.Row] = o.attemptOf(a)
		}
	case here:
		q.NotBefore = a.Next
		if a.Outcome == reach.Failed {
			if q.Tries++; q.First.IsZero() {
				q.First = a.Began
			}
		}
	}
	if here || unsaved {
		o.sooner(a.Elsewhere)
		elsewhere = a.Elsewhere
	}
	if unsaved {
		o.beside(a.Elsewhere)
		return nil
	}
	late := o.attemptOf(a)
	late.Elsewhere = slices.Clone(a.Elsewhere)
	o.recordLater(late)
	return elsewhere
}

func (o *outbox) recordLater(a store.Attempt) {
	if len(o.late) == lateAttempts {
		o.late = o.late[1:]
		o.lost++
	}
	o.late = append(o.late, a)
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
	case reach.Confirmed:
		return store.Needless
	}
	return store.Failed
}

// atOnce is how many attempts are recorded in one transaction.
const atOnce = 100

// record begins to record what waits for that, and returns what is closed when
// it has ended; nil: there is nothing to record now.
func (o *outbox) record() <-chan struct{} {
	if o.recorded == nil && len(o.late) > 0 && !time.Now().Before(o.again) {
		o.recorded = make(chan struct{})
		o.work.Go(o.recordLate)
	}
	return o.recorded
}

func (o *outbox) recordLate() {
	o.mu.Lock()
	defer o.mu.Unlock()
	for len(o.late) > 0 {
		n := min(len(o.late), atOnce)
		o.writing, o.late = slices.Clone(o.late[:n]), o.late[n:]
		o.mu.Unlock()
		err := o.write(o.writing)
		o.mu.Lock()
		if err != nil {
			o.late = append(o.writing, o.late...)
			o.again = time.Now().Add(tryAgain)
		}
		written := o.writing
		o.writing, o.slow = nil, err != nil
		if err != nil {
			break
		}
		o.savedElsewhere(written)
	}
	close(o.recorded)
	o.recorded = nil
}

// savedElsewhere has the rows read that were saved with attempts. Of those that
// were told from memory it is recorded.
func (o *outbox) savedElsewhere(some []store.Attempt) {
	for _, a := range some {
		for _, r := range a.Elsewhere {
			l := o.line(r.Channel)
			l.missing()
			if d, done := o.done[r.ID]; done {
				delete(o.done, r.ID)
				o.recordLater(d)
			} else if q := l.rows[r.ID]; q != nil {
				q.saved = true
			}
		}
		if len(a.Elsewhere) > 0 && o.wake != nil {
			o.wake()
		}
	}
}

// write records some attempts, or says why the disk does not take them. What
// can never be recorded, its row being gone, holds up nothing.
func (o *outbox) write(some []store.Attempt) error {
	err := o.store.Attempted(context.Background(), some...)
	switch {
	case refuses(err):
		return err
	case err == nil || len(some) == 1:
		return nil
	}
	for _, a := range some {
		if err := o.store.Attempted(context.Background(), a); refuses(err) {
			return err
		}
	}
	return nil
}

func refuses(err error) bool {
	var disk *store.DiskError
	return errors.As(err, &disk)
}

// enqueue saves rows that tell of no transition, as a test message does, and
// has them told.
func (o *outbox) enqueue(ctx context.Context, rows []reach.Outgoing) error {
	saved := make(chan error, 1)
	o.work.Go(func() {
		kept := slices.Clone(rows)
		err := o.store.Enqueue(context.WithoutCancel(ctx), kept)
		if err == nil {
			o.mu.Lock()
			for i, r := range rows {
				o.keep(r, kept[i], false)
			}
			o.mu.Unlock()
		}
		saved <- err
	})
	select {
	case err := <-saved:
		return err
	case <-time.After(o.patience):
		return fmt.Errorf("%w; the message is sent once it does", errNoAnswer)
	}
}

// close waits a little for what is under way.
func (o *outbox) close() error {
	o.mu.Lock()
	o.again = time.Time{}
	o.record()
	o.mu.Unlock()
	if !ends(&o.work, parting*o.patience) {
		return fmt.Errorf("%w: of some messages it is not recorded that they were told", errNoAnswer)
	}
	return nil
}

// parting is for how many times its patience a stop waits for a disk that does
// not answer.
const parting = 5

// ends reports whether all of w end within a span of real time.
func ends(w *sync.WaitGroup, within time.Duration) bool {
	all := make(chan struct{})
	go func() { // ends with w, or with the process
		defer close(all)
		w.Wait()
	}()
	select {
	case <-all:
		return true
	case <-time.After(within):
		return false
	}
}

// scheduled puts the times at which rows are due, given by the wall clock, into
// the core's time.
func scheduled(rows []reach.Outgoing, c *Clock) []reach.Outgoing {
	for i := range rows {
		rows[i].NotBefore = c.coreAt(rows[i].NotBefore)
	}
	return rows
}
