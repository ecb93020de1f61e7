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
	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/link"
	"telltale/gateway/store"
)

// TestNothingThatIsSentStopsTheWatch sends what probes and others may send by
// mistake or on purpose.
func TestNothingThatIsSentStopsTheWatch(t *testing.T) {
	t.Parallel()
	g := wholeGarden(t)
	bad := []string{" ", "n/a", "NaN", "-inf", "1e999", "21,5", "21.5 C and more", "{", "[]", "null", "true", "\x00\xff\xfe", strings.Repeat("9", 5000),
		`{"air":{"t":null,"rh":null}}`, `{"air":{"t":"warm","rh":[]}}`, `{"air":{"t":1e400,"rh":0.5}}`, strings.Repeat("[", 20000),
		`[{"bver":99,"n":"g:pack:t","v":1}]`, `[{"n":"g:pack:t","u":"furlong","v":1}]`, `[{"must_":1,"n":"g:pack:t","v":1}]`, `[{"v":1}]`,
		"loop,depth=1.5m", "loop,depth=1.5m t=\"x\"", "loop t=1 notatime", "other f=1", strings.Repeat("loop,depth=1.5m t=1i\n", 500),
		strings.Repeat("x", 100_000)}
	for _, payload := range bad {
		for _, topic := range []string{"g/plain", "g/object", "g/pack", "g/x/lines"} {
			g.send(topic, payload)
		}
	}
	for _, topic := range []string{"g", "g/unknown", "thimble-garth/other", "g/x/y/lines", "$weird", "telltale/state", "telltale/watch/state"} {
		g.probe.Publish(topic, 1, false, "garbage").WaitTimeout(time.Second) // the broker may refuse it
	}
	g.send("g/plain", "") // deletes what is retained
	g.send("g/plain", "22.5")
	g.send("g/object", `{"air":{"t":70,"rh":0.5}}`)
	await(t, "a good reading still arrives", func() bool {
		p := g.picture()
		return point(p, "bench", alarms.Temperature).Value == 22.5 && point(p, "ridge", alarms.Humidity).Value == 50
	})
	causes := map[string]uint64{}
	var all uint64
	for _, st := range g.parts.table.Stats() {
		for _, pr := range st.Problems {
			causes[string(pr.Cause)] += pr.Count
			all += pr.Count
		}
	}
	for _, cause := range []string{"syntax", "missing", "no-value", "wrong-type", "not-a-number", "comma", "not-finite", "unit", "version", "must-know", "time"} {
		if causes[cause] == 0 {
			t.Errorf("no payload was counted as %s; counted were %v", cause, causes)
		}
	}
	if all < 60 {
		t.Errorf("%d payloads were counted as bad, want nearly all of %d", all, 4*len(bad))
	}
	if got := g.parts.link.Stats().TooLong; got != 4 {
		t.Errorf("%d payloads were too long, want 4", got)
	}
	if text := g.get("/metrics"); !strings.Contains(text, `cause="comma"`) || !strings.Contains(text, `probe="plain"`) {
		t.Error("the metrics do not tell the bad payloads by cause and probe")
	}
}

// TestARetainedMessageIsNoSignOfLife starts the watch with an old, hot value
// waiting at the broker.
func TestARetainedMessageIsNoSignOfLife(t *testing.T) {
	t.Parallel()
	b, err := link.StartBroker(link.BrokerOptions{Address: "127.0.0.1:0"})
	ok(t, err)
	defer b.Close()
	probe := dial(t, b.Addr().String(), "", "")
	defer probe.Disconnect(0)
	if token := probe.Publish("g/bench", 1, true, "44.0"); !token.WaitTimeout(5 * time.Minute) {
		t.Fatal("the broker takes nothing")
	}
	c := retainedConfig(t, b.Addr().String())
	user, password := b.Login()
	c.Link.User, c.Link.Password = user, config.NewSecret(password)
	p := runningBy(t, c, NewClock(time.Now(), 100))
	await(t, "the old value is known as such", func() bool {
		pt := point(p.watch.Picture(), "bench", alarms.Temperature)
		return pt.Retained && pt.Value == 44 && !pt.Live
	})
	await(t, "the bench counts as unwatched all the same", func() bool {
		return stateOf(p.watch.Picture(), "long-house/bench/unwatched") == alarms.Unacknowledged
	})
	pic := p.watch.Picture()
	if s := stateOf(pic, benchHigh); s != alarms.Normal {
		t.Errorf("an old value made the alarm %v", s)
	}
	if heard := pic.Houses[0].Places[0].Probes[0].Heard; !heard.IsZero() {
		t.Errorf("an old value counts as heard at %v", heard)
	}
	if token := probe.Publish("g/bench", 1, false, "44.5"); !token.WaitTimeout(5 * time.Minute) {
		t.Fatal("the broker takes nothing")
	}
	await(t, "a live one counts", func() bool { return stateOf(p.watch.Picture(), benchHigh) == alarms.Unacknowledged })
}

