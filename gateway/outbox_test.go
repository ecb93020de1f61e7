package gateway

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// shelf is a real store whose disk can be made to refuse what the outbox
// writes.
type shelf struct {
	*store.Store
	refuses bool
}

func (s *shelf) Attempted(ctx context.Context, a ...store.Attempt) error {
	if s.refuses {
		return &store.DiskError{Doing: "test", Err: errors.New("no")}
	}
	return s.Store.Attempted(ctx, a...)
}

var noon = time.Date(2026, time.July, 14, 12, 0, 0, 0, time.UTC)

func newShelf(t *testing.T) (*shelf, *outbox) {
	t.Helper()
	s, err := store.Open(t.TempDir(), store.Options{})
	ok(t, err)
	t.Cleanup(func() { ok(t, s.Close()) })
	sh := &shelf{Store: s}
	return sh, newOutbox(sh, NewSteppedClock(time.Now(), 1))
}

// raisedRows makes the nth transition of an alarm, with rows for two people, the
// second of whom is told after ten minutes unless somebody acknowledges.
func raisedRows(alarm alarms.AlarmID, n int, at time.Time) (alarms.Transition, []reach.Outgoing) {
	tr := alarms.Transition{ID: fmt.Sprintf("%s#%d", alarm, n), Alarm: alarm, Move: alarms.Raise, To: alarms.Unacknowledged, Due: at, Noticed: at}
	return tr, []reach.Outgoing{
		{ID: tr.ID + "|slip|grower", Transition: tr.ID, Alarm: alarm, Channel: "slip", Person: "grower", NotBefore: at},
		{ID: tr.ID + "|slip|neighbour", Transition: tr.ID, Alarm: alarm, Channel: "slip", Person: "neighbour",
			NotBefore: at.Add(10 * time.Minute), Cancellable: true},
	}
}

func acked(alarm alarms.AlarmID, n int, at time.Time) alarms.Transition {
	return alarms.Transition{ID: fmt.Sprintf("%s#%d", alarm, n), Alarm: alarm, Move: alarms.Ack, From: alarms.Unacknowledged,
		To: alarms.Acknowledged, Due: at, Noticed: at}
}

