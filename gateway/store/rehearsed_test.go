package store

import (
	"context"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
)

// What was only rehearsed is done, and counts nowhere as told.
func TestWhatWasRehearsedIsNotTold(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	up := raise(1, start)
	rows := []reach.Outgoing{telling(up, "ada", 0), telling(up, "ben", 0)}
	ok(t, s.Save([]alarms.Transition{up}, rows))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: rows[0].ID, At: minutes(1), Outcome: Rehearsed}))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: rows[1].ID, At: minutes(1), Outcome: Told}))
	same(t, "outbox", counts(t, s), OutboxCounts{Told: 1, Rehearsed: 1})
	if due, err := allDue(s, ctx, minutes(99), 10); err != nil || len(due) != 0 {
		t.Errorf("still to be told: %v, %v", due, err)
	}
	got, err := s.Outbox.Tellings(ctx, TellingsQuery{Person: "ada"})
	ok(t, err)
	if len(got) != 1 || got[0].State != TellingRehearsed || got[0].Attempts != 0 || got[0].Last.Outcome != Rehearsed || !got[0].Last.At.Equal(minutes(1)) {
		t.Errorf("got %+v", got)
	}
	if kept, err := s.Outbox.Reported(ctx, Attempt{Outgoing: rows[0].ID, At: minutes(2), Outcome: Arrived}); kept || err != nil {
		t.Errorf("what was not sent is said to have arrived: %v, %v", kept, err)
	}
	if n, err := s.Outbox.SentSince(ctx, []string{rows[0].Channel}, start); n != 1 || err != nil {
		t.Errorf("%d messages were sent, %v; want the one", n, err)
	}
	sums, err := s.Outbox.TellingSums(ctx, "long-house", start.Add(-time.Hour), minutes(99))
	ok(t, err)
	same(t, "sums", sums, []TellingSum{{Person: "ada", Channel: rows[0].Channel, State: TellingRehearsed, N: 1},
		{Person: "ben", Channel: rows[1].Channel, State: TellingTold, N: 1}})
	if Rehearsed.String() != "rehearsed" {
		t.Errorf("it is called %q", Rehearsed)
	}
}

// All of one test message are found by how their IDs begin, what programs
// follow included, and without reading past everything that was ever told.
func TestATestMessageIsFoundWhole(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	ok(t, s.Outbox.Enqueue(ctx, []reach.Outgoing{{ID: "watch/test-message#1|lamp", Channel: "lamp"}, {ID: "watch/test-message#1|mail|ada", Channel: "mail", Person: "ada"},
		{ID: "watch/test-message#1|mail|\U0010FFFF\U0010FFFF", Channel: "mail", Person: "\U0010FFFF\U0010FFFF"},
		{ID: "watch/test-message#12|mail|ada", Channel: "mail", Person: "ada"}, {ID: "watch/test-message#", Channel: "mail", Person: "ada"}}))
	var got []string
	all, err := s.Outbox.Tellings(ctx, TellingsQuery{Begin: "watch/test-message#1|"})
	ok(t, err)
	for _, one := range all {
		got = append(got, one.Channel+" "+one.Person)
	}
	same(t, "tellings", got, []string{"mail \U0010FFFF\U0010FFFF", "mail ada", "lamp "})

	w := TellingsQuery{Begin: "watch/test-message#1|"}.conditions()
	plan, err := s.disk.db().Read.QueryContext(ctx, `EXPLAIN QUERY PLAN `+tellingsSQL(w), append(w.args, 10)...)
	ok(t, err)
	defer plan.Close()
	var steps []string
	for plan.Next() {
		var id, parent, unused int
		var step string
		ok(t, plan.Scan(&id, &parent, &unused, &step))
		steps = append(steps, step)
	}
	if text := strings.Join(steps, "\n"); !strings.Contains(text, "SEARCH o USING INDEX") || strings.Contains(text, "SCAN o") {
		t.Errorf("it is found by\n%s", text)
	}
}
