package gateway

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/page/service"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// Tellings implements service.Tending.
func (t *tending) Tellings(ctx context.Context, q service.ToldQuery) ([]service.Telling, error) {
	rows, err := t.store.Outbox.Tellings(ctx, store.TellingsQuery{Person: q.Person, Channel: q.Channel,
		Transitions: q.Transitions, Before: q.Before, Limit: q.Limit})
	return t.shown(rows), err
}

// TestMessage implements service.Watch.
func (w *watch) TestMessage(ctx context.Context, channel string) (id string, err error) {
	rows, err := w.rules.TestRows(w.clock.Now())
	if channel != "" {
		rows = slices.DeleteFunc(rows, func(o reach.Outgoing) bool { return o.Channel != channel })
	}
	rows = scheduled(rows, w.clock)
	if err != nil {
		return "", err
	}
	if len(rows) == 0 && channel != "" {
		return "", service.Refuse("Nobody is told over this channel yet, so nothing was sent. If it was just written, the watch may still be starting with it; else say who is told by it.")
	}
	if len(rows) == 0 {
		return "", service.Refuse("Nobody is set up to be told, so nothing was sent. Name people and channels in the configuration.")
	}
	if err := w.box.enqueue(ctx, rows); err != nil {
		return "", err
	}
	w.wake()
	return reach.TestOf(rows[0].ID), nil
}

// Tested implements service.Watch.
func (w *watch) Tested(ctx context.Context, id string) ([]service.Telling, error) {
	begin, ok := reach.TestBegin(id)
	if !ok {
		return nil, nil
	}
	rows, err := w.store.Outbox.Tellings(ctx, store.TellingsQuery{Begin: begin, Limit: 1000})
	slices.Reverse(rows)
	return w.shown(rows), err
}

// channelKinds says of which kind each channel is.
func channelKinds(c *config.Config) map[string]config.ChannelKind {
	kinds := map[string]config.ChannelKind{}
	for _, ch := range c.Reach.Channels {
		kinds[ch.Name] = ch.Kind
	}
	return kinds
}

// shown puts tellings into the page's terms.
func (w *watch) shown(rows []store.Telling) []service.Telling {
	all := make([]service.Telling, 0, len(rows))
	for _, r := range rows {
		t := tellingOf(r, w.clock)
		t.Kind = string(w.kinds[r.Channel])
		all = append(all, t)
	}
	return all
}

func tellingOf(r store.Telling, c *Clock) service.Telling {
	t := service.Telling{Seq: r.Seq, Person: r.Person, Channel: r.Channel, Of: r.Told, Planned: c.Wall(r.NotBefore),
		Outcome: outcomeShown(r), Tries: r.Attempts, Next: c.Wall(r.Next)}
	if r.Last != nil {
		t.At, t.Why = r.Last.At, r.Last.Error
	}
	var e reach.Event
	if err := json.Unmarshal(r.Body, &e); err != nil {
		return t // it can only be named by what it tells of
	}
	if r.Last == nil {
		t.Waits = waitsFor(e, r.Cancellable)
	}
	if !r.HasTold {
		t.Of = alarms.Transition{ID: e.ID, Alarm: r.Alarm, Sentence: e.Sentence}
		if t.Test = e.Test; e.Letter {
			t.Of.Sentence, t.Letter = e.Headline, true
		}
	}
	return t
}

// waitsFor is why e was put off when it was routed, if it was: only what was put
// off can be cancelled.
func waitsFor(e reach.Event, cancellable bool) service.ToldWait {
	switch {
	case !cancellable:
		return service.WaitsNot
	case e.Unanswered > 0:
		return service.WaitsAnswer
	}
	return service.WaitsQuiet
}

func outcomeShown(r store.Telling) service.ToldOutcome {
	switch r.State {
	case store.TellingTold:
		return reportShown(r)
	case store.TellingAbandoned:
		return service.ToldGivenUp
	case store.TellingCancelled:
		return service.ToldNotNeeded
	case store.TellingRehearsed:
		return service.ToldRehearsed
	}
	if r.Last != nil && r.Last.Outcome == store.Failed {
		return service.ToldFailed
	}
	return service.ToldWaiting
}

// reportShown is what the page shows of a telling that a channel took.
func reportShown(r store.Telling) service.ToldOutcome {
	switch {
	case r.Last == nil:
	case r.Last.Outcome == store.Arrived:
		return service.ToldDelivered
	case r.Last.Outcome == store.Undelivered:
		return service.ToldUndelivered
	}
	return service.ToldHandedOver
}

// untold says of what nobody hears by c.
func untold(c *config.Config) service.Untold {
	if len(c.Reach.Tell) == 0 {
		return service.Untold{All: true}
	}
	mock := c.Reach.OnlyRehearsed(c.Plan.Houses)
	u := service.Untold{Rehearsed: len(mock) > 0, All: len(mock) > len(c.Plan.Houses)}
	for _, id := range mock {
		name := string(service.WatchItself)
		for _, h := range c.Plan.Houses {
			if h.ID == id && id != "" {
				name = cmp.Or(h.Name, string(id))
			}
		}
		u.Of = append(u.Of, name)
	}
	return u
}
