package store

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
)

func transition(alarm string, n int, due time.Time, move alarms.Move, from, to alarms.State) alarms.Transition {
	v, l := 31.25, 30.0
	return alarms.Transition{
		ID: fmt.Sprintf("%s#%d", alarm, n), Alarm: alarms.AlarmID(alarm), Move: move, From: from, To: to,
		Level: alarms.Outer, Priority: alarms.Medium, Due: due, Noticed: due.Add(300 * time.Millisecond),
		Reason: alarms.Reason{Rule: alarms.RuleLimit, House: "long-house", Place: "bench", Quantity: alarms.Temperature,
			Side: alarms.HighSide, Value: &v, Limit: &l, Since: due.Add(-time.Minute), Affected: []string{"bench-1"},
			Until: due.Add(time.Hour), Check: "the exhaust fan"},
		Sentence: "Long House, bench: 31.3 °C, above the limit of 30.0 °C.",
	}
}

const high = "long-house/bench/temperature/high"

func raise(n int, due time.Time) alarms.Transition {
	return transition(high, n, due, alarms.Raise, alarms.Normal, alarms.Unacknowledged)
}

func telling(of alarms.Transition, person string, later time.Duration) reach.Outgoing {
	return reach.Outgoing{ID: of.ID + "/" + person, Transition: of.ID, Alarm: of.Alarm, Channel: "mail", Person: person,
		NotBefore: of.Due.Add(later), Cancellable: later > 0, Body: []byte(of.Sentence)}
}

func counts(t *testing.T, s *Store) OutboxCounts {
	t.Helper()
	c, err := s.Outbox.Counts(context.Background())
	ok(t, err)
	return c
}

func TestSavedTransitionsComeBackWhole(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	up := raise(1, start)
	ack := transition(high, 2, start.Add(time.Minute), alarms.Ack, alarms.Unacknowledged, alarms.Acknowledged)
	ok(t, s.Save([]alarms.Transition{up, ack}, []reach.Outgoing{telling(up, "robin", 0)}))
	ok(t, s.Close())
	s = open(t, dir, Options{})
	defer s.Close()
	got, err := s.Log.Transitions(context.Background(), LogQuery{})
	ok(t, err)
	same(t, "log", got, []alarms.Transition{ack, up})
	due, err := allDue(s, context.Background(), start, 10)
	ok(t, err)
	row := telling(up, "robin", 0)
	same(t, "due", due, []reach.Row{{Outgoing: row}})
}

func TestSavingAgainChangesNothing(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	up := raise(1, start)
	out := []reach.Outgoing{telling(up, "robin", 0), telling(up, "kim", 10*time.Minute)}
	ok(t, s.Save([]alarms.Transition{up}, out))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: out[0].ID, At: start, Outcome: Told, Next: time.Time{}}))
	again := up
	again.Noticed = again.Noticed.Add(time.Minute) // a replay has other ticks
	ok(t, s.Save([]alarms.Transition{again}, out))
	all, err := s.Log.Transitions(ctx, LogQuery{})
	ok(t, err)
	same(t, "log", all, []alarms.Transition{up})
	same(t, "outbox", counts(t, s), OutboxCounts{Waiting: 1, Told: 1})
	// A replay goes through the acknowledgement of an earlier raise: what waits
	// for a later one must stay.
	ack := transition(high, 2, start.Add(time.Minute), alarms.Ack, alarms.Unacknowledged, alarms.Acknowledged)
	re := transition(high, 3, start.Add(time.Hour), alarms.Realarm, alarms.Acknowledged, alarms.Unacknowledged)
	ok(t, s.Save([]alarms.Transition{ack}, nil))
	ok(t, s.Save([]alarms.Transition{re}, []reach.Outgoing{telling(re, "kim", 10*time.Minute)}))
	want := OutboxCounts{Waiting: 1, Told: 1, Cancelled: 1}
	same(t, "outbox", counts(t, s), want)
	ok(t, s.Save([]alarms.Transition{up, ack, re}, out))
	same(t, "outbox after a replay", counts(t, s), want)
	if s.Stats().Clashes != 0 {
		t.Fatal("a replay was taken for a clash")
	}
}

