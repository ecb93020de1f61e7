package gateway

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"telltale/alarms"
	"telltale/gateway/modem"
	"telltale/gateway/modem/sim"
	"telltale/gateway/page/service"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

const (
	adasPhone = "+447700900123"
	bensPhone = "+447700900456"
)

// textConfig is a garden whose people are told by text message, and whose
// modem is at %q.
const textConfig = `
[house.long-house]
name = "Long House"
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 33
high-high = 40
delay = "1s"
quick-delay = "1s"
clear-delay = "1s"
[house.long-house.place.ridge.temperature]
high = 45
delay = "1s"
quick-delay = "1s"
[probe.bench-1]
place = "long-house/bench"
every = "10m"
topic = "g/bench"
temperature = { jump = "any" }
[probe.ridge-1]
place = "long-house/ridge"
every = "10m"
topic = "g/ridge"
temperature = { jump = "any" }
[own-broker]
address = "127.0.0.1:0"
[page]
address = "127.0.0.1:0"
[modem]
device = %q
ring-for = "5s"
[channel.sms]
kind = "text"
at-once = 100
[channel.bell]
kind = "ring"
[person.ada]
name = "Ada"
phone = "+44 7700 900123"
channels = ["sms"]
[person.ben]
name = "Ben"
phone = "+44 7700 900456"
channels = ["sms", "bell"]
[[tell]]
people = ["ada"]
[[tell]]
people = ["ben"]
from-priority = "high"
channels = ["bell"]
`

// texted is a running watch with a modem that plays.
type texted struct {
	*parts
	t     *testing.T
	sim   *sim.Modem
	probe mqtt.Client
	stop  func()
	at    Running
}

func withModem(t *testing.T, o sim.Options) *texted {
	t.Helper()
	dir := t.TempDir()
	s, err := sim.Start(filepath.Join(dir, "modem"), o)
	ok(t, err)
	t.Cleanup(s.Close)
	c, err := read(fmt.Sprintf(textConfig, s.Device()), filepath.Join(dir, "store"))
	ok(t, err)
	g := &texted{t: t, sim: s}
	g.parts, g.at, g.stop = running(t, c)
	g.probe = dial(t, g.at.Broker, g.at.User, g.at.Password)
	await(t, "the modem is ready", func() bool { return g.phones.State().Ready })
	return g
}

func (g *texted) send(topic, payload string) {
	g.t.Helper()
	if token := g.probe.Publish(topic, 1, false, payload); !token.WaitTimeout(5*time.Minute) || token.Error() != nil {
		g.t.Fatalf("%s was not taken: %v", topic, token.Error())
	}
}

func (g *texted) state(id alarms.AlarmID) alarms.State { return stateOf(g.watch.Picture(), id) }

// textTo awaits a text with some words.
func (g *texted) textTo(number, words string) string {
	g.t.Helper()
	found := ""
	await(g.t, "a text to "+number+" says "+words, func() bool {
		for _, s := range g.sim.Texts() {
			if s.To == number && strings.Contains(s.Text, words) {
				found = s.Text
			}
		}
		return found != ""
	})
	return found
}

func TestAnAlarmIsToldByTextAndAcknowledgedByOne(t *testing.T) {
	t.Parallel()
	g := withModem(t, sim.Options{Network: 1, Signal: 17, ReportAfter: 50 * time.Millisecond})
	g.send("g/bench", "34.0")
	text := g.textTo(adasPhone, "Too hot in Long House, bench: 34.0 C (limit 33.0 C)")
	if !regexp.MustCompile(`^Medium: .* Reply OK to acknowledge\. \(#[0-9a-f]{4}\)$`).MatchString(text) {
		t.Errorf("the text reads %q", text)
	}
	var last store.Telling
	await(t, "the page says that it was delivered", func() bool {
		rows, err := g.store.Outbox.Tellings(context.Background(), store.TellingsQuery{Person: "Ada"})
		ok(t, err)
		last = rows[len(rows)-1]
		return outcomeShown(last) == service.ToldDelivered
	})
	if last.Attempts != 1 || last.Last.Outcome != store.Arrived {
		t.Errorf("the row is %+v", last)
	}

	g.sim.Keep("+447700900999", "OK", time.Now(), false) // a stranger's
	g.sim.Keep(adasPhone, "Thanks!", time.Now(), false)
	g.textTo(adasPhone, "not understood")
	if s := g.state(benchHigh); s != alarms.Unacknowledged {
		t.Fatalf("the alarm is %v, though nobody acknowledged", s)
	}
	g.sim.Keep(adasPhone, "Ok Ada", time.Now(), false)
	if got := g.textTo(adasPhone, "Acknowledged"); !strings.HasPrefix(got, "Acknowledged: Long House, bench: too hot. You are told again at ") {
		t.Errorf("the answer reads %q", got)
	}
	if s := g.state(benchHigh); s != alarms.Acknowledged {
		t.Errorf("after OK the alarm is %v", s)
	}
	log, err := g.watch.Log(context.Background(), service.LogAll, time.Now().Add(time.Hour), 10)
	ok(t, err)
	if log[0].Move != alarms.Ack || log[0].Reason.By != "Ada" || log[0].Reason.Note != "by text message" || !strings.Contains(log[0].Sentence, "Ada") {
		t.Errorf("the log begins with %+v", log[0])
	}
	g.sim.Keep(adasPhone, "?", time.Now(), false)
	g.textTo(adasPhone, reach.Answers{}.Sentence(g.watch.Picture().Sentence))
	await(t, "the SIM is empty", func() bool { return g.sim.Kept() == 0 })
	for _, s := range g.sim.Texts() {
		if s.To != adasPhone {
			t.Errorf("somebody else was told: %+v", s)
		}
	}
}

