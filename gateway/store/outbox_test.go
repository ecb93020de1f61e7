package store

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store/sqlite"
	"telltale/gateway/trials"
)

func TestPostponedDoesNotCountAsFailed(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	ok(t, s.Outbox.Enqueue(ctx, []reach.Outgoing{{ID: "test/1", Channel: "mail", Person: "robin"}}))
	step := func(o Outcome, at, next time.Duration) reach.Row {
		t.Helper()
		ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: "test/1", At: start.Add(at), Outcome: o, Next: start.Add(next)}))
		due, err := allDue(s, ctx, start.Add(next), 10)
		ok(t, err)
		if len(due) != 1 {
			t.Fatalf("%d rows are due", len(due))
		}
		return due[0]
	}
	w := step(Postponed, 0, time.Minute)
	if w.Tries != 0 || !w.First.IsZero() {
		t.Fatalf("postponed counts: %+v", w)
	}
	w = step(Failed, time.Minute, 2*time.Minute)
	w = step(Failed, 2*time.Minute, 3*time.Minute)
	if w.Tries != 2 || !w.First.Equal(start.Add(time.Minute)) {
		t.Fatalf("got %+v, want two failures, the first after a minute", w)
	}
}

func TestAttemptsAreRecordedTogetherOrNotAtAll(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	ok(t, s.Outbox.Enqueue(ctx, []reach.Outgoing{{ID: "a", Channel: "mail"}, {ID: "b", Channel: "mail"}}))
	err := s.Outbox.Attempted(ctx, Attempt{Outgoing: "a", At: start, Outcome: Told}, Attempt{Outgoing: "c", At: start, Outcome: Told})
	if err == nil || err.Error() != `nothing with the ID "c" is to be told` {
		t.Fatalf("got %v", err)
	}
	same(t, "outbox", counts(t, s), OutboxCounts{Waiting: 2})
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: "a", At: start, Outcome: Told}, Attempt{Outgoing: "b", At: start, Outcome: Abandoned}))
	same(t, "outbox", counts(t, s), OutboxCounts{Told: 1, Abandoned: 1})
}

func TestOneChannelDoesNotSeeAnother(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	ok(t, s.Outbox.Enqueue(ctx, []reach.Outgoing{{ID: "late", Channel: "mail", NotBefore: start.Add(time.Hour)},
		{ID: "b", Channel: "page"}, {ID: "c", Channel: "mail"}}))
	for channel, want := range map[string][]string{"mail": {"c"}, "page": {"b"}, "none": nil} {
		var got []string
		due, err := s.Outbox.Due(ctx, channel, start, 10)
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
	got, err := s.Log.Alarms(context.Background())
	ok(t, err)
	same(t, "alarms", got, []alarms.AlarmID{high, "long-house/silent"})
}

// What is denied by one channel goes over the others: over each once, sooner
// where it was to wait, and nowhere once somebody has taken the alarm.
func TestElsewhereIsToldOnceAndAtOnce(t *testing.T) {
	s := fresh(t, Options{})
	ctx := context.Background()
	up := raise(1, start)
	row := func(channel string, wait time.Duration) reach.Outgoing {
		return reach.Outgoing{ID: up.ID + "|" + channel + "|ada" + strings.Repeat("|later", int(wait/time.Hour)), Transition: up.ID, Alarm: up.Alarm, Channel: channel,
			Person: "ada", NotBefore: start.Add(wait), Cancellable: wait > 0, Body: []byte(channel)}
	}
	ok(t, s.Save([]alarms.Transition{up}, []reach.Outgoing{row("hook", 0), row("mail", 0), row("text", time.Hour), row("ring", time.Hour)}))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: row("mail", 0).ID, At: start, Outcome: Told},
		Attempt{Outgoing: row("ring", time.Hour).ID, At: start, Outcome: Failed, Next: start.Add(2 * time.Hour)}))
	at := start.Add(time.Minute)
	var elsewhere []reach.Outgoing
	for _, c := range []string{"mail", "text", "ring", "push"} {
		o := row(c, 0)
		o.NotBefore, o.Body = at, []byte("at once")
		elsewhere = append(elsewhere, o)
	}
	for range 3 {
		ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: row("hook", 0).ID, At: at, Outcome: Failed, Next: start.Add(time.Hour), Elsewhere: elsewhere}))
	}
	due, err := allDue(s, ctx, at, 10)
	ok(t, err)
	var got []string
	for _, w := range due {
		got = append(got, w.Channel+" "+w.ID+" "+string(w.Body))
	}
	same(t, "due", got, []string{"text " + up.ID + "|text|ada|later at once", "push " + up.ID + "|push|ada at once"})
	reached, err := s.Outbox.Reached(ctx, "mail", "ada")
	ok(t, err)
	same(t, "reached by mail", reached, true)
	reached, err = s.Outbox.Reached(ctx, "hook", "ada")
	ok(t, err)
	same(t, "reached by hook", reached, false)

	next := raise(2, start)
	late := reach.Outgoing{ID: next.ID + "|hook|ada", Transition: next.ID, Alarm: next.Alarm, Channel: "hook", Person: "ada", NotBefore: at, Cancellable: true}
	ok(t, s.Save([]alarms.Transition{next}, []reach.Outgoing{late}))
	cancel(t, s, late.ID)
	mail := late
	mail.ID, mail.Channel = next.ID+"|mail|ada", "mail"
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: late.ID, At: at, Outcome: Abandoned, Elsewhere: []reach.Outgoing{mail}}))
	due, err = allDue(s, ctx, at, 10)
	ok(t, err)
	same(t, "due after it was taken", len(due), 2)
}

