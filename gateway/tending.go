package gateway

import (
	"context"

	"telltale/alarms"
	"telltale/alarms/say"
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
				return service.Refusal(one.Reason.Note)
			}
			return nil
		}
	}
	return service.Refusal("not calibrated: the probe measures no " + say.Locale{}.Word(in.Quantity))
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
