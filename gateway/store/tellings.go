package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"telltale/alarms"
)

// Telling is one thing that was to be told to one person over one channel, and
// what has come of it.
type Telling struct {
	Outgoing
	Seq      int64             // in the order of saving
	State    TellingState      //
	Attempts int               // tries that were not merely put off
	Next     time.Time         // when it is tried next, if it waits
	Last     *Attempt          // the newest; nil: not yet tried
	Told     alarms.Transition // what it tells of; zero for a test message
	HasTold  bool              //
}

// TellingState is what has come of a telling.
type TellingState uint8

// States of a telling.
const (
	TellingWaits     TellingState = waiting   // for its time, or for another try
	TellingTold      TellingState = told      // the channel took it
	TellingAbandoned TellingState = abandoned // it will not be tried again
	TellingCancelled TellingState = cancelled // it was no longer needed before its time came
	TellingRehearsed TellingState = rehearsed // the channel only rehearses: nothing was sent
)

// TellingsQuery says which tellings are wanted. Zero fields ask for all of
// people; what programs follow is left out, but for a test message.
type TellingsQuery struct {
	Person, Channel string
	Begin           string   // of the ID of each, as all of one test message have it
	Transitions     []string // IDs of what is told of; at most 200
	Before          int64    // Seq of the last one of the page before; 0: from the newest
	Limit           int      // default 100, at most 1000
}

// Tellings returns who was to be told what, newest first.
func (s *Store) Tellings(ctx context.Context, q TellingsQuery) ([]Telling, error) {
	where, args := tellingsWhere(q)
	return collect(ctx, s.db().read, scanTelling, tellingsSQL(where), append(args, bounded(q.Limit, 100, 1000))...)
}

// ToldOf lists who was told of what has happened to an alarm since a time.
func (s *Store) ToldOf(ctx context.Context, a alarms.AlarmID, since time.Time) ([]string, error) {
	return collect(ctx, s.db().outbox, func(r *sql.Rows, person *string) error { return r.Scan(person) },
		`SELECT DISTINCT person FROM outbox WHERE transition IN (SELECT id FROM transition WHERE alarm = ? AND due >= ?)
		AND state = 1 AND person <> '' ORDER BY person`, a, since.UnixNano())
}

// tellingsSQL asks for tellings, newest first.
func tellingsSQL(where string) string {
	return `SELECT o.seq, o.id, coalesce(o.transition, ''), o.alarm, o.channel, o.person,
		o.not_before, o.cancellable, o.body, o.state, o.next,
		(SELECT count(*) FROM attempt c WHERE c.outgoing = o.id AND c.outcome < 3),
		a.at, a.channel, a.outcome, a.error, t.body
		FROM outbox o LEFT JOIN attempt a ON a.seq = (SELECT max(m.seq) FROM attempt m WHERE m.outgoing = o.id)
		LEFT JOIN transition t ON t.id = o.transition
		WHERE ` + where + ` ORDER BY o.seq DESC LIMIT ?`
}

// tellingsWhere is what q asks for.
func tellingsWhere(q TellingsQuery) (string, []any) {
	where, args := []string{"o.person <> ''"}, []any{}
	and := func(cond string, a ...any) {
		where, args = append(where, cond), append(args, a...)
	}
	if q.Begin != "" { // by the index on the ID
		where[0] = "o.id >= ?1 AND o.id < ?1 || char(1114111)"
		args = append(args, q.Begin)
	}
	if q.Person != "" {
		and("o.person = ?", q.Person)
	}
	if q.Channel != "" {
		and("o.channel = ?", q.Channel)
	}
	if q.Before > 0 {
		and("o.seq < ?", q.Before)
	}
	if n := min(len(q.Transitions), 200); n > 0 {
		and("o.transition IN (?" + strings.Repeat(", ?", n-1) + ")")
		for _, id := range q.Transitions[:n] {
			args = append(args, id)
		}
	}
	return strings.Join(where, " AND "), args
}

func scanTelling(r *sql.Rows, t *Telling) error {
	var notBefore, next int64
	var at, outcome sql.NullInt64
	var channel, failure sql.NullString
	var body []byte
	err := r.Scan(&t.Seq, &t.ID, &t.Transition, &t.Alarm, &t.Channel, &t.Person, &notBefore, &t.Cancellable, &t.Body,
		&t.State, &next, &t.Attempts, &at, &channel, &outcome, &failure, &body)
	if err != nil {
		return err
	}
	if notBefore != 0 {
		t.NotBefore = timeOf(notBefore)
	}
	if next != 0 {
		t.Next = timeOf(next)
	}
	if at.Valid {
		t.Last = &Attempt{Outgoing: t.ID, At: timeOf(at.Int64), Channel: channel.String, Person: t.Person,
			Outcome: Outcome(outcome.Int64), Error: failure.String}
	}
	if body == nil {
		return nil
	}
	t.HasTold = true
	if err := json.Unmarshal(body, &t.Told); err != nil {
		return fmt.Errorf("a saved transition cannot be read: %w", err)
	}
	return nil
}
