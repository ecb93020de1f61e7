package reach

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"telltale/alarms"
)

// lines writes rows as "channel person +delay cancellable" for comparing.
func lines(rows []Outgoing, from time.Time) []string {
	var all []string
	for _, r := range rows {
		text := fmt.Sprintf("%s %s +%s", r.Channel, r.Person, r.NotBefore.Sub(from))
		if r.Cancellable {
			text += " cancellable"
		}
		if r.Replaces {
			text += ", replaces"
		}
		all = append(all, text)
	}
	return all
}

func TestRoute(t *testing.T) {
	night := time.Date(2026, 7, 9, 23, 0, 0, 0, time.UTC) // Ada's quiet hours, 7 h 30 min to go
	at := func(tr alarms.Transition, when time.Time) alarms.Transition {
		tr.Due, tr.Noticed = when, when
		return tr
	}
	ack := with(tooHot(alarms.High), "2", alarms.Ack, alarms.Unacknowledged, alarms.Acknowledged, noon)
	watch := tooHot(alarms.High)
	watch.Alarm, watch.ID, watch.Reason = "watch/broker/silent", "watch/broker/silent#1", alarms.Reason{Rule: alarms.RuleLink}
	again := func(p alarms.Priority, from alarms.State, at time.Time, asked time.Duration) alarms.Transition {
		tr := with(tooHot(p), "3", alarms.Realarm, from, alarms.Unacknowledged, at)
		tr.Reason.Asked, tr.Reason.Lapsed = at.Add(-asked), from == alarms.Acknowledged
		return tr
	}
	ended := over(alarms.High, alarms.Acknowledged, noon, 2*time.Hour)
	ended.Reason.Lapsed = true
	cases := []struct {
		name string
		give alarms.Transition
		want []string
	}{
		{"told again before the next person is", again(alarms.High, alarms.Unacknowledged, noon, 10*time.Minute),
			[]string{"lamps  +0s", "mail Ada +0s cancellable, replaces", "phone Ada +0s cancellable, replaces"}},
		{"told again to the next person too", again(alarms.High, alarms.Unacknowledged, night, 40*time.Minute),
			[]string{"lamps  +0s", "mail Ada +0s cancellable, replaces", "phone Ada +0s cancellable, replaces", "mail Ben +0s cancellable, replaces"}},
		{"whoever took it did not mend it, so the next person is told at once", again(alarms.High, alarms.Acknowledged, noon, time.Minute),
			[]string{"lamps  +0s", "mail Ada +0s cancellable, replaces", "phone Ada +0s cancellable, replaces", "mail Ben +0s cancellable, replaces"}},
		{"told again waits for the end of the quiet hours", again(alarms.Medium, alarms.Unacknowledged, night, 2*time.Hour),
			[]string{"lamps  +0s", "mail Ada +7h30m0s cancellable, replaces", "phone Ada +7h30m0s cancellable, replaces"}},
		{"over for whoever was told that it was not mended", ended,
			[]string{"lamps  +0s", "mail Ada +0s", "phone Ada +0s", "mail Ben +0s"}},
		{"high", tooHot(alarms.High), []string{"lamps  +0s", "mail Ada +0s", "phone Ada +0s", "mail Ben +15m0s cancellable"}},
		{"medium", tooHot(alarms.Medium), []string{"lamps  +0s", "mail Ada +0s", "phone Ada +0s"}},
		{"low waits", tooHot(alarms.Low), []string{"lamps  +0s", "mail Ada +30m0s cancellable"}},
		{"of the watch itself", watch, []string{"lamps  +0s", "mail Ada +0s", "phone Ada +0s", "mail Ben +15m0s cancellable"}},
		{"acknowledging is for followers", ack, []string{"lamps  +0s"}},
		{"high breaks through the quiet hours", at(tooHot(alarms.High), night),
			[]string{"lamps  +0s", "mail Ada +0s", "phone Ada +0s", "mail Ben +15m0s cancellable"}},
		{"medium waits for their end", at(tooHot(alarms.Medium), night),
			[]string{"lamps  +0s", "mail Ada +7h30m0s cancellable", "phone Ada +7h30m0s cancellable"}},
		{"low waits into them", at(tooHot(alarms.Low), night.Add(-75*time.Minute)),
			[]string{"lamps  +0s", "mail Ada +8h45m0s cancellable"}},

		{"over before the next person heard", over(alarms.High, alarms.Unacknowledged, noon, 10*time.Minute),
			[]string{"lamps  +0s", "mail Ada +0s", "phone Ada +0s"}},
		{"over after the next person heard", over(alarms.High, alarms.Unacknowledged, noon, 20*time.Minute),
			[]string{"lamps  +0s", "mail Ada +0s", "phone Ada +0s", "mail Ben +0s"}},
		{"over after somebody took it", over(alarms.High, alarms.Acknowledged, noon, 20*time.Minute),
			[]string{"lamps  +0s", "mail Ada +0s", "phone Ada +0s"}},
		{"over before the patience ended", over(alarms.Low, alarms.Unacknowledged, noon, 10*time.Minute), []string{"lamps  +0s"}},
		{"over after the patience ended", over(alarms.Low, alarms.Unacknowledged, noon, 40*time.Minute), []string{"lamps  +0s", "mail Ada +0s"}},
		{"over within the quiet hours", over(alarms.Medium, alarms.Unacknowledged, night, 10*time.Minute), []string{"lamps  +0s"}},
		{"over in the quiet hours, told before", over(alarms.Medium, alarms.Unacknowledged, night, 2*time.Hour),
			[]string{"lamps  +0s", "mail Ada +7h30m0s", "phone Ada +7h30m0s"}},
		{"over in the night, high", over(alarms.High, alarms.Unacknowledged, night, 5*time.Minute),
			[]string{"lamps  +0s", "mail Ada +0s", "phone Ada +0s"}},
		{"over, lasting unknown", over(alarms.High, alarms.Unacknowledged, noon, 0), []string{"lamps  +0s", "mail Ada +0s", "phone Ada +0s"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if got := lines(route(t, garden(), c.give), c.give.Noticed); !reflect.DeepEqual(got, c.want) {
				t.Errorf("got  %q\nwant %q", got, c.want)
			}
		})
	}
}

