package gateway

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/companion"
	"telltale/alarms/say"
	"telltale/gateway/reach"
)

// gate is the outbox of a companion, as those who tell see it: what the first watch has
// confirmed, or somebody has in hand, is not told, and what is says why it comes from
// here. What follows, and test messages, pass.
type gate struct {
	*outbox
	a *accompanying
}

// delayed has what is told to people wait for the first to confirm it.
func (a *accompanying) delayed(rows []reach.Outgoing, ts []alarms.Transition) {
	if a == nil {
		return
	}
	priority := map[string]alarms.Priority{}
	for _, t := range ts {
		priority[t.ID] = t.Priority
	}
	for i := range rows {
		if r := &rows[i]; r.Person != "" && !companion.Own(r.Alarm) {
			r.NotBefore = r.NotBefore.Add(companion.Wait(priority[r.Transition]))
		}
	}
}

// Due implements reach.Outbox.
func (g gate) Due(ctx context.Context, channel string, until time.Time, limit int) ([]reach.Row, error) {
	for {
		rows, err := g.outbox.Due(ctx, channel, until, limit)
		if err != nil {
			return nil, err
		}
		tell, dropped := g.part(ctx, rows)
		if len(dropped) > 0 {
			err = g.Attempted(ctx, dropped)
		}
		if err != nil || len(tell) > 0 || len(dropped) == 0 || ctx.Err() != nil {
			return tell, err
		}
	}
}

// part parts what is to be told, or comes later, from what is not to be told any more.
func (g gate) part(ctx context.Context, rows []reach.Row) (tell []reach.Row, dropped []reach.Attempt) {
	now := g.clock.Core()
	for _, r := range rows {
		if r.Person == "" || r.Transition == "" || r.NotBefore.After(now) {
			tell = append(tell, r)
			continue
		}
		var e reach.Event
		if json.Unmarshal(r.Body, &e) != nil {
			tell = append(tell, r) // whoever tells says that it cannot be read
			continue
		}
		why := g.decide(ctx, r, e)
		if why == "" {
			tell = append(tell, g.a.explained(r, e))
			continue
		}
		dropped = append(dropped, reach.Attempt{Row: r.ID, Telling: r.ID, Transition: r.Transition, Alarm: r.Alarm, Channel: r.Channel,
			Person: r.Person, Number: r.Tries + 1, Began: now, Ended: now, Outcome: reach.Confirmed, Detail: why})
	}
	return tell, dropped
}

// decide says why r is not to be told, "" if it is.
func (g gate) decide(ctx context.Context, r reach.Row, e reach.Event) string {
	due := r.NotBefore
	if !r.First.IsZero() && r.First.Before(due) {
		due = r.First
	}
	row := companion.Row{Alarm: r.Alarm, Move: e.Move, Level: e.Level, Due: due.Add(-companion.Wait(e.Priority))}
	if e.Move == alarms.Return {
		row.ToldHere = g.toldHere(ctx, r, e)
	}
	g.a.mu.Lock()
	heard := g.a.heard
	g.a.mu.Unlock()
	m := say.Of(&g.a.p.cfg.Plan).Tongue
	p := g.a.p.watch.Picture()
	switch companion.Decide(row, p.Alarm(r.Alarm).State, heard) {
	case companion.Confirmed:
		return m.Say(becauseConfirmed)
	case companion.Taken:
		return m.Say(becauseTaken)
	case companion.Moot:
		return m.Say(becauseMoot)
	}
	return ""
}

// toldHere reports whether r's person was told here that the alarm began which e ends.
// Where that cannot be read it counts as told.
func (g gate) toldHere(ctx context.Context, r reach.Row, e reach.Event) bool {
	ctx, cancel := context.WithTimeout(ctx, g.patience)
	defer cancel()
	people, err := g.store.ToldOf(ctx, r.Alarm, e.Due.Add(-e.Reason.Lasted).Truncate(time.Second))
	return err != nil || slices.Contains(people, r.Person)
}

// explained is r with why it comes from the companion.
func (a *accompanying) explained(r reach.Row, e reach.Event) reach.Row {
	m := say.Of(&a.p.cfg.Plan)
	m.Tongue = e.Language
	why := m.Tongue.Say(ofCompanion)
	if !companion.Own(r.Alarm) {
		why = a.instead(m, e.Move == alarms.Return)
	}
	e.Sentence += " " + why
	if body, err := json.Marshal(e); err == nil {
		r.Body = body
	}
	return r
}

// heardOf is what people were told of an alarm since it was raised.
func (o *outbox) heardOf(a alarms.AlarmID) companion.Told {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.told[a]
}

// noteTold notes that a person was told by a row. It is called with mu held.
func (o *outbox) noteTold(a reach.Attempt, body []byte) {
	var e reach.Event
	if a.Outcome != reach.Delivered || a.Person == "" || json.Unmarshal(body, &e) != nil || e.Test || e.To != alarms.Unacknowledged {
		return
	}
	t := o.told[a.Alarm]
	o.told[a.Alarm] = companion.Told{Level: max(t.Level, e.Level, alarms.Outer), At: a.Ended}
}

// noteMoves forgets what was told of alarms that begin anew, or are over. It is called
// with mu held.
func (o *outbox) noteMoves(t alarms.Transition) {
	if t.Move == alarms.Raise || t.To == alarms.Normal && t.Move != alarms.Note {
		delete(o.told, t.Alarm)
	}
}
