package gateway

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"maps"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/gateway/config"
	"telltale/gateway/page/service"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// tellingGarden is a house whose people are told as channels say.
func tellingGarden(t *testing.T, dir, channels string) *config.Config {
	t.Helper()
	c, err := read(`
[house.long-house]
name = "Long House"
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 33
delay = "1s"
quick-delay = "1s"
[probe.bench-1]
place = "long-house/bench"
every = "10m"
topic = "g/bench"
temperature = { jump = "any" }
[own-broker]
address = "127.0.0.1:0"
[page]
address = "127.0.0.1:0"
[metrics]
on-page = true
`+channels, filepath.Join(dir, "store"))
	ok(t, err)
	return c
}

const rehearsing = `
[channel.mail]
kind = "mail"
rehearse = true
server = "127.0.0.1:25"
security = "none"
from = "watch@example.org"
[person.ada]
name = "Ada"
mail = "ada@example.org"
channels = ["mail"]
[[tell]]
people = ["ada"]
`

func holds(t *testing.T, what, text string, wants ...string) {
	t.Helper()
	for _, want := range wants {
		if !strings.Contains(text, want) {
			t.Errorf("%s lacks %q:\n%s", what, want, text)
		}
	}
}

func holdsNot(t *testing.T, what, text string, wrong ...string) {
	t.Helper()
	for _, w := range wrong {
		if strings.Contains(text, w) {
			t.Errorf("%s says %q:\n%s", what, w, text)
		}
	}
}

var partOf = regexp.MustCompile(`data-part="([^"]+)"`)

// tested presses the button and returns the page once all is known.
func tested(t *testing.T, w *tendWatch) (text string) {
	t.Helper()
	text = w.post("/", "/test-message", url.Values{})
	m := partOf.FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("the button leads to\n%s", text)
	}
	await(t, "all is known", func() bool {
		text = w.get(html.UnescapeString(m[1]))
		return !strings.Contains(text, "waiting")
	})
	return text
}

// A garden in which every channel only rehearses tells nobody. That must be
// said wherever it is said who was told, and of the test message too.
func TestARehearsalIsNowhereSaidToHaveToldAnybody(t *testing.T) {
	t.Parallel()
	w := tend(t, tellingGarden(t, t.TempDir(), rehearsing))
	w.send("40")
	await(t, "the alarm is on", func() bool { return stateOf(w.parts.watch.Picture(), benchHigh) == alarms.Unacknowledged })
	told := ""
	await(t, "the rehearsal is written down", func() bool {
		told = w.get("/told")
		return !strings.Contains(told, "waiting") && strings.Contains(told, "Ada by mail")
	})
	holds(t, "who was told", told, "only rehearsed", "Nothing was sent: the channel only rehearses.", "Nobody is told of alarms.")
	holdsNot(t, "who was told", told, "handed over", "The next party took it", "The mail server took it", `outcome went`)
	alarm := w.get("/alarm?id=" + benchHigh)
	holds(t, "the page of the alarm", alarm, "Nobody has been told of what stands above so far.", "only rehearsed")
	holds(t, "the first page", w.get("/"), "Nobody is told of alarms.", "every channel that would tell only rehearses")
	api := w.get("/api/v1/told")
	holds(t, "the API", api, `"outcome":"rehearsed"`, `"kind":"mail"`)
	holds(t, "the state", w.get("/api/v1/state"), `"untold":"Nobody is told of alarms. They show`)
	figures := w.get("/metrics")
	holds(t, "the metrics", figures, `telltale_outbox_attempts_total{channel="mail",result="sent"} 0`, `{channel="mail",result="rehearsed"} 1`)

	text := tested(t, w)
	holds(t, "the test message", text, "Ada by mail", "only rehearsed", "Nothing was sent: every channel only rehearses. An alarm would reach nobody.")
	holdsNot(t, "the test message", text, "handed over", "Sent on every way", `outcome went`, "Look again")
	if d := w.parts.mute(); d != "" {
		t.Errorf("a rehearsal is taken for a failing channel: %s", d)
	}
}