// TestWaitingRowsEnd goes through all states: a row that waits is worth keeping
// only while the alarm is unacknowledged.
func TestWaitingRowsEnd(t *testing.T) {
	for to := alarms.Normal; to <= alarms.OutOfService; to++ {
		tr := with(tooHot(alarms.High), "2", alarms.Ack, alarms.Unacknowledged, to, noon)
		if got, want := Cancels(tr), to != alarms.Unacknowledged; got != want {
			t.Errorf("to %s: got %v, want %v", to, got, want)
		}
	}
	if Cancels(with(tooHot(alarms.High), "2", alarms.Note, alarms.Normal, alarms.Normal, noon)) {
		t.Error("a note must cancel nothing")
	}
}

func TestRouteByHouse(t *testing.T) {
	r := garden()
	r.Tell = []Rule{{From: alarms.Low, Houses: []alarms.HouseID{"low-house"}, People: []string{"Ben"}}}
	elsewhere := tooHot(alarms.High)
	here := tooHot(alarms.High)
	here.Reason.House = "low-house"
	if got := lines(route(t, r, elsewhere), noon); !slices.Equal(got, []string{"lamps  +0s"}) {
		t.Errorf("the other house: got %q", got)
	}
	if got := lines(route(t, r, here), noon); !slices.Equal(got, []string{"lamps  +0s", "mail Ben +0s"}) {
		t.Errorf("this house: got %q", got)
	}
}