func TestOKTakesWhatThePersonWasToldAndNoMore(t *testing.T) {
	t.Parallel()
	g := withModem(t, sim.Options{Network: 1, Signal: 17})
	g.sim.Keep(adasPhone, "OK", time.Now(), false)
	g.textTo(adasPhone, "Nothing that you were told")
	before := time.Now().Add(-10 * time.Minute)
	g.send("g/bench", "34.0")
	g.textTo(adasPhone, "bench: 34.0 C")
	g.sim.Keep(adasPhone, "ack", before, false) // was ten minutes on its way
	await(t, "the late one is handled", func() bool { return g.sim.Kept() == 0 && len(g.sim.Texts()) >= 3 })
	if s := g.state(benchHigh); s != alarms.Unacknowledged {
		t.Fatalf("a late answer acknowledged what came after it: %v", s)
	}
	g.sim.Set(func(o *sim.Options) { o.Refuse = "+CMS ERROR: 38" })
	g.send("g/bench", "41.0")
	await(t, "it got worse", func() bool {
		for _, a := range g.watch.Picture().Alarms {
			if a.ID == benchHigh && a.Level == alarms.Inner {
				return true
			}
		}
		return false
	})
	last, more, err := g.phones.untaken(context.Background(), "Ada", time.Now().Add(time.Hour), false)
	if err != nil || len(last) != 0 || more != 0 {
		t.Errorf("Ada may acknowledge %+v, %d more, %v, of which she was not told", last, more, err)
	}
	g.sim.Set(func(o *sim.Options) { o.Refuse = "" })
	g.textTo(adasPhone, "High: worse. Far too hot in Long House, bench: 41.0 C")
	await(t, "it is recorded that Ada was told", func() bool {
		last, _, err := g.phones.untaken(context.Background(), "Ada", time.Now().Add(time.Hour), false)
		return err == nil && len(last) == 1
	})
	g.sim.Keep(adasPhone, "ok.", time.Now(), false)
	await(t, "it is acknowledged", func() bool { return g.state(benchHigh) == alarms.Acknowledged })
}

func TestHighPriorityRings(t *testing.T) {
	t.Parallel()
	g := withModem(t, sim.Options{Network: 1, Signal: 17, CallTaken: true})
	g.send("g/bench", "41.0")
	await(t, "Ben's telephone rings", func() bool {
		dialled, hungUp := g.sim.Calls()
		return len(dialled) == 1 && dialled[0] == bensPhone && hungUp == 1
	})
}

func TestAPulledModemIsATroubleOfTheWatch(t *testing.T) {
	t.Parallel()
	g := withModem(t, sim.Options{Network: 1, Signal: 17})
	if why := g.mute(); why != "" {
		t.Errorf("mute: %s", why)
	}
	g.sim.Unplug()
	await(t, "the modem is missed", func() bool { return strings.Contains(g.phones.State().LastError, "plugged in") })
	g.sim.Keep(adasPhone, "OK", time.Now(), true)
	ok(t, g.sim.Plug())
	await(t, "it is found again", func() bool { return g.phones.State().Ready })
	g.textTo(adasPhone, "Nothing that you were told")
}

func TestARefusedPINIsRememberedInAFile(t *testing.T) {
	f := refusals(filepath.Join(t.TempDir(), "modem-pin"))
	if f.Refused("1357") {
		t.Error("nothing was refused yet")
	}
	ok(t, f.Refuse("1357"))
	if !f.Refused("1357") || f.Refused("2468") {
		t.Error("the file does not tell PINs apart")
	}
	text, err := os.ReadFile(string(f))
	ok(t, err)
	info, err := os.Stat(string(f))
	ok(t, err)
	if strings.Contains(string(text), "1357 ") || info.Mode().Perm() != 0o600 {
		t.Errorf("the file is %v and reads %q", info.Mode(), text)
	}
}