// The test message to a mail server that is dead must say so: awaited, for each
// person and channel, with the reason. Others on the way are not held up.
func TestATestMessageToADeadMailServerIsSaidToHaveFailed(t *testing.T) {
	t.Parallel()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	ok(t, err)
	dead := l.Addr().String()
	ok(t, l.Close())
	w := tend(t, tellingGarden(t, t.TempDir(), fmt.Sprintf(`
[channel.lamp]
kind = "mqtt"
[channel.slip]
kind = "command"
run = ["/bin/true"]
[channel.horn]
kind = "command"
run = ["/bin/false"]
[channel.mail]
kind = "mail"
server = %q
security = "none"
from = "watch@example.org"
[person.ada]
name = "Ada"
mail = "ada@example.org"
channels = ["mail", "slip"]
[person.ben]
name = "Ben"
mail = "ben@example.org"
channels = ["mail", "horn"]
[[tell]]
people = ["ada", "ben"]
`, dead)))
	text := tested(t, w)
	holds(t, "the test message", text, "Ada by mail", "Ada by slip", "Ben by mail", "Ben by horn", "Whoever follows lamp",
		"failed so far", "Why: ", "ended with exit status 1", "The program took it and ended well", "The broker took it",
		"Of 5 ways: 2 sent, 3 failed. Mend what failed now, while nothing else is wrong.", "Look again")
	if n := strings.Count(text, "outcome failed"); n != 3 {
		t.Errorf("%d of 5 ways are said to have failed, want 3:\n%s", n, text)
	}
	holdsNot(t, "the test message", text, "handed over", "Sent on every way")
	holdsNot(t, "the first page", w.get("/"), "Nobody is told of alarms")
}

// What is known of a test message stays known when the watch is stopped in the
// middle of it, and what was cut short is sent after the start.
func TestARestartInTheMiddleOfATestMessageLosesNoOutcome(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	go1 := filepath.Join(dir, "go")
	c := tellingGarden(t, dir, fmt.Sprintf(`
[channel.slip]
kind = "command"
run = ["/bin/true"]
[channel.slow]
kind = "command"
run = ["/bin/sh", "-c", "while [ ! -e %s ]; do sleep 0.1; done"]
[person.ada]
name = "Ada"
channels = ["slip", "slow"]
[[tell]]
people = ["ada"]
`, go1))
	w := tend(t, c)
	id, err := w.parts.watch.TestMessage(t.Context(), "")
	ok(t, err)
	at := "/test-message?of=" + url.QueryEscape(id)
	await(t, "the quick way is known", func() bool { return strings.Contains(w.get(at), "The program took it and ended well") })
	holds(t, "in the middle", w.get(at), "It is being sent; no answer has come yet.", "Of 2 ways: 1 sent, 1 not known yet.", "Look again")
	w.stop()

	w = tend(t, c)
	holds(t, "after the restart", w.get(at), "Ada by slip", "The program took it and ended well", "Ada by slow", "waiting")
	ok(t, os.WriteFile(go1, nil, 0o600))
	await(t, "it is sent", func() bool { return strings.Contains(w.get(at), "Sent on every way.") })
	holdsNot(t, "at the end", w.get(at), "Look again", "waiting")
}

func TestATestMessageGoesOverOneChannel(t *testing.T) {
	t.Parallel()
	w := tend(t, tellingGarden(t, t.TempDir(), `
[channel.slip]
kind = "command"
run = ["/bin/true"]
[channel.horn]
kind = "command"
run = ["/bin/false"]
[channel.spare]
kind = "command"
run = ["/bin/true"]
[person.ada]
name = "Ada"
channels = ["slip", "horn"]
[[tell]]
people = ["ada"]
`))
	id, err := w.parts.watch.TestMessage(t.Context(), "slip")
	ok(t, err)
	all, err := w.parts.watch.Tested(t.Context(), id)
	ok(t, err)
	if len(all) != 1 || all[0].Channel != "slip" || all[0].Person != "Ada" {
		t.Errorf("it goes %+v", all)
	}
	for _, none := range []string{"spare", "nothing"} {
		var no service.Refusal
		if _, err := w.parts.watch.TestMessage(t.Context(), none); !errors.As(err, &no) || !strings.Contains(no.Error(), "Nobody is told over this channel yet") {
			t.Errorf("over %s: %v", none, err)
		}
	}
}

