package companion

import (
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
)

// Act is what somebody did at the companion, on its way to the first.
type Act struct {
	ID       int               `json:"id"` // counts up, at one companion
	Kind     string            `json:"kind"`
	Alarm    alarms.AlarmID    `json:"alarm,omitempty"`
	Probe    alarms.ProbeID    `json:"probe,omitempty"`
	Quantity alarms.Quantity   `json:"quantity,omitempty"`
	Value    float64           `json:"value,omitempty"`
	Until    time.Time         `json:"until,omitzero"`
	By       string            `json:"by,omitempty"`
	Note     string            `json:"note,omitempty"`
	House    alarms.HouseID    `json:"house,omitempty"`
	Season   alarms.Season     `json:"season,omitempty"`
	Selector alarms.SelectorID `json:"selector,omitempty"`
	Position string            `json:"position,omitempty"`
	Person   string            `json:"person,omitempty"`
	StandIn  string            `json:"stand_in,omitempty"`
	Spared   bool              `json:"spared,omitempty"`
}

// byPeople are the inputs that people make.
var byPeople = []alarms.InputKind{alarms.Acknowledge, alarms.Shelve, alarms.Unshelve, alarms.TakeOut, alarms.PutBack,
	alarms.SetSeason, alarms.SetSelector, alarms.Calibrate, alarms.GoAway, alarms.ComeBack}

// ActOf is in as an act for the other watch; not ok for what concerns this one alone,
// or is done by nobody.
func ActOf(in alarms.Input) (a Act, ok bool) {
	if !slices.Contains(byPeople, in.Kind) || in.Alarm != "" && Own(in.Alarm) {
		return Act{}, false
	}
	return Act{Kind: in.Kind.String(), Alarm: in.Alarm, Probe: in.Probe, Quantity: in.Quantity, Value: in.Value, Until: in.Until,
		By: in.By, Note: in.Note, House: in.House, Season: in.Season, Selector: in.Selector, Position: in.Position,
		Person: in.Person, StandIn: in.StandIn, Spared: in.Spared}, true
}

// Input is what a does.
func (a Act) Input() (alarms.Input, error) {
	for _, k := range byPeople {
		if k.String() == a.Kind {
			if a.Alarm != "" && Own(a.Alarm) {
				break
			}
			return alarms.Input{Kind: k, Alarm: a.Alarm, Probe: a.Probe, Quantity: a.Quantity, Value: a.Value, Until: a.Until,
				By: a.By, Note: a.Note, House: a.House, Season: a.Season, Selector: a.Selector, Position: a.Position,
				Person: a.Person, StandIn: a.StandIn, Spared: a.Spared}, nil
		}
	}
	return alarms.Input{}, fmt.Errorf("%q on alarm %q is nothing that a companion may do here", a.Kind, a.Alarm)
}

// Subject is what in is about: of two acts with the same subject the newer holds.
func Subject(in alarms.Input) string {
	switch in.Kind {
	case alarms.SetSeason:
		return "season|" + string(in.House)
	case alarms.SetSelector:
		return "selector|" + string(in.House) + "|" + string(in.Selector)
	case alarms.Calibrate:
		return "calibration|" + string(in.Probe) + "|" + string(in.Quantity)
	case alarms.GoAway, alarms.ComeBack:
		return "leave|" + in.Person
	}
	return "alarm|" + string(in.Alarm) + "|" + string(in.Probe)
}

// Done reports whether a, done here before, needs not be given to the first any more:
// the first shows the same, or it has gone on since. r was made after a was given; what
// the first may not know of yet waits until it does.
func (a Act) Done(own alarms.Picture, r *Report) bool {
	here := own.Alarm(a.Alarm).State
	there := r.standing(a.Alarm)
	switch {
	case a.Kind == alarms.Acknowledge.String() && there == nil:
		return here != alarms.Acknowledged
	case a.Kind == alarms.Acknowledge.String():
		return here == alarms.Unacknowledged || there.State != alarms.Unacknowledged && there.State != alarms.ReturnedUnack
	case a.Kind == alarms.Shelve.String():
		return here != alarms.Shelved || there != nil && there.State == alarms.Shelved
	}
	return true
}
