package store

import (
	"context"
	"testing"
	"time"

	"telltale/alarms"
)

func TestPostponedDoesNotCountAsFailed(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	ok(t, s.Enqueue(ctx, []Outgoing{{ID: "test/1", Channel: "mail", Person: "robin"}}))
	step := func(o Outcome, at, next time.Duration) Waiting {
		t.Helper()
		ok(t, s.Attempted(ctx, Attempt{Outgoing: "test/1", At: start.Add(at), Outcome: o, Next: start.Add(next)}))
		due, err := s.Due(ctx, start.Add(next), 10)
		ok(t, err)
		if len(due) != 1 {
			t.Fatalf("%d rows are due", len(due))
		}
		return due[0]
	}
	w := step(Postponed, 0, time.Minute)
	if w.Attempts != 0 || !w.First.IsZero() {
		t.Fatalf("postponed counts: %+v", w)
	}
	w = step(Failed, time.Minute, 2*time.Minute)
	w = step(Failed, 2*time.Minute, 3*time.Minute)
	if w.Attempts != 2 || !w.First.Equal(start.Add(time.Minute)) {
		t.Fatalf("got %+v, want two failures, the first after a minute", w)
	}
}

func TestAttemptsAreRecordedTogetherOrNotAtAll(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	ok(t, s.Enqueue(ctx, []Outgoing{{ID: "a", Channel: "mail"}, {ID: "b", Channel: "mail"}}))
	err := s.Attempted(ctx, Attempt{Outgoing: "a", At: start, Outcome: Told}, Attempt{Outgoing: "c", At: start, Outcome: Told})
	if err == nil || err.Error() != `nothing with the ID "c" is to be told` {
		t.Fatalf("got %v", err)
	}
	same(t, "outbox", counts(t, s), OutboxCounts{Waiting: 2})
	ok(t, s.Attempted(ctx, Attempt{Outgoing: "a", At: start, Outcome: Told}, Attempt{Outgoing: "b", At: start, Outcome: Abandoned}))
	same(t, "outbox", counts(t, s), OutboxCounts{Told: 1, Abandoned: 1})
}

func TestOneChannelDoesNotSeeAnother(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	ok(t, s.Enqueue(ctx, []Outgoing{{ID: "late", Channel: "mail", NotBefore: start.Add(time.Hour)},
		{ID: "b", Channel: "page"}, {ID: "c", Channel: "mail"}}))
	for channel, want := range map[string][]string{"mail": {"c"}, "page": {"b"}, "none": nil} {
		var got []string
		due, err := s.DueOn(ctx, channel, start, 10)
		ok(t, err)
		for _, w := range due {
			got = append(got, w.ID)
		}
		same(t, channel, got, want)
	}
}

func TestAlarmsWithTransitions(t *testing.T) {
	s := fresh(t, Options{})
	other := transition("long-house/silent", 1, start, alarms.Raise, alarms.Normal, alarms.Unacknowledged)
	ok(t, s.Save([]alarms.Transition{raise(1, start), other, raise(2, start.Add(time.Hour))}, nil))
	got, err := s.Alarms(context.Background())
	ok(t, err)
	same(t, "alarms", got, []alarms.AlarmID{high, "long-house/silent"})
}
