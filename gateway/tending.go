package gateway

import (
	"context"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
	"telltale/gateway/page/service"
)

// tending implements service.Tending; what was before is answered by past.
type tending struct{ *watch }

// Calibrate implements service.Tending.
func (t *tending) Calibrate(ctx context.Context, in alarms.Input) error {
	made, err := t.perform(ctx, in)
	if err != nil {
		return err
	}
	for _, one := range made {
		if one.Move == alarms.Note && one.Reason.Probe == in.Probe && one.Reason.Rule == alarms.RulePerson {
			if one.Reason.Value == nil {
				return service.Refusal{Saying: tongue.Saying{Args: []any{retold{&t.plan, one}}}}
			}
			return nil
		}
	}
	return service.Refuse("not calibrated: the probe measures no %s", quantityWord(in.Quantity))
}

// retold is the note of a transition, in the words of any language.
type retold struct {
	plan *alarms.Plan
	of   alarms.Transition
}

// In is the note in a language.
func (n retold) In(t tongue.Tongue) string {
	words := n.plan.Words
	words.Tongue = t
	return say.Retold(n.plan, n.of, say.Of(n.plan), say.In(words)).Reason.Note
}

// quantityWord is what a quantity is called, in any language.
type quantityWord alarms.Quantity

// In is the word in a language.
func (q quantityWord) In(t tongue.Tongue) string {
	return say.Locale{Tongue: t}.Word(alarms.Quantity(q))
}

// Hearers implements service.Tending.
func (t *tending) Hearers() (people, channels []string) {
	for _, p := range t.rules.People {
		people = append(people, p.Name)
	}
	follows := map[string]bool{}
	for _, c := range t.rules.Follow {
		follows[c] = true
	}
	for _, c := range t.rules.Channels {
		if !follows[c] {
			channels = append(channels, c)
		}
	}
	return people, channels
}