// TestWhatIsToldAgainIsToldOnce: while a person sleeps, or the mail server is
// away, repeats take each other's place, and nobody else's.
func TestWhatIsToldAgainIsToldOnce(t *testing.T) {
	s := fresh(t, Options{})
	up := raise(1, start)
	ok(t, s.Save([]alarms.Transition{up}, []reach.Outgoing{telling(up, "robin", 8*time.Hour), telling(up, "kim", 8*time.Hour)}))
	var last []reach.Outgoing
	var saved []alarms.Transition
	for n := range 3 {
		re := transition(high, n+2, start.Add(time.Duration(2*n+2)*time.Hour), alarms.Realarm, alarms.Unacknowledged, alarms.Unacknowledged)
		row := telling(re, "robin", 8*time.Hour)
		row.Replaces = true
		saved, last = append(saved, re), append(last, row)
	}
	ok(t, s.Save(saved[:1], last[:1]))
	ok(t, s.Save(saved[1:], last[1:]))
	ok(t, s.Save(saved, last)) // a replay
	due, err := allDue(s, context.Background(), start.Add(24*time.Hour), 10)
	ok(t, err)
	var got []string
	for _, w := range due {
		got = append(got, w.Person+" "+w.Transition)
	}
	same(t, "what is told", got, []string{"kim " + up.ID, "robin " + saved[2].ID})
}

func TestOneIDWithTwoMeaningsKeepsBoth(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	first := raise(1, start)
	other := raise(1, start.Add(time.Hour))
	for range 2 { // the second time it is there already
		ok(t, s.Save([]alarms.Transition{first}, []reach.Outgoing{telling(first, "robin", 0)}))
		ok(t, s.Save([]alarms.Transition{other}, []reach.Outgoing{telling(other, "robin", 0)}))
	}
	all, err := s.Log.Transitions(ctx, LogQuery{})
	ok(t, err)
	kept := other
	kept.ID = fmt.Sprintf("%s~%d", first.ID, other.Due.UnixMilli())
	same(t, "log", all, []alarms.Transition{kept, first})
	due, err := allDue(s, ctx, start.Add(2*time.Hour), 10)
	ok(t, err)
	if len(due) != 2 || due[1].Transition != kept.ID {
		t.Fatalf("both must be told, got %+v", due)
	}
	same(t, "clashes", s.Stats().Clashes, 1)
}

func TestCancellableTellingsEndWithTheirAlarm(t *testing.T) {
	to := map[alarms.State]bool{alarms.Normal: true, alarms.Unacknowledged: false, alarms.Acknowledged: true,
		alarms.ReturnedUnack: true, alarms.Shelved: true, alarms.SuppressedByDesign: true, alarms.OutOfService: true}
	for state, cancels := range to {
		s := fresh(t, Options{})
		up := raise(1, start)
		other := transition("long-house/silent", 1, start, alarms.Raise, alarms.Normal, alarms.Unacknowledged)
		ok(t, s.Save([]alarms.Transition{up, other}, []reach.Outgoing{telling(up, "robin", 0),
			telling(up, "kim", time.Hour), telling(other, "kim", time.Hour)}))
		next := transition(high, 2, start.Add(time.Minute), alarms.Worsen, alarms.Unacknowledged, state)
		ok(t, s.Save([]alarms.Transition{next}, []reach.Outgoing{telling(next, "robin", 0)}))
		want := OutboxCounts{Waiting: 4}
		if cancels {
			want = OutboxCounts{Waiting: 3, Cancelled: 1}
		}
		same(t, state.String(), counts(t, s), want)
	}
}

func TestRaisedAndGoneInOneSaveIsNotEscalated(t *testing.T) {
	s := fresh(t, Options{})
	up := raise(1, start)
	down := transition(high, 2, start.Add(time.Minute), alarms.Return, alarms.Unacknowledged, alarms.ReturnedUnack)
	ok(t, s.Save([]alarms.Transition{up, down}, []reach.Outgoing{telling(up, "kim", time.Hour), telling(down, "robin", 0)}))
	same(t, "outbox", counts(t, s), OutboxCounts{Waiting: 1, Cancelled: 1})
}

func TestATestMessageBelongsToNoTransition(t *testing.T) {
	s := fresh(t, Options{})
	ok(t, s.Save(nil, []reach.Outgoing{{ID: "test/1", Channel: "mail", Person: "robin"},
		{ID: "test/2", Transition: "never saved#1", Channel: "mail", Person: "robin"}}))
	same(t, "outbox", counts(t, s), OutboxCounts{Waiting: 2})
}