func TestAnUnknownTestMessageIsNone(t *testing.T) {
	t.Parallel()
	w := tend(t, tellingGarden(t, t.TempDir(), rehearsing))
	for _, id := range []string{"", "watch/test-message#1", benchHigh + "#1", "watch/test-message#1|mail"} {
		if all, err := w.parts.watch.Tested(t.Context(), id); err != nil || len(all) != 0 {
			t.Errorf("of %q came %v, %v", id, all, err)
		}
	}
	w.parts.watch.rules = reach.Rules{}
	var no service.Refusal
	if _, err := w.parts.watch.TestMessage(t.Context(), ""); !errors.As(err, &no) || !strings.Contains(no.Error(), "Nobody is set up to be told") {
		t.Errorf("with nobody to be told: %v", err)
	}
}

// What begins and ends in the same second calls nobody, though it is followed
// and logged; what lasts, and what was told before, is told.
func TestWhatPassesWithinASecondCallsNobody(t *testing.T) {
	at := time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC)
	judge, err := engine.New(alarms.Plan{})
	ok(t, err)
	o := owner{recovery: recovery{engine: judge}, clock: NewSteppedClock(at, 1), rules: reach.Rules{
		People:   []reach.Person{{Name: "Ada", Channels: []string{"mail"}}},
		Tell:     []reach.Rule{{People: []string{"Ada"}, From: alarms.Low}},
		Follow:   []string{"lamp"},
		Channels: []string{"mail", "lamp"},
	}}
	move := func(id, alarm string, m alarms.Move, lasted time.Duration) alarms.Transition {
		tr := alarms.Transition{ID: id, Alarm: alarms.AlarmID(alarm), Move: m, To: alarms.Unacknowledged, Priority: alarms.High, Due: at, Noticed: at}
		if m == alarms.Realarm {
			tr.From = alarms.Unacknowledged
		}
		if m == alarms.Return {
			tr.From, tr.To, tr.Reason.Lasted = alarms.Unacknowledged, alarms.ReturnedUnack, lasted
		}
		return tr
	}
	rows := o.route([]alarms.Transition{
		move("old#2", "old", alarms.Return, time.Millisecond), move("brief#1", "brief", alarms.Raise, 0), move("lasts#1", "lasts", alarms.Raise, 0),
		move("brief#2", "brief", alarms.Return, 500*time.Millisecond), move("lasts#2", "lasts", alarms.Return, 2*time.Second), move("stays#1", "stays", alarms.Raise, 0),
		move("again#5", "again", alarms.Realarm, 0), move("again#6", "again", alarms.Return, time.Hour),
	})
	got := map[string]string{}
	for _, r := range rows {
		got[r.Transition] += r.Channel + " "
	}
	want := map[string]string{"old#2": "lamp mail ", "brief#1": "lamp ", "lasts#1": "lamp mail ", "brief#2": "lamp ", "lasts#2": "lamp mail ", "stays#1": "lamp mail ", "again#5": "lamp ", "again#6": "lamp mail "}
	if !maps.Equal(got, want) {
		t.Errorf("told by %v, want %v", got, want)
	}
}

// A telling that was put off says what for.
func TestATellingThatIsHeldSaysWhatFor(t *testing.T) {
	night := time.Date(2026, 6, 21, 23, 30, 0, 0, time.UTC)
	r := reach.Rules{
		People: []reach.Person{{Name: "Ada", Channels: []string{"mail"}, Quiet: reach.Quiet{From: 22 * time.Hour, To: 7 * time.Hour, Zone: time.UTC}},
			{Name: "Ben", Channels: []string{"mail"}}},
		Tell:     []reach.Rule{{People: []string{"Ada"}, From: alarms.Low}, {People: []string{"Ben"}, From: alarms.Low, After: 15 * time.Minute}},
		Channels: []string{"mail"},
	}
	c := NewSteppedClock(night, 1)
	c.Step(3 * time.Hour) // which changes nothing of why
	tr := alarms.Transition{ID: "a#1", Alarm: "a", Move: alarms.Raise, To: alarms.Unacknowledged, Priority: alarms.Medium, Due: night, Noticed: night.Add(time.Millisecond + 1)}
	for who, want := range map[string]struct {
		wait service.ToldWait
		p    alarms.Priority
	}{"Ada quiet": {service.WaitsQuiet, alarms.Medium}, "Ben waits": {service.WaitsAnswer, alarms.Medium}, "Ada high": {service.WaitsNot, alarms.High}} {
		tr.Priority = want.p
		rows, err := r.Route(tr)
		ok(t, err)
		person, _, _ := strings.Cut(who, " ")
		i := slices.IndexFunc(rows, func(o reach.Outgoing) bool { return o.Person == person })
		if i < 0 {
			t.Fatalf("%s: not told", who)
		}
		row := slices.Clone(rows[i : i+1])[0]
		if got := tellingOf(store.Telling{Outgoing: row, Told: tr, HasTold: true}, c); got.Waits != want.wait {
			t.Errorf("%s: waits for %q, want %q", who, got.Waits, want.wait)
		}
		if got := tellingOf(store.Telling{Outgoing: row, Last: &store.Attempt{Outcome: store.Failed}}, c); got.Waits != service.WaitsNot {
			t.Errorf("%s: once tried, it waits for %q", who, got.Waits)
		}
	}
}