// TestRouteIsDeterministic: the same transition gives the same rows, byte for
// byte, and no two rows share an ID.
func TestRouteIsDeterministic(t *testing.T) {
	a, b := route(t, garden(), tooHot(alarms.High)), route(t, garden(), tooHot(alarms.High))
	if !reflect.DeepEqual(a, b) {
		t.Errorf("two runs differ:\n%+v\n%+v", a, b)
	}
	seen := map[string]bool{}
	for _, row := range a {
		if seen[row.ID] {
			t.Errorf("two rows are named %q", row.ID)
		}
		seen[row.ID] = true
		if row.Transition != a[0].Transition || row.Alarm != hot {
			t.Errorf("row %s belongs to %q, %q", row.ID, row.Transition, row.Alarm)
		}
	}
	if want := string(hot) + "#1|mail|Ben|after-900s"; !seen[want] {
		t.Errorf("no row is named %q: %v", want, seen)
	}
}

// TestBodyKeepsTheSentence: what is stored for telling later is the transition.
func TestBodyKeepsTheSentence(t *testing.T) {
	r := garden()
	r.Words.Zone = time.FixedZone("", 3600)
	for _, row := range route(t, r, tooHot(alarms.High)) {
		e, err := readEvent(row.Body)
		if err != nil {
			t.Fatal(err)
		}
		if want := tooHot(alarms.High); e.Sentence != want.Sentence || e.Move != want.Move || e.To != want.To ||
			*e.Reason.Value != 33.4 || !e.Due.Equal(want.Due) || e.Due.Format("15:04") != "13:00" {
			t.Errorf("row %s: got %+v", row.ID, e)
		}
	}
	if _, err := readEvent([]byte(`{"version":2}`)); err == nil || err.Error() != "the outbox row was written in form 2; this program reads form 1" {
		t.Errorf("another form: got %v", err)
	}
}

// TestQuietFollowsTheClockOnTheWall uses the rules of European summer time in
// the zone "CET" of the IANA time zone database: on 29 March 2026 the clock
// goes from 02:00 to 03:00, on 25 October back from 03:00 to 02:00.
func TestQuietFollowsTheClockOnTheWall(t *testing.T) {
	cet, err := time.LoadLocation("CET")
	if err != nil {
		t.Fatal(err)
	}
	night := Quiet{From: 22 * time.Hour, To: 6*time.Hour + 30*time.Minute, Zone: cet}
	siesta := Quiet{From: 13 * time.Hour, To: 15 * time.Hour, Zone: cet}
	cases := []struct {
		name     string
		quiet    Quiet
		at, want string // RFC 3339, UTC
	}{
		{"winter evening", night, "2026-01-10T22:00:00Z", "2026-01-11T05:30:00Z"},
		{"winter, after midnight", night, "2026-01-10T23:30:00Z", "2026-01-11T05:30:00Z"},
		{"begin counts in", night, "2026-01-10T21:00:00Z", "2026-01-11T05:30:00Z"},
		{"end does not", night, "2026-01-11T05:30:00Z", "2026-01-11T05:30:00Z"},
		{"by day", night, "2026-01-10T12:00:00Z", "2026-01-10T12:00:00Z"},
		{"summer", night, "2026-07-10T21:00:00Z", "2026-07-11T04:30:00Z"},
		{"clock goes forward", night, "2026-03-28T23:00:00Z", "2026-03-29T04:30:00Z"},
		{"clock goes back", night, "2026-10-24T22:00:00Z", "2026-10-25T05:30:00Z"},
		{"within one day", siesta, "2026-07-10T12:00:00Z", "2026-07-10T13:00:00Z"},
		{"before it", siesta, "2026-07-10T10:59:59Z", "2026-07-10T10:59:59Z"},
		{"none", Quiet{}, "2026-07-10T23:00:00Z", "2026-07-10T23:00:00Z"},
	}
	for _, c := range cases {
		at, _ := time.Parse(time.RFC3339, c.at)
		if got := c.quiet.End(at).UTC().Format(time.RFC3339); got != c.want {
			t.Errorf("%s: %s: got %s, want %s", c.name, c.at, got, c.want)
		}
	}
}
