package store

import (
	"context"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
)

func TestTellingsSayWhatCameOfThem(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	up := raise(1, start)
	rows := []reach.Outgoing{telling(up, "ada", 0), telling(up, "ben", time.Hour), telling(up, "", 0)}
	rows[0].Channel = "phone"
	ok(t, s.Save([]alarms.Transition{up}, rows))
	ok(t, s.Outbox.Enqueue(ctx, []reach.Outgoing{{ID: "test/1", Channel: "mail", Person: "ben", Body: []byte("test")}}))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: up.ID + "/ada", At: minutes(1), Outcome: Failed, Error: "no route", Next: minutes(2)}))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: up.ID + "/ada", At: minutes(2), Outcome: Postponed, Next: minutes(3)}))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: up.ID + "/ada", At: minutes(3), Outcome: Told}))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: "test/1", At: minutes(4), Outcome: Abandoned, Error: "no such mailbox"}))
	ack := transition(high, 2, minutes(5), alarms.Ack, alarms.Unacknowledged, alarms.Acknowledged)
	ok(t, s.Save([]alarms.Transition{ack}, nil))

	got, err := s.Outbox.Tellings(ctx, TellingsQuery{})
	ok(t, err)
	if len(got) != 3 {
		t.Fatalf("%d tellings of people, want 3: %+v", len(got), got)
	}
	test, ben, ada := got[0], got[1], got[2]
	if test.State != TellingAbandoned || test.HasTold || test.Attempts != 1 || test.Last == nil || test.Last.Error != "no such mailbox" || string(test.Body) != "test" {
		t.Errorf("the test message: %+v", test)
	}
	if ben.State != TellingCancelled || ben.Last != nil || ben.Attempts != 0 || !ben.HasTold || ben.Told.Sentence != up.Sentence {
		t.Errorf("who was not told: %+v", ben)
	}
	if ada.State != TellingTold || ada.Attempts != 2 || !ada.Last.At.Equal(minutes(3)) || ada.Last.Outcome != Told || ada.Told.ID != up.ID || ada.Channel != "phone" {
		t.Errorf("who was told: %+v", ada)
	}
	for name, c := range map[string]struct {
		q    TellingsQuery
		want []string
	}{
		"a person":     {TellingsQuery{Person: "ben"}, []string{"test/1", up.ID + "/ben"}},
		"a channel":    {TellingsQuery{Channel: "phone"}, []string{up.ID + "/ada"}},
		"both":         {TellingsQuery{Person: "ben", Channel: "phone"}, nil},
		"a transition": {TellingsQuery{Transitions: []string{"nothing#1", up.ID}}, []string{up.ID + "/ben", up.ID + "/ada"}},
		"the first":    {TellingsQuery{Limit: 1}, []string{"test/1"}},
		"the next":     {TellingsQuery{Limit: 1, Before: test.Seq}, []string{up.ID + "/ben"}},
		"nobody":       {TellingsQuery{Person: "' OR 1=1 --"}, nil},
	} {
		var ids []string
		got, err := s.Outbox.Tellings(ctx, c.q)
		ok(t, err)
		for _, g := range got {
			ids = append(ids, g.ID)
		}
		same(t, name, ids, c.want)
	}
}

func TestTellingsWaitWithTheirTime(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	ok(t, s.Outbox.Enqueue(ctx, []reach.Outgoing{{ID: "test/1", Channel: "mail", Person: "ben", NotBefore: minutes(10)}}))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: "test/1", At: minutes(10), Outcome: Failed, Error: "timeout", Next: minutes(12)}))
	got, err := s.Outbox.Tellings(ctx, TellingsQuery{})
	ok(t, err)
	if len(got) != 1 || got[0].State != TellingWaits || !got[0].Next.Equal(minutes(12)) || got[0].Last.Error != "timeout" || !got[0].NotBefore.Equal(minutes(10)) {
		t.Errorf("got %+v", got)
	}
}