// What was told, rehearsed or given up while the disk refused is written down
// as that, with the reason, once the disk takes it.
func TestWhatCameOfATellingWhileTheDiskRefusedIsKept(t *testing.T) {
	t.Parallel()
	s, o := newShelf(t)
	tr, rows := raisedRows("a", 1, noon)
	o.tellUnsaved([]alarms.Transition{tr}, rows)
	attempt(t, o, "a#1|slip|grower", reach.Rehearsed, time.Time{})
	ok(t, o.Attempted(context.Background(), []reach.Attempt{{Row: "a#1|slip|neighbour", Channel: "slip", Person: "neighbour", Began: noon,
		Outcome: reach.Refused, Detail: "no such mailbox"}}))
	save(t, s, o, []alarms.Transition{tr}, rows)
	got, err := s.Outbox.Tellings(t.Context(), store.TellingsQuery{})
	ok(t, err)
	if len(got) != 2 || got[1].State != store.TellingRehearsed || got[0].State != store.TellingAbandoned || got[0].Last.Error != "no such mailbox" {
		t.Errorf("kept are %+v", got)
	}
}

// Of what nobody is told depends on what really sends.
func TestAHouseThatOnlyRehearsesIsNamed(t *testing.T) {
	const two = `
[channel.slip]
kind = "command"
run = ["/bin/true"]
[channel.lamp]
kind = "mqtt"
[person.ben]
channels = ["slip"]
`
	for name, c := range map[string]struct {
		channels string
		want     service.Untold
	}{
		"one really sends": {rehearsing + two + "[[tell]]\npeople = [\"ben\"]\n", service.Untold{}},
		"for another house": {rehearsing + two + "[house.low-house]\nname = \"Low House\"\nlatitude = 52.0\nlongitude = -2.0\n[house.low-house.place.bed]\n" +
			"[probe.bed-1]\nplace = \"low-house/bed\"\ntopic = \"g/bed\"\ntemperature = {}\n[[tell]]\nhouses = [\"long-house\"]\npeople = [\"ben\"]\n",
			service.Untold{Rehearsed: true, Of: []string{"the watch itself", "Low House"}}},
		"a lamp is nobody": {rehearsing + "[channel.lamp]\nkind = \"mqtt\"\n", service.Untold{Rehearsed: true, All: true, Of: []string{"the watch itself", "Long House"}}},
		"meant so":         {"[nobody-told]\nbecause = \"only tried out\"\n", service.Untold{All: true}},
	} {
		got := untold(tellingGarden(t, t.TempDir(), c.channels))
		a, err := json.Marshal(got)
		ok(t, err)
		b, err := json.Marshal(c.want)
		ok(t, err)
		if string(a) != string(b) {
			t.Errorf("%s: got %s, want %s", name, a, b)
		}
	}
}

// Whom a config says it tells are those whom something is really sent.
func TestWhoOnlyRehearsesIsNobodyToTell(t *testing.T) {
	const ben = "[channel.slip]\nkind = \"command\"\nrun = [\"/bin/true\"]\n[person.ben]\nchannels = [\"slip\", \"mail\"]\nmail = \"ben@example.org\"\n"
	for name, c := range map[string]struct {
		channels string
		want     int
	}{
		"all rehearse":          {rehearsing, 0},
		"one is never named":    {rehearsing + ben, 0},
		"over one that does":    {rehearsing + ben + "[[tell]]\npeople = [\"ben\"]\nchannels = [\"mail\"]\n", 0},
		"over one that is real": {rehearsing + ben + "[[tell]]\npeople = [\"ben\"]\n", 1},
	} {
		if got := tellingGarden(t, t.TempDir(), c.channels).Reach.Hearers(); got != c.want {
			t.Errorf("%s: %d hear, want %d", name, got, c.want)
		}
	}
}
