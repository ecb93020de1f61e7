package gateway

import (
	"context"
	"errors"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
	"telltale/gateway/page/service"
	"telltale/gateway/reach"
)

// atHand are the rules with the leaves that run.
func (w *watch) atHand() reach.Rules {
	r := w.rules
	r.Leaves = w.Picture().Leaves
	return r
}

// Line implements service.Line.
func (w *watch) Line() service.Hands {
	r, now := w.atHand(), w.Now()
	h := service.Hands{AtHand: r.AtHand(now), People: r.Line()}
	for _, l := range r.Leaves {
		if h.Known(l.Person) {
			l.StandIn = r.StandIn(l.Person, now)
			h.Away = append(h.Away, l)
		}
	}
	return h
}

// Refusals of a leave.
const (
	refusedEnd    tongue.Text = "The end must be in the future and within 31 days, so nothing was set."
	refusedPerson tongue.Text = "Nobody of that name is told of alarms, so nothing was set."
)

// GoAway implements service.Line.
func (w *watch) GoAway(ctx context.Context, l alarms.Leave, by string) (said string, err error) {
	taken, err := w.goAway(ctx, l, by)
	return w.sentence(taken, say.Of(&w.plan)), err
}

// Back implements service.Line.
func (w *watch) Back(ctx context.Context, person, by string) (said string, err error) {
	taken, err := w.back(ctx, person, by)
	return w.sentence(taken, say.Of(&w.plan)), err
}

// goAway lets somebody be away. Who is to stand in and is away is taken for who stands
// in for them.
func (w *watch) goAway(ctx context.Context, l alarms.Leave, by string) (*alarms.Transition, error) {
	r, now := w.atHand(), w.Now()
	h := service.Hands{People: r.Line()}
	switch {
	case !h.Known(l.Person), l.StandIn != "" && !h.Known(l.StandIn):
		return nil, service.Refuse(refusedPerson)
	case !l.Until.After(now) || l.Until.Sub(now) > alarms.LongestLeave:
		return nil, service.Refuse(refusedEnd)
	}
	r.Leaves = append(r.Leaves[:len(r.Leaves):len(r.Leaves)], alarms.Leave{Person: l.Person, StandIn: l.StandIn, Since: now, Until: l.Until})
	return w.leave(ctx, alarms.Input{Kind: alarms.GoAway, Person: l.Person, StandIn: r.StandIn(l.Person, now), Spared: l.Spared, Until: l.Until, By: by})
}

func (w *watch) back(ctx context.Context, person, by string) (*alarms.Transition, error) {
	return w.leave(ctx, alarms.Input{Kind: alarms.ComeBack, Person: person, By: by})
}

// leave has the core take a leave, and returns what it made of it; nil where nothing
// changed.
func (w *watch) leave(ctx context.Context, in alarms.Input) (taken *alarms.Transition, err error) {
	made, err := w.perform(ctx, in)
	for i, t := range made {
		if l := t.Reason.Leave; l != nil && t.Reason.Rule == alarms.RuleLeave && l.Person == in.Person {
			taken = &made[i]
		}
	}
	return taken, err
}

// sentence is that of what was taken in somebody's words; "" where nothing was.
func (w *watch) sentence(taken *alarms.Transition, m say.Locale) string {
	if taken == nil {
		return ""
	}
	return say.Again(&w.plan, taken, say.Of(&w.plan), m)
}

// away takes that a person is not at hand, by text message: the next in line is told
// too, and the person as before.
func (ph *phones) away(ctx context.Context, person, text string) (string, error) {
	w := ph.p.watch
	answers := w.answersTo(person)
	until, ok := leaveEnd(text, w.Now().In(ph.p.zone()))
	if !ok {
		return answers.Gone(), nil
	}
	taken, err := w.goAway(ctx, alarms.Leave{Person: person, Until: until}, person)
	var refused service.Refusal
	switch {
	case errors.As(err, &refused):
		return answers.Long(), nil
	case err != nil:
		return "", err
	}
	return answers.Sentence(w.sentence(taken, answers.Locale)), nil
}

func (ph *phones) back(ctx context.Context, person string) (string, error) {
	w := ph.p.watch
	answers := w.answersTo(person)
	taken, err := w.back(ctx, person, person)
	if taken == nil {
		return answers.Back(), err
	}
	return answers.Sentence(w.sentence(taken, answers.Locale)), err
}

func (p *parts) zone() *time.Location {
	if z := p.cfg.Plan.Words.Zone; z != nil {
		return z
	}
	return time.UTC
}