// TestNoQuestionHoldsUpTheOutbox keeps every connection that reads busy.
func TestNoQuestionHoldsUpTheOutbox(t *testing.T) {
	s := fresh(t, Options{Readers: 2})
	ctx := context.Background()
	ok(t, s.Outbox.Enqueue(ctx, []reach.Outgoing{{ID: "a", Channel: "mail"}}))
	for range 2 {
		c, err := s.disk.db().Read.Conn(ctx)
		ok(t, err)
		defer c.Close()
	}
	short, cancel := context.WithTimeout(ctx, time.Millisecond)
	defer cancel()
	if _, err := s.Outbox.Counts(short); err == nil {
		t.Fatal("the page's questions are not held up: the test tests nothing")
	}
	due, err := s.Outbox.Due(ctx, "mail", start, 10)
	ok(t, err)
	same(t, "due", len(due), 1)
	trials.Report(t, "the page's questions keep the database busy beside the outbox", trials.Lost(1-len(due)))
	ok(t, s.Outbox.Attempted(ctx, Attempt{Outgoing: "a", At: start, Outcome: Told}))
	due, err = s.Outbox.Due(ctx, "mail", start, 10)
	ok(t, err)
	same(t, "due", len(due), 0)
}

// TestAQuestionThatDoesNotComeBackIsGivenUp asks a disk that never answers.
func TestAQuestionThatDoesNotComeBackIsGivenUp(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	never := make(chan struct{})
	defer close(never)
	cancel()
	n, err := sqlite.Within(ctx, func() (int, error) { <-never; return 1, nil })
	if n != 0 || !errors.Is(err, context.Canceled) {
		t.Errorf("got %d, %v", n, err)
	}
	n, err = sqlite.Within(context.Background(), func() (int, error) { return 1, nil })
	if n != 1 || err != nil {
		t.Errorf("got %d, %v", n, err)
	}
}

func TestSaveSaysUnderWhichIDAndWhatWasThere(t *testing.T) {
	s := fresh(t, Options{})
	up := raise(1, start)
	rows := []reach.Outgoing{{ID: "row", Transition: up.ID, Alarm: up.Alarm, Channel: "mail"}}
	ok(t, s.Save([]alarms.Transition{up}, rows))
	same(t, "the first", rows[0].ID+" "+strconv.FormatBool(rows[0].Known), "row false")
	ok(t, s.Save([]alarms.Transition{up}, rows))
	same(t, "again", rows[0].ID+" "+strconv.FormatBool(rows[0].Known), "row true")
	other := up
	other.Due = up.Due.Add(time.Minute)
	ok(t, s.Save([]alarms.Transition{other}, rows))
	same(t, "another meaning", rows[0].ID, fmt.Sprintf("row~%d", other.Due.UnixMilli()))
	same(t, "is new", rows[0].Known, false)
}
