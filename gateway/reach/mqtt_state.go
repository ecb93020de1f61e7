package reach

import (
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
)

// Word is the whole state in one word, for a lamp that shows nothing else.
type Word string

// Words, best first.
const (
	Calm  Word = "calm"  // nothing is wrong that the watch knows of: no light
	Taken Word = "taken" // something is wrong and somebody has acknowledged all of it, or put it aside: steady light
	Look  Word = "look"  // low or medium, or already over, and nobody has acknowledged: slow flashing
	Act   Word = "act"   // high priority, and nobody has acknowledged: quick flashing, siren
	Blind Word = "blind" // nobody watches: the watch has stopped or lost the broker
)

// AlarmState is the state of one alarm as retained at the broker. It is
// described by testdata/schema/alarm-state.json.
type AlarmState struct {
	Version    int             `json:"version"`
	Alarm      alarms.AlarmID  `json:"alarm"`
	State      alarms.State    `json:"state"`
	Active     bool            `json:"active"`
	Holds      bool            `json:"holds,omitempty"` // put aside, and what it tells of still holds
	Level      alarms.Level    `json:"level"`
	Priority   alarms.Priority `json:"priority"`
	House      alarms.HouseID  `json:"house,omitempty"`
	Place      alarms.PlaceID  `json:"place,omitempty"`
	Quantity   alarms.Quantity `json:"quantity,omitempty"`
	Rule       alarms.Rule     `json:"rule,omitempty"`
	Since      time.Time       `json:"since,omitzero"` // when it was raised, or came into this state
	Until      time.Time       `json:"until,omitzero"` // end of shelving
	Cause      alarms.AlarmID  `json:"cause,omitempty"`
	Sentence   string          `json:"sentence,omitempty"`
	Transition string          `json:"transition,omitempty"` // ID of its newest transition, where known
	At         time.Time       `json:"at"`                   // when this was so
}

func stateOf(e Event) AlarmState {
	s := AlarmState{
		Version: formVersion, Alarm: e.Alarm, State: e.To, Active: e.To.Active(), Level: e.Level, Priority: e.Priority,
		House: e.Reason.House, Place: e.Reason.Place, Quantity: e.Reason.Quantity, Rule: e.Reason.Rule,
		Since: e.Due.UTC(), Cause: e.Reason.Cause, Sentence: e.Sentence, Transition: e.ID, At: e.Noticed.UTC(),
	}
	if s.Active && !e.Reason.Since.IsZero() {
		s.Since = e.Reason.Since.UTC()
	}
	s.Holds = s.State.Aside() && s.Level != alarms.Within
	if s.State == alarms.Shelved {
		s.Until = e.Reason.Until.UTC()
	}
	return s
}

// stateInPicture is what the broker keeps of a: what was told, never what holds
// now.
func stateInPicture(a alarms.AlarmPicture, at time.Time) AlarmState {
	return AlarmState{
		Version: formVersion, Alarm: a.ID, State: a.State, Active: a.State.Active(), Holds: a.StillAside(), Level: a.Level, Priority: a.Priority,
		House: a.House, Place: a.Place, Quantity: a.Quantity, Rule: a.Rule, Since: a.Since.UTC(), Until: a.Until.UTC(),
		Cause: a.Cause, Sentence: a.Told, Transition: a.Transition, At: at.UTC(),
	}
}

// newerThan compares by the count in the transition's ID, and where one of them
// has none by time.
func (s AlarmState) newerThan(old AlarmState) bool {
	a, okA := countOf(s.Transition)
	b, okB := countOf(old.Transition)
	if okA && okB {
		return a > b
	}
	return !s.At.Before(old.At)
}

// countOf reads the count behind the hash sign of a transition ID.
func countOf(id string) (n uint64, ok bool) {
	i := strings.LastIndexByte(id, '#')
	if i < 0 {
		return 0, false
	}
	n, err := strconv.ParseUint(id[i+1:], 10, 64)
	return n, err == nil
}

// wordOf sums up the alarms of a house; an empty house means all alarms.
func wordOf(states map[alarms.AlarmID]AlarmState, house alarms.HouseID) Word {
	word := Calm
	for _, s := range states {
		if house == "" || s.House == house {
			word = worse(word, s.word())
		}
	}
	return word
}

func (s AlarmState) word() Word {
	switch {
	case s.State == alarms.Unacknowledged && s.Priority == alarms.High:
		return Act
	case s.State == alarms.Unacknowledged, s.State == alarms.ReturnedUnack:
		return Look
	case s.State == alarms.Acknowledged, s.Holds:
		return Taken
	}
	return Calm
}

func worse(a, b Word) Word {
	for _, w := range []Word{Act, Look, Taken} {
		if a == w || b == w {
			return w
		}
	}
	return Calm
}