// wantDue demands the IDs of the rows due at until, in order.
func wantDue(t *testing.T, o *outbox, until time.Time, want ...string) {
	t.Helper()
	rows, err := o.Due(context.Background(), "slip", until, 100)
	ok(t, err)
	var got []string
	for _, r := range rows {
		got = append(got, r.ID)
	}
	if !slices.Equal(got, want) {
		t.Errorf("due are\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func attempt(t *testing.T, o *outbox, row string, outcome reach.Outcome, next time.Time) {
	t.Helper()
	ok(t, o.Attempted(context.Background(), []reach.Attempt{{Row: row, Channel: "slip", Person: "grower", Began: noon, Ended: noon, Outcome: outcome, Next: next}}))
}

func outcomes(t *testing.T, s *shelf, transition string) []store.Outcome {
	t.Helper()
	all, err := s.Attempts(context.Background(), transition)
	ok(t, err)
	var got []store.Outcome
	for _, a := range all {
		got = append(got, a.Outcome)
	}
	return got
}

func TestSavedAndUnsavedRowsComeOnceAndByTheirTime(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	early, earlyRows := raisedRows("a", 1, noon)
	ok(t, s.Save([]alarms.Transition{early}, storeRows(earlyRows)))
	late, lateRows := raisedRows("b", 1, noon.Add(-time.Minute))
	for range 3 {
		o.tellUnsaved([]alarms.Transition{late}, lateRows)
	}
	wantDue(t, o, noon, "b#1|slip|grower", "a#1|slip|grower")
	wantDue(t, o, noon.Add(10*time.Minute), "b#1|slip|grower", "a#1|slip|grower", "b#1|slip|neighbour", "a#1|slip|neighbour")
	rows, err := o.Due(context.Background(), "slip", noon.Add(time.Hour), 3)
	ok(t, err)
	if len(rows) != 3 {
		t.Errorf("%d rows came, want the limit of 3", len(rows))
	}
	if rows, err = o.Due(context.Background(), "lamp", noon.Add(time.Hour), 3); err != nil || len(rows) != 0 {
		t.Errorf("another channel got %v, %v", rows, err)
	}
	ok(t, s.Save([]alarms.Transition{late}, storeRows(lateRows)))
	o.saved(context.Background(), lateRows)
	wantDue(t, o, noon, "b#1|slip|grower", "a#1|slip|grower")
}

func TestWhatWasToldFromMemoryIsNotToldAgainOnceSaved(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	tr, rows := raisedRows("a", 1, noon)
	o.tellUnsaved([]alarms.Transition{tr}, rows)
	attempt(t, o, "a#1|slip|grower", reach.Failed, noon.Add(time.Minute))
	wantDue(t, o, noon)
	got, err := o.Due(context.Background(), "slip", noon.Add(time.Minute), 1)
	ok(t, err)
	if len(got) != 1 || got[0].Tries != 1 || !got[0].First.Equal(noon) {
		t.Fatalf("after a failed try came %+v", got)
	}
	attempt(t, o, "a#1|slip|grower", reach.Delivered, time.Time{})
	o.tellUnsaved([]alarms.Transition{tr}, rows)
	wantDue(t, o, noon.Add(10*time.Minute), "a#1|slip|neighbour")

	ok(t, s.Save([]alarms.Transition{tr}, storeRows(rows)))
	o.saved(context.Background(), rows)
	wantDue(t, o, noon.Add(10*time.Minute), "a#1|slip|neighbour")
	if got := outcomes(t, s, "a#1"); !slices.Equal(got, []store.Outcome{store.Told}) {
		t.Errorf("recorded is %v, want told", got)
	}
}

func TestAnAttemptThatCannotBeRecordedIsKept(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	tr, rows := raisedRows("a", 1, noon)
	ok(t, s.Save([]alarms.Transition{tr}, storeRows(rows)))
	s.refuses = true
	attempt(t, o, "a#1|slip|grower", reach.Delivered, time.Time{})
	attempt(t, o, "a#1|slip|neighbour", reach.Failed, noon.Add(20*time.Minute))
	wantDue(t, o, noon.Add(15*time.Minute))
	wantDue(t, o, noon.Add(20*time.Minute), "a#1|slip|neighbour")
	if got := outcomes(t, s, "a#1"); got != nil {
		t.Fatalf("a refusing disk has recorded %v", got)
	}
	s.refuses = false
	wantDue(t, o, noon.Add(15*time.Minute))
	if got := outcomes(t, s, "a#1"); !slices.Equal(got, []store.Outcome{store.Told, store.Failed}) {
		t.Errorf("recorded is %v, want told and failed", got)
	}
	wantDue(t, o, noon.Add(20*time.Minute), "a#1|slip|neighbour")
}

func TestAnAcknowledgementCountsWhileTheDiskRefuses(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	saved, savedRows := raisedRows("a", 1, noon)
	ok(t, s.Save([]alarms.Transition{saved}, storeRows(savedRows)))
	loose, looseRows := raisedRows("b", 1, noon)
	ts := []alarms.Transition{loose, acked("a", 2, noon.Add(time.Minute)), acked("b", 2, noon.Add(time.Minute))}
	again, againRows := raisedRows("b", 3, noon.Add(time.Hour))
	for range 2 {
		o.tellUnsaved(ts, looseRows)
	}
	wantDue(t, o, noon.Add(30*time.Minute), "b#1|slip|grower", "a#1|slip|grower")
	o.tellUnsaved(append(ts, again), append(looseRows, againRows...))
	wantDue(t, o, noon.Add(2*time.Hour), "b#1|slip|grower", "a#1|slip|grower", "b#3|slip|grower", "b#3|slip|neighbour")

	all := append(slices.Clone(ts), again)
	rows := append(slices.Clone(looseRows), againRows...)
	ok(t, s.Save(all, storeRows(rows)))
	o.saved(context.Background(), rows)
	wantDue(t, o, noon.Add(2*time.Hour), "a#1|slip|grower", "b#1|slip|grower", "b#3|slip|grower", "b#3|slip|neighbour")
}

func TestMemoryForUnsavedRowsIsBounded(t *testing.T) {
	t.Parallel()
	_, o := newShelf(t)
	for n := range looseRows {
		tr, rows := raisedRows("a", n, noon.Add(time.Duration(n)*time.Second))
		o.tellUnsaved([]alarms.Transition{tr}, rows[:1])
	}
	tr, rows := raisedRows("z", 1, noon.Add(time.Hour))
	o.tellUnsaved([]alarms.Transition{tr}, rows[:1])
	if len(o.loose) != looseRows || o.loose[0].ID != "a#1|slip|grower" || o.loose[looseRows-1].ID != "z#1|slip|grower" {
		t.Errorf("%d rows are kept, from %s to %s", len(o.loose), o.loose[0].ID, o.loose[len(o.loose)-1].ID)
	}
}

// What is denied goes over the person's other channels, from memory too.
func TestElsewhereFromDiskAndFromMemory(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name            string
		saved, refusing bool
	}{{"saved", true, false}, {"saved, but the disk refuses", true, true}, {"not saved", false, true}} {
		s, o := newShelf(t)
		up, rows := raisedRows("a", 1, noon)
		if c.saved {
			ok(t, s.Save([]alarms.Transition{up}, storeRows(rows)))
		} else {
			o.tellUnsaved([]alarms.Transition{up}, rows)
		}
		s.refuses = c.refusing
		other := rows[0]
		other.ID, other.Channel, other.NotBefore = up.ID+"|mail|grower", "mail", noon
		for range 2 {
			ok(t, o.Attempted(context.Background(), []reach.Attempt{{Row: rows[0].ID, Channel: "slip", Person: "grower", Began: noon, Ended: noon,
				Outcome: reach.Failed, Next: noon.Add(time.Hour), Elsewhere: []reach.Outgoing{other}}}))
		}
		due, err := o.Due(context.Background(), "mail", noon, 10)
		ok(t, err)
		if len(due) != 1 || due[0].ID != other.ID || due[0].Person != "grower" {
			t.Errorf("%s: due by mail are %+v, want one", c.name, due)
		}
	}
}
