package gateway

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"hash/fnv"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// twin stands between a watch and its store and holds a bare core that is given
// what reached the disk, and nothing else. What the watch saves must be what that
// core says, whatever happens to the watch; so must the state that it saves. It
// outlives the watch: after a kill it is put before the store of the next. It
// also plays a disk that refuses, hangs, or dies with its machine.
type twin struct {
	*store.Store
	*store.Outbox
	*store.Notes
	t *testing.T

	mu      sync.Mutex
	core    *engine.Engine
	pending []alarms.Input           // given to the store, not on disk
	sent    []alarms.Input           // readings under way to the core, in order
	owed    map[string]uint64        // made by the core, not yet saved: hash of its content
	saved   map[string]uint64        // since the last checkpoint: a kill has them made again
	untold  map[alarms.AlarmID]owing // saved and to be told to people
	early   map[string]bool          // told since the last checkpoint, saved or not
	moved   chan struct{}            // something of the above has changed

	refuses bool
	hang    sync.Mutex // held while the disk does not answer
	dies    death
	dead    bool
	busy    sync.RWMutex // held by what goes to the disk, until it has gone there

	inputs, made, readings, lost, wrong int
	sum                                 uint64 // of all that the core made
	last                                time.Time
	down                                time.Time // since when the broker is lost; zero: it is not
	blind                               time.Duration
	now                                 func() time.Time
}

// owing is what people were not told of an alarm: up to its n-th transition, since
// the first of them.
type owing struct {
	n     int
	since time.Time
}

// numberOf splits the ID of a transition.
func numberOf(id string) (a alarms.AlarmID, n int) {
	i := strings.LastIndexByte(id, '#')
	n, _ = strconv.Atoi(id[i+1:]) // it is a number
	return alarms.AlarmID(id[:i]), n
}

// death is the moment at which a watch is killed.
type death int

const (
	never        death = iota
	unsynced           // a transition is made, nothing of it is on disk
	unsaved            // its inputs are journaled, it is not saved
	untoldYet          // it is saved, nobody was told
	unrecorded         // it was told, that is not recorded
	deathsInSave       // how many there are
)

var errDead = errors.New("the machine is dead")

func newTwin(t *testing.T, plan alarms.Plan, now func() time.Time) *twin {
	core, err := engine.New(plan)
	ok(t, err)
	return &twin{t: t, core: core, now: now, owed: map[string]uint64{}, saved: map[string]uint64{}, untold: map[alarms.AlarmID]owing{}, early: map[string]bool{},
		moved: make(chan struct{}, 1)}
}

// before puts the twin before the store of p, which does not run yet.
func (w *twin) before(p *parts) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.Store, w.Outbox, w.Notes, w.dead, w.dies = p.store, &p.store.Outbox, &p.store.Notes, false, never
	p.owner.writer.store, p.owner.writer.notes, p.owner.box.store = w, w, w
}

func (w *twin) note() {
	select {
	case w.moved <- struct{}{}:
	default:
	}
}

// Append implements journaling.
func (w *twin) Append(in alarms.Input) {
	free(&w.hang) // a disk that does not answer
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.dead {
		return
	}
	w.Store.Append(in)
	w.pending = append(w.pending, in)
	if in.Kind == alarms.ReadingIn || in.Kind == alarms.GarbledIn {
		w.arrived(in)
	}
	w.note()
}

// arrived holds a reading against the next that was sent. One that waited behind
// a tick has the tick's time.
func (w *twin) arrived(in alarms.Input) {
	if len(w.sent) == 0 {
		w.t.Errorf("a reading came that nobody sent: %+v", in)
		return
	}
	want := w.sent[0]
	w.sent = w.sent[1:]
	w.readings++
	got := in
	if late := got.At.Sub(want.At); late < 0 || late > longSlice {
		w.t.Errorf("a reading came %v after it was sent", late)
	}
	got.At, got.Retained = want.At, false
	if got != want {
		w.wrong++
		w.t.Errorf("a reading came as\n%+v\nsent was\n%+v", got, want)
	}
}

// free waits until nobody has l.
func free(l sync.Locker) {
	l.Lock()
	defer l.Unlock()
}

// refusal is what the disk says, nil if it takes what it is given.
func (w *twin) refusal(doing string) error {
	free(&w.hang) // a disk that does not answer
	w.mu.Lock()
	defer w.mu.Unlock()
	switch {
	case w.dead:
		return errDead
	case w.refuses:
		return &store.DiskError{Doing: doing, Full: true, Err: errors.New("played")}
	}
	return nil
}

// Sync implements journaling.
func (w *twin) Sync() error {
	w.busy.RLock()
	defer w.busy.RUnlock()
	if err := w.refusal("journal"); err != nil {
		return err
	}
	err := w.Store.Sync()
	if err == nil {
		w.settled()
	}
	return err
}

// settled gives the core what is on disk now.
func (w *twin) settled() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, in := range w.pending {
		w.step(in)
	}
	w.pending = w.pending[:0]
	w.note()
}