// runningBy runs a watch by a clock until the test ends.
func runningBy(t *testing.T, c *config.Config, clock *Clock) *parts {
	t.Helper()
	o := Options{Config: c, Clock: clock, Log: zerolog.New(os.Stderr).Level(zerolog.ErrorLevel)}
	p, err := build(o)
	ok(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- p.run(ctx, o) }()
	t.Cleanup(func() {
		cancel()
		if err := errors.Join(<-done, p.close()); err != nil {
			t.Error(err)
		}
	})
	return p
}

func retainedConfig(t *testing.T, server string) *config.Config {
	t.Helper()
	c, err := read(fmt.Sprintf(`
[house.long-house]
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 33
delay = "1s"
quick-delay = "1s"
[probe.bench-1]
place = "long-house/bench"
every = "1m"
topic = "g/bench"
temperature = {}
[broker]
servers = ["mqtt://%s"]
[page]
address = "127.0.0.1:0"
[channel.slip]
kind = "command"
run = ["/bin/true"]
rehearse = true
[person.grower]
channels = ["slip"]
[[tell]]
people = ["grower"]
`, server), t.TempDir())
	ok(t, err)
	return c
}

// TestTheWatchsIDAtABroker: at its own, where nobody else can have it, a plain
// one; elsewhere one that no second watch has; and where the config names one,
// that.
func TestTheWatchsIDAtABroker(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	seen := map[string]bool{}
	for _, c := range []struct {
		dir, id string
		own     bool
	}{{dir, "", true}, {dir, "", false}, {dir, "", false}, {t.TempDir(), "", false}, {dir, "garth", false}} {
		s, err := store.Open(c.dir, store.Options{})
		ok(t, err)
		cfg := &config.Config{}
		cfg.Link.ClientID, cfg.Broker.Run = c.id, c.own
		p := parts{cfg: cfg, store: s}
		_, err = s.Notes.Garden(context.Background())
		ok(t, err)
		got := p.clientID()
		seen[got] = true
		if good := regexp.MustCompile(`^telltale[a-z2-7]{12}$`).MatchString(got); c.own && got != "telltale" || c.id != "" && got != c.id || !c.own && c.id == "" && !good {
			t.Errorf("%+v: got %q", c, got)
		}
		ok(t, s.Close())
	}
	if len(seen) != 4 {
		t.Errorf("got the IDs %v, want the same at both starts and another in another store", seen)
	}
}

// TestAWatchThatGoesOnSpeaksForItself has two watches on one broker, of which
// the second stops: it says that nobody watches, which is not so.
func TestAWatchThatGoesOnSpeaksForItself(t *testing.T) {
	t.Parallel()
	const lamp = "[channel.lamp]\nkind = \"mqtt\"\n"
	c, err := read(victimConfig+lamp, t.TempDir())
	ok(t, err)
	first := runningBy(t, c, nil)
	at := first.running()
	words := make(chan string, 1000)
	eye := dial(t, at.Broker, at.User, at.Password)
	if token := eye.Subscribe("telltale/state", 1, func(_ mqtt.Client, m mqtt.Message) { words <- string(m.Payload()) }); token.Wait() && token.Error() != nil {
		t.Fatal(token.Error())
	}
	says := func(want string) {
		t.Helper()
		await(t, "the lamp hears "+want, func() bool {
			select {
			case got := <-words:
				return got == want
			default:
				return false
			}
		})
	}
	says("calm")
	file := filepath.Join(t.TempDir(), "password")
	ok(t, os.WriteFile(file, []byte(at.Password), 0o600))
	text, _, _ := strings.Cut(victimConfig, "[own-broker]")
	_, rest, _ := strings.Cut(victimConfig, "[page]")
	c, err = read(fmt.Sprintf("%s[broker]\nservers = [\"mqtt://%s\"]\nuser = %q\npassword-file = %q\nclient-id = \"second\"\n[page]%s%s",
		text, at.Broker, at.User, file, rest, lamp), t.TempDir())
	ok(t, err)
	_, _, stop := running(t, c)
	says("calm")
	stop()
	says("blind")
	says("calm")
	eye.Publish("telltale/state", 1, true, "blind")
	says("blind")
	says("calm")
}