func TestAMissingModemMutesTheWatch(t *testing.T) {
	t.Parallel()
	m, err := modem.New(modem.Options{
		Open:     func() (modem.Port, error) { return modem.Open(filepath.Join(t.TempDir(), "nothing"), 9600) },
		Incoming: func(context.Context, modem.Message) error { return nil }, Report: func(modem.Fate) {},
		Pace: modem.Pace{Absent: time.Millisecond, Reopen: time.Millisecond},
	})
	ok(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- m.Run(ctx) }()
	p := &parts{phones: &phones{Modem: m}}
	await(t, "it is missed", func() bool { return strings.Contains(p.phones.trouble(), "plugged in") })
	if why := p.mute(); !strings.Contains(why, "plugged in") {
		t.Errorf("the watch says %q", why)
	}
	cancel()
	ok(t, <-done)
}

func TestWhoseNumberItIs(t *testing.T) {
	ph := &phones{people: map[string]string{adasPhone: "Ada", bensPhone: "Ben", "+337700900456": "Cat"}}
	for _, c := range []struct {
		from modem.Number
		want string
	}{
		{modem.Number{Text: adasPhone}, "Ada"},
		{modem.Number{Text: "07700900123"}, "Ada"},
		{modem.Number{Text: "00447700900123"}, "Ada"},
		{modem.Number{Text: "07700900456"}, ""}, // Ben's or Cat's
		{modem.Number{Text: "00447700900456"}, "Ben"},
		{modem.Number{Text: "0900123"}, ""},
		{modem.Number{Text: "+337700900123"}, ""},
		{modem.Number{Text: adasPhone, Named: true}, ""},
		{modem.Number{}, ""},
	} {
		if got := ph.person(c.from); got != c.want {
			t.Errorf("%+v is %q, want %q", c.from, got, c.want)
		}
	}
}

func TestAnswersAreLimited(t *testing.T) {
	var h hearing
	now := time.Now()
	for i := range answersPerHour {
		if !h.mayAnswer("Ada", now.Add(time.Duration(i)*time.Minute)) {
			t.Errorf("answer %d is held back", i)
		}
	}
	if h.mayAnswer("Ada", now.Add(30*time.Minute)) || !h.mayAnswer("Ben", now) || !h.mayAnswer("Ada", now.Add(2*time.Hour)) {
		t.Error("answers are not limited to some an hour for each person")
	}
	m := modem.Message{From: modem.Number{Text: adasPhone}, Sent: now, Text: "OK"}
	if h.again(m) || !h.again(m) {
		t.Error("a message is not known again")
	}
	if !h.stranger("+447700900999") || h.stranger("+447700900999") || h.ignored != 2 {
		t.Error("strangers are not logged once and counted")
	}
}

// A message that could not be handled is handled when it comes again; one that
// was handled is not.
func TestAMessageIsHandledOnce(t *testing.T) {
	var h hearing
	m := modem.Message{From: modem.Number{Text: adasPhone}, Sent: time.Unix(1_750_000_000, 0), Text: "OK"}
	later := m
	later.Sent = m.Sent.Add(time.Minute)
	if h.again(m) || !h.again(m) || h.again(later) {
		t.Error("messages are not told apart")
	}
	h.forget(m)
	if h.again(m) || !h.again(later) {
		t.Error("the one that failed was not forgotten, or another one was")
	}
}

// TestAnAnswerSaysForHowLong: what a grower types on the way out must count.
func TestAnAnswerSaysForHowLong(t *testing.T) {
	for text, want := range map[string]time.Duration{"": 0, "90": 90 * time.Minute, "2h": 2 * time.Hour, " 45 min": 45 * time.Minute,
		"1 hour": time.Hour, "2 hours": 2 * time.Hour, "thanks": 0, "0": 0, "-5": 0, "9999": 0, "1h30m": 90 * time.Minute,
		"2 Stunden": 2 * time.Hour, "45 Minuten": 45 * time.Minute, "2 Std.": 2 * time.Hour, "danke": 0} {
		if got := onTheWay(text); got != want {
			t.Errorf("OK %s: got %s, want %s", text, got, want)
		}
	}
}

// What the modem says becomes what reach makes of it: a number of nobody is
// tried a few times more, a text that cannot be sent is not.
func TestAnErrorOfTheModemKeepsItsKind(t *testing.T) {
	var x texter
	var denied *reach.Denied
	var final *reach.Permanent
	if err := x.explain(fmt.Errorf("%w: CMS 28", modem.ErrNobody)); !errors.As(err, &denied) || !denied.Address || errors.As(err, &final) {
		t.Errorf("nobody at the number: %v", err)
	}
	if err := x.explain(fmt.Errorf("%w: no UTF-8", modem.ErrRefused)); !errors.As(err, &final) || errors.As(err, &denied) {
		t.Errorf("a text that cannot be sent: %v", err)
	}
	if err := x.explain(modem.ErrNotReady); errors.As(err, &final) {
		t.Errorf("a modem that is not ready: %v", err)
	}
}
