package store

import (
	"context"
	"testing"
	"time"

	"telltale/gateway/reach"
)

func TestReportsComeAfterWhatWasTold(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	ok(t, s.Outbox.Enqueue(ctx, []reach.Outgoing{{ID: "a", Channel: "sms", Person: "Ada"}}))
	report := func(o Outcome, want bool) {
		t.Helper()
		got, err := s.Outbox.Reported(ctx, Attempt{Outgoing: "a", At: start.Add(time.Minute), Outcome: o, Error: "the telephone has it"})
		ok(t, err)
		if got != want {
			t.Errorf("%v was kept: %v, want %v", o, got, want)
		}
	}
	report(Arrived, false) // it waits still
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: "a", At: start, Outcome: Told}))
	report(Underway, true)
	report(Arrived, true)
	all, err := s.Outbox.Tellings(ctx, TellingsQuery{Person: "Ada"})
	ok(t, err)
	if len(all) != 1 || all[0].State != TellingTold || all[0].Attempts != 1 || all[0].Last.Outcome != Arrived ||
		all[0].Last.Channel != "sms" || all[0].Last.Error != "the telephone has it" || !all[0].Last.At.Equal(start.Add(time.Minute)) {
		t.Errorf("got %+v, %+v", all, all[0].Last)
	}
	if kept, err := s.Outbox.Reported(ctx, Attempt{Outgoing: "b", At: start, Outcome: Arrived}); kept || err != nil {
		t.Errorf("a report on nothing: %v, %v", kept, err)
	}
	same(t, "outbox", counts(t, s), OutboxCounts{Told: 1})
	for o, want := range map[Outcome]string{Arrived: "delivered", Undelivered: "not delivered", Underway: "on its way"} {
		if o.String() != want {
			t.Errorf("%d is %q", o, o)
		}
	}
}

func TestMessagesOfADay(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	ok(t, s.Outbox.Enqueue(ctx, []reach.Outgoing{{ID: "early", Channel: "sms", Person: "Ada"}, {ID: "a", Channel: "sms", Person: "Ada"}, {ID: "b", Channel: "sms", Person: "Ada"},
		{ID: "c", Channel: "sms", Person: "Ben"}, {ID: "d", Channel: "mail", Person: "Ben"}, {ID: "e", Channel: "sms", Person: "Ben"}}))
	told := func(at time.Time, o Outcome, ids ...string) {
		t.Helper()
		for _, id := range ids {
			ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: id, At: at, Outcome: o}))
		}
	}
	told(start.Add(-time.Second), Told, "early")
	told(start, Told, "a", "b") // one message
	told(start, Told, "c", "d")
	told(start.Add(time.Second), Failed, "e")
	if _, err := s.Outbox.Reported(ctx, Attempt{Outgoing: "a", At: start.Add(time.Minute), Outcome: Arrived}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		channels []string
		want     int
	}{{[]string{"sms"}, 2}, {[]string{"sms", "mail"}, 3}, {nil, 0}} {
		if n, err := s.Outbox.SentSince(ctx, c.channels, start); n != c.want || err != nil {
			t.Errorf("%q: %d, %v; want %d", c.channels, n, err, c.want)
		}
	}
}