func (w *twin) step(in alarms.Input) {
	w.inputs++
	switch in.Kind {
	case alarms.LinkDown:
		if w.down.IsZero() {
			w.down = in.At
		}
	case alarms.LinkUp:
		if !w.down.IsZero() {
			w.blind += in.At.Sub(w.down)
		}
		w.down = time.Time{}
	case alarms.RestartMarker:
		from := w.last
		if !w.down.IsZero() {
			from = w.down
		}
		w.blind += in.At.Sub(from)
		w.down = in.At // until the link is up
	}
	w.last = in.At
	for _, tr := range say.Step(w.core, in) {
		h := contentOf(tr)
		w.made++
		w.sum += h
		w.owed[tr.ID] = h
	}
}

// contentOf is the hash of a transition without what the pace of the ticks decides.
func contentOf(tr alarms.Transition) uint64 {
	tr.Noticed = time.Time{}
	b, err := json.Marshal(tr)
	if err != nil {
		panic(err) // a transition can be written
	}
	h := fnv.New64a()
	h.Write(b)
	return h.Sum64()
}

// Save implements journaling.
func (w *twin) Save(ts []alarms.Transition, rows []reach.Outgoing) error {
	w.busy.RLock()
	defer w.busy.RUnlock()
	if err := w.refusal("save"); err != nil {
		return err
	}
	w.mu.Lock()
	dies := w.dies
	w.mu.Unlock()
	if dies == unsaved {
		if err := w.Store.Sync(); err != nil {
			return err
		}
		w.settled()
	}
	if dies == unsynced || dies == unsaved {
		w.die()
		return errDead
	}
	if err := w.Store.Save(ts, rows); err != nil {
		return err
	}
	w.settled()
	w.tookDown(ts)
	if dies == untoldYet {
		w.die()
		return errDead
	}
	return nil
}

// tookDown holds what was saved against what the core made.
func (w *twin) tookDown(ts []alarms.Transition) {
	w.mu.Lock()
	defer w.mu.Unlock()
	passing := reach.Passing(ts)
	for _, tr := range ts {
		h := contentOf(tr)
		want, owed := w.owed[tr.ID]
		before, again := w.saved[tr.ID]
		switch {
		case owed && h == want, !owed && again && h == before:
		default:
			w.wrong++
			w.t.Errorf("the watch saved what the bare core does not say (owed %v, saved before %v): %s %s\n%s", owed, again, tr.ID, tr.Move, tr.Sentence)
		}
		delete(w.owed, tr.ID)
		if w.saved[tr.ID] = h; !owed {
			continue
		}
		a, n := numberOf(tr.ID)
		debt := w.untold[a]
		switch {
		case tr.Move == alarms.Ack: // whoever takes it knows of it
			delete(w.untold, a)
		case debt.n > 0 && tr.Move == alarms.Realarm: // stands for what was not told before
			w.untold[a] = owing{n, debt.since}
		case tr.Told() && tr.Move != alarms.Realarm && !passing[tr.ID] && !w.early[tr.ID]:
			if debt.n == 0 {
				debt.since = tr.Core
			}
			w.untold[a] = owing{n, debt.since}
		}
	}
	w.note()
}

// die ends all that reaches the disk.
func (w *twin) die() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.dead = true
	w.note()
}

// Checkpoint implements journaling. The state that is saved must be the core's.
func (w *twin) Checkpoint(b []byte) error {
	w.busy.RLock()
	defer w.busy.RUnlock()
	if err := w.refusal("checkpoint"); err != nil {
		return err
	}
	if err := w.Store.Checkpoint(b); err != nil {
		return err
	}
	w.settled()
	w.mu.Lock()
	defer w.mu.Unlock()
	want, err := w.core.Snapshot()
	if err != nil || !bytes.Equal(want, b) {
		w.wrong++
		w.t.Errorf("the watch saved the state\n%s\nthe bare core has\n%s (%v)", b, want, err)
	}
	clear(w.saved)
	clear(w.early)
	return nil
}

// Keep implements noting.
func (w *twin) Keep(ctx context.Context, name, value string) error {
	w.busy.RLock()
	defer w.busy.RUnlock()
	if err := w.refusal("keep"); err != nil {
		return err
	}
	return w.Notes.Keep(ctx, name, value)
}

// SetOrigin implements noting.
func (w *twin) SetOrigin(ctx context.Context, o store.Origin) error {
	w.busy.RLock()
	defer w.busy.RUnlock()
	if err := w.refusal("keep"); err != nil {
		return err
	}
	return w.Notes.SetOrigin(ctx, o)
}

// Attempted implements rowStore.
func (w *twin) Attempted(ctx context.Context, a ...store.Attempt) error {
	w.busy.RLock()
	defer w.busy.RUnlock()
	if err := w.refusal("record"); err != nil {
		return err
	}
	return w.Outbox.Attempted(ctx, a...)
}
