package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/gateway/reach"
	"telltale/gateway/store/sqlite"
)

// Telling is one thing that was to be told to one person over one channel, and
// what has come of it.
type Telling struct {
	reach.Outgoing
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
func (o *Outbox) Tellings(ctx context.Context, q TellingsQuery) ([]Telling, error) {
	w := q.conditions()
	return sqlite.Collect(ctx, o.disk.db().Read, scanTelling, tellingsSQL(w), append(w.args, bounded(q.Limit, 100, 1000))...)
}

// ToldOf lists who was told of what has happened to an alarm since a time.
func (o *Outbox) ToldOf(ctx context.Context, a alarms.AlarmID, since time.Time) ([]string, error) {
	return sqlite.Collect(ctx, o.disk.db().Outbox, func(r *sql.Rows, person *string) error { return r.Scan(person) },
		`SELECT DISTINCT person FROM outbox WHERE transition IN (SELECT id FROM transition WHERE alarm = ? AND due >= ?)
		AND state = 1 AND person <> '' ORDER BY person`, a, since.UnixNano())
}

// tellingsSQL asks for tellings, newest first.
func tellingsSQL(w where) string {
	return `SELECT o.seq, o.id, coalesce(o.transition, ''), o.alarm, o.channel, o.person,
		o.not_before, o.cancellable, o.body, o.state, o.next,
		(SELECT count(*) FROM attempt c WHERE c.outgoing = o.id AND c.outcome < 3),
		a.at, a.channel, a.outcome, a.error, t.body
		FROM outbox o LEFT JOIN attempt a ON a.seq = (SELECT max(m.seq) FROM attempt m WHERE m.outgoing = o.id)
		LEFT JOIN transition t ON t.id = o.transition
		` + w.sql() + ` ORDER BY o.seq DESC LIMIT ?`
}

// conditions are what q asks for.
func (q TellingsQuery) conditions() (w where) {
	if q.Begin != "" { // by the index on the ID
		w.and("o.id >= ?1 AND o.id < ?1 || char(1114111)", q.Begin)
	} else {
		w.and("o.person <> ''")
	}
	if q.Person != "" {
		w.and("o.person = ?", q.Person)
	}
	if q.Channel != "" {
		w.and("o.channel = ?", q.Channel)
	}
	if q.Before > 0 {
		w.and("o.seq < ?", q.Before)
	}
	if n := min(len(q.Transitions), 200); n > 0 {
		w.and("o.transition IN (?" + strings.Repeat(", ?", n-1) + ")")
		for _, id := range q.Transitions[:n] {
			w.args = append(w.args, id)
		}
	}
	return w
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
	t.NotBefore, t.Next = timeOrNone(notBefore), timeOrNone(next)
	if at.Valid {
		t.Last = &Attempt{Outgoing: t.ID, At: timeOf(at.Int64), Channel: channel.String, Person: t.Person,
			Outcome: Outcome(outcome.Int64), Error: failure.String}
	}
	t.HasTold = body != nil
	return readTransition(body, &t.Told)
}

// Outcomes of what a channel took, as it says later. They change no row's
// state and count as no attempt.
const (
	Arrived     Outcome = 4 // it reached the person's device
	Undelivered Outcome = 5 // it will not
	Underway    Outcome = 6 // it has not yet; the channel goes on trying
)

// Reported keeps what a channel says of a row after it took it. ok is false,
// and nothing is kept, while the row is not recorded as told.
func (o *Outbox) Reported(ctx context.Context, a Attempt) (ok bool, err error) {
	err = o.disk.write(ctx, "save that a message arrived", func(tx *sql.Tx) error {
		state := waiting
		err := tx.QueryRowContext(ctx, `SELECT state FROM outbox WHERE id = ?`, a.Outgoing).Scan(&state)
		if errors.Is(err, sql.ErrNoRows) || err == nil && state != told {
			return nil
		}
		if err != nil {
			return err
		}
		ok = true
		_, err = tx.ExecContext(ctx, `INSERT INTO attempt (outgoing, at, channel, person, outcome, error)
			SELECT id, ?, channel, person, ?, ? FROM outbox WHERE id = ?`, a.At.UnixNano(), a.Outcome, a.Error, a.Outgoing)
		return err
	})
	return err == nil && ok, err
}

// SentSince counts the messages that channels took since a time. Rows told
// together to one person are one message.
func (o *Outbox) SentSince(ctx context.Context, channels []string, since time.Time) (n int, err error) {
	for _, c := range channels {
		some, err := sqlite.One[int](ctx, o.disk.db().Read, `SELECT count(*) FROM (SELECT DISTINCT at, person FROM attempt
			WHERE channel = ? AND outcome = ? AND at >= ?)`, c, Told, since.UnixNano())
		if err != nil {
			return n, err
		}
		n += some
	}
	return n, nil
}

// TellingSum is how many tellings to one person over one channel came to one
// end.
type TellingSum struct {
	Person, Channel string
	State           TellingState
	Tried           bool // and failed so far, while it waits
	Arrived         bool // so the channel reported after it was told
	Undelivered     bool // likewise, that it did not arrive
	N               int
}

const tellingsOf = `FROM outbox o WHERE o.person <> '' AND o.not_before >= ?1 AND o.not_before < ?2
	AND (substr(o.alarm, 1, length(?3)) = ?3 OR substr(o.alarm, 1, 6) = 'watch/')`

// TellingSums counts what was to be told from..to of a house and of the watch
// itself; "": of all houses.
func (o *Outbox) TellingSums(ctx context.Context, h alarms.HouseID, from, to time.Time) ([]TellingSum, error) {
	return sqlite.Collect(ctx, o.disk.db().Read, func(r *sql.Rows, t *TellingSum) error {
		return r.Scan(&t.Person, &t.Channel, &t.State, &t.Tried, &t.Arrived, &t.Undelivered, &t.N)
	}, `SELECT person, channel, state, tried, state = 1 AND last = ?4, state = 1 AND last = ?5, count(*) FROM
		(SELECT o.person, o.channel, o.state, o.state = 0 AND o.attempts > 0 AS tried,
			coalesce((SELECT a.outcome FROM attempt a WHERE a.outgoing = o.id ORDER BY a.seq DESC LIMIT 1), -1) AS last `+tellingsOf+`)
		GROUP BY 1, 2, 3, 4, 5, 6 ORDER BY 1, 2, 3, 4, 5, 6`, from.UnixNano(), to.UnixNano(), strings.TrimPrefix(string(h)+"/", "/"), Arrived, Undelivered)
}

// LostTelling is a telling that was given up.
type LostTelling struct {
	Person, Channel string
	Planned         time.Time
	Error           string // as the channel said last
	Of              alarms.Transition
}

// LostTellings lists what was to be told from..to and was given up, newest
// first.
func (o *Outbox) LostTellings(ctx context.Context, h alarms.HouseID, from, to time.Time, limit int) ([]LostTelling, error) {
	return sqlite.Collect(ctx, o.disk.db().Read, func(r *sql.Rows, t *LostTelling) error {
		var at int64
		var body []byte
		if err := r.Scan(&t.Person, &t.Channel, &at, &t.Error, &body); err != nil {
			return err
		}
		t.Planned = timeOf(at)
		return readTransition(body, &t.Of)
	}, `SELECT o.person, o.channel, o.not_before,
		coalesce((SELECT a.error FROM attempt a WHERE a.outgoing = o.id ORDER BY a.seq DESC LIMIT 1), ''),
		(SELECT t.body FROM transition t WHERE t.id = o.transition) `+tellingsOf+
		` AND o.state = 2 ORDER BY o.seq DESC LIMIT ?4`, from.UnixNano(), to.UnixNano(), string(h)+"/", limit)
}