func TestAnAlarmIsSavedThoughItsFiguresAreNoNumbers(t *testing.T) {
	s := fresh(t, Options{})
	up, nan := raise(1, start), math.NaN()
	up.Reason.Value = &nan
	ok(t, s.Save([]alarms.Transition{up}, nil))
	got, there := logged(t, s, up.ID)
	up.Reason.Value = nil
	same(t, "found", there, true)
	same(t, "transition", got, up)
}

func TestAttemptsMoveARowThroughItsStates(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	up := raise(1, start)
	ok(t, s.Save([]alarms.Transition{up}, []reach.Outgoing{telling(up, "robin", 0), telling(up, "kim", time.Hour), telling(up, "sam", time.Minute)}))
	robin := up.ID + "/robin"
	try := func(who string, at time.Time, o Outcome, text string, next time.Time) {
		t.Helper()
		ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: up.ID + "/" + who, At: at, Outcome: o, Error: text, Next: next}))
	}
	try("robin", start, Failed, "no route to host", start.Add(30*time.Second))
	due, err := allDue(s, ctx, start.Add(29*time.Second), 10)
	ok(t, err)
	same(t, "too early", len(due), 0)
	due, err = allDue(s, ctx, start.Add(30*time.Second), 10)
	ok(t, err)
	if len(due) != 1 || due[0].ID != robin || due[0].Tries != 1 || !due[0].NotBefore.Equal(start.Add(30*time.Second)) {
		t.Fatalf("due again: %+v", due)
	}
	try("robin", start.Add(31*time.Second), Told, "", time.Time{})
	// Kim's row is cancelled while it is on its way: a failure leaves it
	// cancelled, a success is a success.
	cancel(t, s, up.ID+"/kim")
	try("kim", start.Add(time.Hour), Failed, "busy", start.Add(2*time.Hour))
	same(t, "after a failure", counts(t, s), OutboxCounts{Waiting: 1, Told: 1, Cancelled: 1})
	try("kim", start.Add(time.Hour), Told, "", time.Time{})
	try("sam", start.Add(time.Minute), Abandoned, "no such address", time.Time{})
	same(t, "at the end", counts(t, s), OutboxCounts{Told: 2, Abandoned: 1})
	log := attempts(t, s)
	same(t, "attempts", len(log), 5)
	same(t, "first attempt", log[0], Attempt{Outgoing: robin, At: start, Channel: "mail", Person: "robin", Error: "no route to host"})
	if err := s.Outbox.Attempted(ctx, Attempt{Outgoing: "nobody", Next: start}); err == nil || errors.As(err, new(*DiskError)) {
		t.Fatalf("an attempt for nobody: %v", err)
	}
}

func TestLogIsPagedFilteredAndOrdered(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	var want []alarms.Transition // newest first
	for i := range 25 {
		tr := raise(i+1, start.Add(time.Duration(i/3)*time.Minute)) // three at a time
		if i%5 == 0 {
			tr.Alarm, tr.ID, tr.Reason.House = "low-house/silent", fmt.Sprintf("low-house/silent#%d", i), "low-house"
		}
		ok(t, s.Save([]alarms.Transition{tr}, nil))
		want = append([]alarms.Transition{tr}, want...)
	}
	var got []alarms.Transition
	q := LogQuery{Limit: 4}
	for {
		page, err := s.Log.Transitions(ctx, q)
		ok(t, err)
		if len(page) == 0 {
			break
		}
		got = append(got, page...)
		q.OlderThan = page[len(page)-1].ID
	}
	same(t, "pages", got, want)
	for what, q := range map[string]LogQuery{"house": {House: "low-house"}, "alarm": {Alarm: "low-house/silent"}, "ending": {Ending: "e/silent"},
		"another ending": {NotEnding: "e/silent"},
		"time":           {From: start.Add(2 * time.Minute), To: start.Add(4 * time.Minute)}} {
		var keep []alarms.Transition
		for _, tr := range want {
			in := tr.Reason.House == "low-house"
			switch what {
			case "another ending":
				in = !in
			case "time":
				in = !tr.Due.Before(q.From) && tr.Due.Before(q.To)
			}
			if in {
				keep = append(keep, tr)
			}
		}
		got, err := s.Log.Transitions(ctx, q)
		ok(t, err)
		same(t, what, got, keep)
	}
}
