package reach

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// linking are the rules of the garden with links; Ben may look only.
func linking() Rules {
	r := garden()
	r.LinksFor = 24 * time.Hour
	r.Link = func(a alarms.AlarmID, transition, person string, until time.Time) string {
		return fmt.Sprintf("https://garden.example.org/tap?t=%s,%s,%s,%s", a, transition, person, until.UTC().Format(time.RFC3339))
	}
	r.People[1].NoLink = true
	return r
}

// rowsOf maps channel and person to the event that they are told.
func rowsOf(t *testing.T, rows []Outgoing) map[string]Event {
	t.Helper()
	out := map[string]Event{}
	for _, row := range rows {
		e, err := readEvent(row.Body)
		if err != nil {
			t.Fatal(err)
		}
		out[row.Channel+" "+row.Person] = e
		checkAgainst(t, "alarm-event.json", row.Body)
	}
	return out
}

func TestLinksGoToThePersonAlone(t *testing.T) {
	events := rowsOf(t, route(t, linking(), tooHot(alarms.High)))
	want := "https://garden.example.org/tap?t=" + string(hot) + "," + string(hot) + "#1,Ada,2026-07-10T12:00:00Z"
	for who, e := range events {
		if strings.HasSuffix(who, " Ada") != (e.Acknowledge == want) || !strings.HasSuffix(who, " Ada") && e.Acknowledge != "" {
			t.Errorf("%s: got the link %q", who, e.Acknowledge)
		}
	}
	if len(events) != 4 {
		t.Errorf("got %d rows, want 4: Ada twice, Ben and the lamps", len(events))
	}
	text := Text(Telling{Person: "Ada", Channel: "mail", At: noon, Events: []Event{events["mail Ada"]}})
	if !strings.Contains(text, "\nAcknowledge this one with one tap: "+want+"\n") || !strings.Contains(text, "See and acknowledge here:") {
		t.Errorf("the text does not give both ways:\n%s", text)
	}
	if text := Text(Telling{Person: "Ben", Channel: "mail", At: noon, Events: []Event{events["mail Ben"]}}); strings.Contains(text, "/tap?") {
		t.Errorf("Ben may look only and gets a link:\n%s", text)
	}
}

// A link lives from when its person is told, not from when it began.
func TestALinkLivesFromItsTelling(t *testing.T) {
	r := linking()
	r.People[1].NoLink = false
	e := rowsOf(t, route(t, r, tooHot(alarms.High)))["mail Ben"]
	if !strings.HasSuffix(e.Acknowledge, ",Ben,2026-07-10T12:15:00Z") {
		t.Errorf("got %q, want one that lives a day from 12:15", e.Acknowledge)
	}
}

func TestNoLinkWhereNothingWaits(t *testing.T) {
	for _, c := range []struct {
		tr   alarms.Transition
		want bool
	}{
		{over(alarms.High, alarms.Unacknowledged, noon.Add(time.Hour), time.Hour), true},
		{over(alarms.High, alarms.Acknowledged, noon.Add(time.Hour), time.Hour), false},
		{with(tooHot(alarms.High), "2", alarms.Worsen, alarms.Acknowledged, alarms.Unacknowledged, noon), true},
	} {
		rows := rowsOf(t, route(t, linking(), c.tr))
		if e, ok := rows["mail Ada"]; !ok || (e.Acknowledge != "") != c.want {
			t.Errorf("%s to %s: told %v, link %q, want one: %v", c.tr.Move, c.tr.To, ok, e.Acknowledge, c.want)
		}
	}
	note := with(tooHot(alarms.High), "2", alarms.Note, alarms.Unacknowledged, alarms.Unacknowledged, noon)
	if got := linking().link(note, linking().People[0], noon); got != "" {
		t.Errorf("a note has the link %q", got)
	}
}

// Rows are the same whenever they are made, links and all: saving them twice
// after a crash is harmless.
func TestLinksAreTheSameAgain(t *testing.T) {
	a, b := route(t, linking(), tooHot(alarms.High)), route(t, linking(), tooHot(alarms.High))
	for i := range a {
		if string(a[i].Body) != string(b[i].Body) {
			t.Errorf("row %s: %s, then %s", a[i].ID, a[i].Body, b[i].Body)
		}
	}
}
