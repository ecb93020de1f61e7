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
	"telltale/alarms/say"
	"telltale/gateway/reach"
	"telltale/gateway/store"
	"telltale/gateway/trials"
)

// shelf is a real store whose disk can be made to refuse what the outbox
// writes.
type shelf struct {
	*store.Store
	*store.Outbox
	refuses bool
	deaf    chan struct{} // closed when reading is to answer; nil: it does
	blind   error         // of reading
}

func (s *shelf) Due(ctx context.Context, channel string, until time.Time, limit int) ([]reach.Row, error) {
	if s.deaf != nil {
		<-s.deaf
	}
	if s.blind != nil {
		return nil, s.blind
	}
	return s.Outbox.Due(ctx, channel, until, limit)
}

func (s *shelf) Attempted(ctx context.Context, a ...store.Attempt) error {
	if s.refuses {
		return &store.DiskError{Doing: "test", Err: errors.New("no")}
	}
	return s.Outbox.Attempted(ctx, a...)
}

var noon = time.Date(2026, time.July, 14, 12, 0, 0, 0, time.UTC)

func newShelf(t *testing.T) (*shelf, *outbox) {
	t.Helper()
	s, err := store.Open(t.TempDir(), store.Options{})
	ok(t, err)
	t.Cleanup(func() { ok(t, s.Close()) })
	sh := &shelf{Store: s, Outbox: &s.Outbox}
	o := newOutbox(sh, NewSteppedClock(time.Now(), 1))
	t.Cleanup(func() { ok(t, o.close()) })
	return sh, o
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

// save saves as the owner does.
func save(t *testing.T, s *shelf, o *outbox, ts []alarms.Transition, rows []reach.Outgoing) {
	t.Helper()
	kept := slices.Clone(rows)
	o.expect(rows)
	ok(t, s.Save(ts, kept))
	o.saved(ts, rows, kept, nil)
	o.work.Wait()
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

// outcomes are what came last of each row, in the order of saving.
func outcomes(t *testing.T, s *shelf, transition string) []store.Outcome {
	t.Helper()
	all, err := s.Tellings(context.Background(), store.TellingsQuery{Transitions: []string{transition}})
	ok(t, err)
	var got []store.Outcome
	for _, one := range slices.Backward(all) {
		if one.Last != nil {
			got = append(got, one.Last.Outcome)
		}
	}
	return got
}

func TestSavedAndUnsavedRowsComeOnceAndByTheirTime(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	early, earlyRows := raisedRows("a", 1, noon)
	save(t, s, o, []alarms.Transition{early}, earlyRows)
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
	for _, r := range rows {
		if saved := r.Alarm == early.Alarm; (r.Unsaved == "") != saved || len(r.Unsaved) != 8 && !saved {
			t.Errorf("%s is of the run %q", r.ID, r.Unsaved)
		}
	}
	if rows, err = o.Due(context.Background(), "lamp", noon.Add(time.Hour), 3); err != nil || len(rows) != 0 {
		t.Errorf("another channel got %v, %v", rows, err)
	}
	save(t, s, o, []alarms.Transition{late}, lateRows)
	wantDue(t, o, noon, "b#1|slip|grower", "a#1|slip|grower")
	rows, err = o.Due(context.Background(), "slip", noon, 1)
	ok(t, err)
	if rows[0].Unsaved != "" {
		t.Errorf("once saved %s is of the run %q", rows[0].ID, rows[0].Unsaved)
	}
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

	save(t, s, o, []alarms.Transition{tr}, rows)
	wantDue(t, o, noon.Add(10*time.Minute), "a#1|slip|neighbour")
	if got := outcomes(t, s, "a#1"); !slices.Equal(got, []store.Outcome{store.Told}) {
		t.Errorf("recorded is %v, want told", got)
	}
}

func TestAnAttemptThatCannotBeRecordedIsKept(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	tr, rows := raisedRows("a", 1, noon)
	save(t, s, o, []alarms.Transition{tr}, rows)
	s.refuses = true
	attempt(t, o, "a#1|slip|grower", reach.Delivered, time.Time{})
	attempt(t, o, "a#1|slip|neighbour", reach.Failed, noon.Add(20*time.Minute))
	wantDue(t, o, noon.Add(15*time.Minute))
	wantDue(t, o, noon.Add(20*time.Minute), "a#1|slip|neighbour")
	if got := outcomes(t, s, "a#1"); got != nil {
		t.Fatalf("a refusing disk has recorded %v", got)
	}
	s.refuses = false
	await(t, "both are recorded", func() bool {
		wantDue(t, o, noon.Add(15*time.Minute))
		return len(outcomes(t, s, "a#1")) == 2
	})
	if got := outcomes(t, s, "a#1"); !slices.Equal(got, []store.Outcome{store.Told, store.Failed}) {
		t.Errorf("recorded is %v, want told and failed", got)
	}
	wantDue(t, o, noon.Add(20*time.Minute), "a#1|slip|neighbour")
}

func TestAnAcknowledgementCountsWhileTheDiskRefuses(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	saved, savedRows := raisedRows("a", 1, noon)
	save(t, s, o, []alarms.Transition{saved}, savedRows)
	loose, looseRows := raisedRows("b", 1, noon)
	ts := []alarms.Transition{loose, acked("a", 2, noon.Add(time.Minute)), acked("b", 2, noon.Add(time.Minute))}
	again, againRows := raisedRows("b", 3, noon.Add(time.Hour))
	for range 2 {
		o.tellUnsaved(ts, looseRows)
	}
	wantDue(t, o, noon.Add(30*time.Minute), "a#1|slip|grower", "b#1|slip|grower")
	o.tellUnsaved(append(ts, again), append(looseRows, againRows...))
	wantDue(t, o, noon.Add(2*time.Hour), "a#1|slip|grower", "b#1|slip|grower", "b#3|slip|grower", "b#3|slip|neighbour")

	all := append(slices.Clone(ts), again)
	rows := append(slices.Clone(looseRows), againRows...)
	save(t, s, o, all, rows)
	wantDue(t, o, noon.Add(2*time.Hour), "a#1|slip|grower", "b#1|slip|grower", "b#3|slip|grower", "b#3|slip|neighbour")
}

// TestMemoryForRowsIsBounded fills a line with rows that are not saved. The
// oldest make room, and come back from the database once they are there.
func TestMemoryForRowsIsBounded(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	var ts []alarms.Transition
	var all []reach.Outgoing
	for n := range lineRows + 1 {
		tr, rows := raisedRows("a", n, noon.Add(time.Duration(n)*time.Second))
		ts, all = append(ts, tr), append(all, rows[0])
		o.tellUnsaved([]alarms.Transition{tr}, rows[:1])
	}
	first := func() string {
		rows, err := o.Due(context.Background(), "slip", noon.Add(time.Hour), 2*lineRows)
		ok(t, err)
		if len(rows) > lineRows {
			t.Fatalf("%d rows are kept in memory", len(rows))
		}
		return rows[0].ID
	}
	if got := first(); got != "a#1|slip|grower" || o.lost != 1 {
		t.Errorf("the first row is %s, and %d are said to be lost", got, o.lost)
	}
	save(t, s, o, ts, all)
	for n := 1; n <= lineRows; n++ {
		attempt(t, o, fmt.Sprintf("a#%d|slip|grower", n), reach.Delivered, time.Time{})
	}
	await(t, "the one without room comes from the database", func() bool {
		rows, err := o.Due(context.Background(), "slip", noon.Add(time.Hour), 2)
		return err == nil && len(rows) == 1 && rows[0].ID == "a#0|slip|grower"
	})
}

// TestSavedRowsBeyondTheMemoryWaitInTheDatabase saves more than there is room
// for and tells it all in order.
func TestSavedRowsBeyondTheMemoryWaitInTheDatabase(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	const many = 3 * lineRows
	for n := range many {
		tr, rows := raisedRows("a", n, noon.Add(time.Duration(n)*time.Second))
		save(t, s, o, []alarms.Transition{tr}, rows[:1])
	}
	next := 0
	await(t, "all are told", func() bool {
		rows, err := o.Due(context.Background(), "slip", noon.Add(time.Hour), 100)
		ok(t, err)
		var told []reach.Attempt
		for _, r := range rows {
			if want := fmt.Sprintf("a#%d|slip|grower", next); r.ID != want {
				t.Fatalf("%s is due, want %s", r.ID, want)
			}
			next++
			told = append(told, reach.Attempt{Row: r.ID, Channel: "slip", Began: noon, Ended: noon, Outcome: reach.Delivered})
		}
		ok(t, o.Attempted(context.Background(), told))
		if n := len(o.lines["slip"].rows); n > lineRows {
			t.Fatalf("%d rows are in memory", n)
		}
		return next == many
	})
	await(t, "all are recorded as told", func() bool {
		c, err := s.Outbox.Counts(context.Background())
		return err == nil && c.Told == many && c.Waiting == 0
	})
}

// TestAnOutboxThatCannotBeReadTellsAndSaysSo has a database that takes rows and
// gives none back, as with a damaged index.
func TestAnOutboxThatCannotBeReadTellsAndSaysSo(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	earlier, earlierRows := raisedRows("a", 1, noon)
	ok(t, s.Save([]alarms.Transition{earlier}, slices.Clone(earlierRows)))
	s.blind = errors.New("database disk image is malformed")
	wantDue(t, o, noon)
	tr, rows := raisedRows("b", 1, noon)
	save(t, s, o, []alarms.Transition{tr}, rows)
	wantDue(t, o, noon, "b#1|slip|grower")
	if why := say.English(o.unreadable()); why != "what waits for the channel slip cannot be read: database disk image is malformed" {
		t.Errorf("the trouble is %q", why)
	}
	attempt(t, o, "b#1|slip|grower", reach.Delivered, time.Time{})
	o.work.Wait()
	s.blind = nil
	await(t, "what was left comes, and the trouble is over", func() bool {
		rows, err := o.Due(context.Background(), "slip", noon, 10)
		ok(t, err)
		return len(rows) == 1 && rows[0].ID == "a#1|slip|grower" && o.unreadable() == ""
	})
	wantDue(t, o, noon.Add(time.Hour), "a#1|slip|grower", "b#1|slip|neighbour", "a#1|slip|neighbour")
	left, err := o.Due(context.Background(), "slip", noon, 10)
	ok(t, err)
	trials.Report(t, "the outbox cannot be read for a while", trials.Lost(1-len(left)))
}

// TestAReadingThatDoesNotComeBackHoldsUpNoTelling has one of an earlier run's
// rows that is told only when the disk gives it.
func TestAReadingThatDoesNotComeBackHoldsUpNoTelling(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	o.patience = time.Millisecond
	earlier, earlierRows := raisedRows("a", 1, noon)
	ok(t, s.Save([]alarms.Transition{earlier}, slices.Clone(earlierRows)))
	s.deaf = make(chan struct{})
	tr, rows := raisedRows("b", 1, noon)
	o.tellUnsaved([]alarms.Transition{tr}, rows)
	wantDue(t, o, noon, "b#1|slip|grower")
	if why := say.English(o.unreadable()); !strings.Contains(why, "the disk does not answer") {
		t.Errorf("the trouble is %q", why)
	}
	attempt(t, o, "b#1|slip|grower", reach.Delivered, time.Time{})
	// It is over, by a person, while the reading is under way.
	o.tellUnsaved([]alarms.Transition{acked("a", 2, noon)}, nil)
	o.patience = patience // from now on it answers, however slow the machine
	close(s.deaf)
	await(t, "what was left comes", func() bool {
		rows, err := o.Due(context.Background(), "slip", noon.Add(time.Hour), 10)
		ok(t, err)
		return len(rows) == 2
	})
	wantDue(t, o, noon.Add(time.Hour), "a#1|slip|grower", "b#1|slip|neighbour")
	if why := o.unreadable(); why != "" {
		t.Errorf("the trouble stays: %q", why)
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
			save(t, s, o, []alarms.Transition{up}, rows)
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

// TestWhatAnEarlierRunToldIsNotToldAgain saves again what was saved and told
// before a crash, as a recovered owner does.
func TestWhatAnEarlierRunToldIsNotToldAgain(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	tr, rows := raisedRows("a", 1, noon)
	save(t, s, o, []alarms.Transition{tr}, rows)
	attempt(t, o, "a#1|slip|grower", reach.Delivered, time.Time{})
	o.work.Wait()
	next := newOutbox(s, o.clock)
	t.Cleanup(func() { ok(t, next.close()) })
	end, endRows := acked("a", 2, noon), []reach.Outgoing(nil)
	again, againRows := raisedRows("a", 3, noon)
	save(t, s, o, []alarms.Transition{end, again}, append(endRows, againRows...))
	save(t, s, next, []alarms.Transition{tr, end, again}, append(rows, againRows...))
	wantDue(t, next, noon.Add(time.Hour), "a#3|slip|grower", "a#3|slip|neighbour")
}
