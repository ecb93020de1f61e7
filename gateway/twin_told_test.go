package gateway

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/gateway/store"
)

// hears notes that somebody was told of some transitions; it reports whether the
// watch that tells is alive.
func (w *twin) hears(ids []string, delay func(time.Duration)) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.dead {
		return false
	}
	for _, id := range ids {
		a, n := numberOf(id)
		if debt, is := w.untold[a]; is && n >= debt.n {
			delay(w.now().Sub(debt.since))
			delete(w.untold, a)
		}
		w.early[id] = true
	}
	if w.dies == unrecorded {
		w.dead = true
	}
	w.note()
	return true
}

// reborn takes from the twin what died with the watch, and gives it what the next
// watch did when it recovered.
func (w *twin) reborn(told ...alarms.Input) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, in := range w.pending {
		if in.Kind == alarms.ReadingIn {
			w.lost++
		}
	}
	w.lost += len(w.sent)
	w.sent, w.pending = nil, append(w.pending[:0], told...)
}

// replan has the core go on under another plan.
func (w *twin) replan(plan alarms.Plan) {
	w.mu.Lock()
	defer w.mu.Unlock()
	snap, err := w.core.Snapshot()
	ok(w.t, err)
	w.core, err = engine.Restore(plan, snap)
	ok(w.t, err)
}

// quiet reports whether everything sent has arrived, is on disk, and is saved.
func (w *twin) quiet() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	waits := slices.ContainsFunc(w.pending, func(in alarms.Input) bool { return in.Kind != alarms.Tick })
	return len(w.sent) == 0 && (w.refuses || !waits && len(w.owed) == 0)
}

func (w *twin) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return fmt.Sprintf("%d readings under way, %d inputs not on disk, %d transitions not saved, %d not told, dead %v", len(w.sent), len(w.pending), len(w.owed), len(w.untold), w.dead)
}

// await notes a reading that is under way.
func (w *twin) await(in alarms.Input) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.sent = append(w.sent, in)
}

// drained waits until no more than so many readings are under way.
func (w *twin) drained(t *testing.T, most int) {
	t.Helper()
	for {
		w.mu.Lock()
		n := len(w.sent) + len(w.pending)
		w.mu.Unlock()
		if n <= most || t.Failed() {
			return
		}
		select {
		case <-w.moved:
		case <-time.After(time.Minute):
			t.Fatalf("waited in vain: %v", w)
		}
	}
}

// sameLog holds the whole log of a store against what the bare core made.
func sameLog(t *testing.T, w *twin, s *store.Store) {
	t.Helper()
	sum, n := uint64(0), 0
	for q := (store.LogQuery{Limit: 1000}); ; {
		page, err := s.Log.Transitions(context.Background(), q)
		ok(t, err)
		for _, tr := range page {
			sum += contentOf(tr)
			q.OlderThan = tr.ID
		}
		if n += len(page); len(page) == 0 {
			break
		}
	}
	if n != w.made || sum != w.sum {
		t.Errorf("the log has %d transitions, the bare core made %d, or others", n, w.made)
	}
}
