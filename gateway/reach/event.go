package reach

import (
	"encoding/json"
	"fmt"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
)

// formVersion is the version of all JSON written here. It grows when a field
// changes its meaning or goes; new fields may come without it.
const formVersion = 1

// Event is one transition as it is told. Its JSON is the body of an outbox row,
// the message on the MQTT event topic and an entry of a webhook's list; it is
// described by testdata/schema/alarm-event.json.
type Event struct {
	Version  int             `json:"version"`
	ID       string          `json:"id"` // of the transition
	Alarm    alarms.AlarmID  `json:"alarm"`
	Move     alarms.Move     `json:"move"`
	From     alarms.State    `json:"from"`
	To       alarms.State    `json:"to"`
	Level    alarms.Level    `json:"level"`
	Priority alarms.Priority `json:"priority"`
	Due      time.Time       `json:"due"`     // when it happened
	Noticed  time.Time       `json:"noticed"` // when the watch knew
	// Language is that of Headline, Sentence and what is told with them, by its code of
	// ISO 639-1; English where none is given.
	Language  tongue.Tongue `json:"language,omitempty"`
	Headline  string        `json:"headline"`
	Sentence  string        `json:"sentence"`
	Reason    alarms.Reason `json:"reason"`
	HouseName string        `json:"house_name,omitempty"`
	Page      string        `json:"page,omitempty"` // where to see and acknowledge
	// Acknowledge is where this person acknowledges the alarm with one tap. It is
	// a permission: whoever has it can do so in that person's name.
	Acknowledge string `json:"acknowledge,omitempty"`
	// Unanswered is for how long nobody had acknowledged when this person was
	// told because of that, in seconds.
	Unanswered int  `json:"unanswered_s,omitzero"`
	Test       bool `json:"test,omitempty"`
	// Letter says that it is a letter, or a trial, and tells of no alarm. Short is the
	// same in one text message; Acknowledge is where the person says that it arrived.
	Letter bool   `json:"letter,omitempty"`
	Short  string `json:"short,omitempty"`
}

// newEventIn is newEvent in a language.
func (r Rules) newEventIn(l tongue.Tongue, t alarms.Transition) Event {
	kept := say.In(r.Words)
	r.Words.Tongue = l
	if r.Plan != nil {
		t = say.Retold(r.Plan, t, kept, say.In(r.Words))
	}
	return r.newEvent(t)
}

// newEvent writes t down as an event, with times in the zone of r.Words.
func (r Rules) newEvent(t alarms.Transition) Event {
	e := Event{
		Version: formVersion, ID: t.ID, Alarm: t.Alarm, Move: t.Move, From: t.From, To: t.To,
		Level: t.Level, Priority: t.Priority, Due: r.local(t.Due), Noticed: r.local(t.Noticed),
		Language: r.Words.Tongue, Sentence: t.Sentence, Reason: t.Reason, HouseName: r.houseName(t.Reason.House), Page: r.Page,
	}
	e.Reason.Since, e.Reason.Until = r.local(e.Reason.Since), r.local(e.Reason.Until)
	e.Headline = headline(e, say.In(r.Words))
	return e
}

// over reports whether e says that nothing is wrong any more: the alarm has
// ended, or what hid it has gone and nothing was behind it.
func (e Event) over() bool {
	return e.Move == alarms.Return || e.To == alarms.Normal && e.Move != alarms.Note
}

// handsOver reports whether e tells of an alarm that is on in the place of somebody.
func (e Event) handsOver() bool { return alarms.Transition{Reason: e.Reason}.HandsOver() }

// local puts t into the zone of the words; a zero time stays zero.
func (r Rules) local(t time.Time) time.Time {
	switch {
	case t.IsZero():
		return time.Time{}
	case r.Words.Zone == nil:
		return t.UTC()
	}
	return t.In(r.Words.Zone)
}

func (r Rules) houseName(id alarms.HouseID) string {
	for _, h := range r.Houses {
		if h.ID == id && h.Name != "" {
			return h.Name
		}
	}
	return string(id)
}

// readEvent reads the body of an outbox row.
func readEvent(body []byte) (Event, error) {
	var e Event
	if err := json.Unmarshal(body, &e); err != nil {
		return Event{}, fmt.Errorf("the body of the outbox row is not an event: %w", err)
	}
	if e.Version != formVersion {
		return Event{}, fmt.Errorf("the outbox row was written in form %d; this program reads form %d", e.Version, formVersion)
	}
	return e, nil
}
