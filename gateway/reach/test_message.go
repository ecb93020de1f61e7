package reach

import (
	"fmt"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// testAlarm is the alarm ID in test messages; no real alarm has it.
const testAlarm alarms.AlarmID = "watch/test-message"

// TestOf returns the name of the test message that a row of TestRows is of.
func TestOf(row string) string {
	name, _, _ := strings.Cut(row, "|")
	return name
}

// TestBegin returns how the IDs of all rows of a test message begin; ok is
// false where name is none of a test message.
func TestBegin(name string) (begin string, ok bool) {
	return name + "|", strings.HasPrefix(name, string(testAlarm)+"#") && !strings.Contains(name, "|")
}

// TestTelling makes a message that shows a channel to work. It says in every
// form that it is a test and that nothing is wrong.
func TestTelling(person, channel string, in tongue.Tongue, now time.Time) Telling {
	e := testEvent(person, channel, in, now)
	return Telling{ID: rowID(e.ID, channel, person, 0), Channel: channel, Person: person, At: now, Test: true, Events: []Event{e}}
}

// TestRows makes a test message for every person on every channel of theirs and
// for every followed channel, as outbox rows: a test then goes the way that an
// alarm goes. Quiet hours do not hold it, since somebody asked for it just now.
func (r Rules) TestRows(now time.Time) ([]Outgoing, error) {
	now = r.local(now)
	var rows []Outgoing
	add := func(person, channel string, in tongue.Tongue) error {
		e := testEvent(person, channel, in, now)
		e.Page = r.Page
		row, err := plainRow(e, channel, person, now)
		rows = append(rows, row)
		return err
	}
	for _, c := range r.Follow {
		if err := add("", c, r.Words.Tongue); err != nil {
			return nil, err
		}
	}
	for _, p := range r.People {
		for _, c := range p.Channels {
			if err := add(p.Name, c, p.Tongue); err != nil {
				return nil, err
			}
		}
	}
	return rows, nil
}

// plainRow is a row of what tells of no transition.
func plainRow(e Event, channel, person string, at time.Time) (Outgoing, error) {
	row, err := newRow(e, alarms.Transition{ID: e.ID, Alarm: e.Alarm}, channel, person, at, false)
	row.Transition = ""
	return row, err
}

func testEvent(person, channel string, in tongue.Tongue, now time.Time) Event {
	said := in.Say("This is a test message from Telltale over the channel %q. Nothing is wrong and there is nothing to do. "+
		"That it arrived shows that alarms can arrive this way.", channel)
	if person != "" {
		said = in.Say("This is a test message from Telltale to %s over the channel %q. Nothing is wrong and there is nothing to do. "+
			"That it arrived shows that alarms can arrive this way.", person, channel)
	}
	return Event{
		Version: formVersion, ID: fmt.Sprintf("%s#%d", testAlarm, now.UnixMilli()), Alarm: testAlarm, Move: alarms.Note,
		Priority: alarms.Low, Due: now, Noticed: now, Test: true, Language: in,
		Headline: in.Say("Test message: nothing is wrong"),
		Sentence: said,
		Reason:   alarms.Reason{Rule: alarms.RulePerson},
	}
}
