package gateway

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/link"
	"telltale/gateway/reach"
)

const secret = "a shared secret for tests"

// wholeConfig is a garden with every form of payload and every way out.
const wholeConfig = `
[house.long-house]
name = "Long House"
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 33
delay = "1s"
quick-delay = "1s"
clear-delay = "1s"
[house.long-house.place.ridge.temperature]
high = 45
[house.long-house.place.loop.temperature]
high = 30
[house.long-house.place.outside]
[probe.plain]
place = "long-house/bench"
every = "10m"
topic = "g/plain"
temperature = { jump = "any" }
[probe.object]
place = "long-house/ridge"
every = "10m"
topic = "g/object"
form = "json"
time-from = "/at"
temperature = { from = "/air/t", unit = "°F" }
humidity = { from = "/air/rh", unit = "ratio" }
[probe.pack]
place = "long-house/outside"
every = "10m"
topic = "g/pack"
form = "senml"
temperature = { from = "g:pack:t" }
battery = { from = "g:pack:b" }
[probe.lines]
place = "long-house/loop"
every = "10m"
topic = "g/+/lines"
form = "line"
time-unit = "s"
temperature = { from = "t", measurement = "loop", tags = { depth = "1.5m" } }
[own-broker]
address = "127.0.0.1:0"
[page]
address = "127.0.0.1:0"
[metrics]
on-page = true
[channel.lamp]
kind = "mqtt"
[channel.phone]
kind = "webhook"
url = %q
secret-file = %q
at-once = 100
[person.grower]
channels = ["phone"]
[[tell]]
people = ["grower"]
from-priority = "low"
[export]
file = %q
[export.http]
url = %q
every = "1s"
`

// catcher is a web server that keeps what is posted to it.
type catcher struct {
	*httptest.Server
	mu    sync.Mutex
	posts []*http.Request
	texts []string
}

func catch(t *testing.T) *catcher {
	c := &catcher{}
	c.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body) // an end cut off fails the test by its content
		c.mu.Lock()
		defer c.mu.Unlock()
		c.posts, c.texts = append(c.posts, r), append(c.texts, string(body))
		w.WriteHeader(http.StatusNoContent)
	}))
	t.Cleanup(c.Close)
	return c
}

func (c *catcher) all() ([]*http.Request, []string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.posts), slices.Clone(c.texts)
}

// garden is a running watch with what a test wants of it.
type garden struct {
	t      *testing.T
	parts  *parts
	at     Running
	probe  mqtt.Client
	hook   *catcher
	writes *catcher
	lines  string // file of the export
	stop   func()

	mu  sync.Mutex
	got map[string][]mqtt.Message // below telltale/
}

func wholeGarden(t *testing.T) *garden {
	t.Helper()
	dir := t.TempDir()
	g := &garden{t: t, hook: catch(t), writes: catch(t), lines: filepath.Join(dir, "lines"), got: map[string][]mqtt.Message{}}
	file := filepath.Join(dir, "secret")
	ok(t, os.WriteFile(file, []byte(secret), 0o600))
	c, err := read(fmt.Sprintf(wholeConfig, g.hook.URL, file, g.lines, g.writes.URL), filepath.Join(dir, "store"))
	ok(t, err)
	g.parts, g.at, g.stop = running(t, c)
	g.probe = dial(t, g.at.Broker, g.at.User, g.at.Password)
	token := g.probe.Subscribe("telltale/#", 1, func(_ mqtt.Client, m mqtt.Message) {
		g.mu.Lock()
		defer g.mu.Unlock()
		g.got[m.Topic()] = append(g.got[m.Topic()], m)
	})
	if token.Wait(); token.Error() != nil {
		t.Fatal(token.Error())
	}
	return g
}

func (g *garden) send(topic, payload string) {
	g.t.Helper()
	if token := g.probe.Publish(topic, 1, false, payload); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		g.t.Fatalf("%s was not taken: %v", topic, token.Error())
	}
}

// newest is the last message on a topic below telltale/.
func (g *garden) newest(topic string) string {
	g.mu.Lock()
	defer g.mu.Unlock()
	all := g.got[topic]
	if len(all) == 0 {
		return ""
	}
	return string(all[len(all)-1].Payload())
}

func (g *garden) get(path string) string {
	g.t.Helper()
	resp, err := (&http.Client{Timeout: 10 * time.Second}).Get("http://" + g.at.Page + path)
	ok(g.t, err)
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	ok(g.t, err)
	if resp.StatusCode != http.StatusOK {
		g.t.Fatalf("%s: %s", path, resp.Status)
	}
	return string(text)
}

func (g *garden) picture() alarms.Picture {
	g.t.Helper()
	var p alarms.Picture
	ok(g.t, json.Unmarshal([]byte(g.get("/state.json")), &p))
	return p
}

func point(p alarms.Picture, place alarms.PlaceID, q alarms.Quantity) alarms.PointPicture {
	for _, h := range p.Houses {
		for _, pl := range h.Places {
			for _, pt := range pl.Points {
				if pl.ID == place && pt.Quantity == q {
					return pt
				}
			}
		}
	}
	return alarms.PointPicture{}
}

func stateOf(p alarms.Picture, id alarms.AlarmID) alarms.State {
	for _, a := range p.Alarms {
		if a.ID == id {
			return a.State
		}
	}
	return alarms.Normal
}

const benchHigh = "long-house/bench/temperature/high"

func TestAReadingOfEveryFormArrivesAndAnAlarmRunsItsCourse(t *testing.T) {
	t.Parallel()
	g := wholeGarden(t)
	now := time.Now()
	g.send("g/plain", "21.5")
	g.send("g/object", fmt.Sprintf(`{"air":{"t":68,"rh":0.55},"at":%d}`, now.Unix()))
	g.send("g/pack", `[{"bn":"g:pack:","n":"t","u":"Cel","v":12.5},{"n":"b","u":"%EL","v":80}]`)
	g.send("g/north/lines", fmt.Sprintf("loop,depth=2.3m t=9.5 %d\nloop,depth=1.5m t=14.25 %d\n", now.Unix(), now.Unix()))
	await(t, "every form is shown", func() bool {
		p := g.picture()
		return point(p, "bench", alarms.Temperature).Value == 21.5 && point(p, "ridge", alarms.Temperature).Value == 20 &&
			point(p, "ridge", alarms.Humidity).Value == 55 && point(p, "outside", alarms.Temperature).Value == 12.5 &&
			point(p, "loop", alarms.Temperature).Value == 14.25 && point(p, "loop", alarms.Temperature).Live
	})

	raise(t, g)
	acknowledge(t, g)
	giveBack(t, g)
	figures(t, g)
	exported(t, g)
	g.stop()
	await(t, "lamps are told that nobody watches", func() bool { return g.newest("telltale/state") == "blind" || !g.probe.IsConnected() })
	if got := g.newest("telltale/state"); got != "blind" {
		t.Errorf("at the end the lamp was told %q, want blind", got)
	}
}

// raise makes the bench hot and looks at every place where that must show.
func raise(t *testing.T, g *garden) {
	t.Helper()
	g.send("g/plain", "34.0")
	await(t, "the page shows the alarm", func() bool { return stateOf(g.picture(), benchHigh) == alarms.Unacknowledged })
	var told reach.Document
	await(t, "the phone is told", func() bool {
		posts, texts := g.hook.all()
		for i, text := range texts {
			if err := reach.Verify([]byte(secret), posts[i].Header.Get(reach.TimestampHeader), posts[i].Header.Get(reach.SignatureHeader),
				[]byte(text), time.Now(), time.Minute); err != nil {
				t.Fatalf("the webhook is not signed well: %v", err)
			}
			ok(t, json.Unmarshal([]byte(text), &told))
			if told.Events[0].Alarm == benchHigh {
				return true
			}
		}
		return false
	})
	if told.Person != "grower" || told.Events[0].Move != alarms.Raise || !strings.Contains(told.Text, "34.0 °C, 1.0 °C above the high limit of 33.0 °C") {
		t.Errorf("the phone was told %+v", told)
	}
	await(t, "the lamp acts", func() bool {
		return g.newest("telltale/state") == "look" && g.newest("telltale/house/long-house/state") == "look"
	})
	var s reach.AlarmState
	ok(t, json.Unmarshal([]byte(g.newest("telltale/alarm/"+benchHigh)), &s))
	if s.State != alarms.Unacknowledged || !s.Active {
		t.Errorf("the alarm topic says %+v", s)
	}
	await(t, "the event topic has the raise", func() bool { return strings.Contains(g.newest("telltale/event"), benchHigh) })

	late := dial(t, g.at.Broker, g.at.User, g.at.Password)
	defer late.Disconnect(0)
	kept := make(chan mqtt.Message, 100)
	late.Subscribe("telltale/#", 1, func(_ mqtt.Client, m mqtt.Message) { kept <- m }).Wait()
	have := map[string]bool{}
	await(t, "who comes later gets the state too", func() bool {
		select {
		case m := <-kept:
			have[m.Topic()] = m.Retained()
		default:
		}
		return have["telltale/state"] && have["telltale/alarm/"+benchHigh]
	})
	if _, found := have["telltale/event"]; found {
		t.Error("an event is retained: it would be taken for a new one")
	}
}

var form = regexp.MustCompile(`(?s)action="/alarms/acknowledge">.*?name="token" value="([^"]+)".*?name="alarm" value="([^"]+)".*?name="seen" value="([^"]+)"`)

// acknowledge fills in the page's own form as a browser does.
func acknowledge(t *testing.T, g *garden) {
	t.Helper()
	jar, err := cookiejar.New(nil)
	ok(t, err)
	browser := &http.Client{Jar: jar, Timeout: 10 * time.Second}
	resp, err := browser.Get("http://" + g.at.Page + "/")
	ok(t, err)
	text, err := io.ReadAll(resp.Body)
	ok(t, errors.Join(err, resp.Body.Close()))
	f := form.FindStringSubmatch(string(text))
	if f == nil {
		t.Fatalf("the page has no form to acknowledge by:\n%s", text)
	}
	resp, err = browser.PostForm("http://"+g.at.Page+"/alarms/acknowledge", url.Values{"token": {f[1]}, "alarm": {f[2]}, "seen": {f[3]}, "who": {"Grower"}})
	ok(t, err)
	ok(t, resp.Body.Close())
	if resp.StatusCode != http.StatusOK {
		t.Fatalf("the form was answered with %s", resp.Status)
	}
	if s := stateOf(g.picture(), benchHigh); s != alarms.Acknowledged {
		t.Errorf("after the form the alarm is %v", s)
	}
	await(t, "the lamp burns steadily", func() bool { return g.newest("telltale/state") == "taken" })
	log, err := g.parts.watch.Log(context.Background(), time.Now().Add(time.Hour), 10)
	ok(t, err)
	if log[0].Move != alarms.Ack || log[0].Reason.By != "Grower" {
		t.Errorf("the log begins with %+v", log[0])
	}
}

// giveBack cools the bench down.
func giveBack(t *testing.T, g *garden) {
	t.Helper()
	g.send("g/plain", "25.0")
	await(t, "the alarm is over", func() bool { return stateOf(g.picture(), benchHigh) == alarms.Normal })
	await(t, "the lamp is calm", func() bool { return g.newest("telltale/state") == "calm" })
	await(t, "the phone hears the end", func() bool {
		_, texts := g.hook.all()
		return strings.Contains(texts[len(texts)-1], `"move":"return"`)
	})
}

func figures(t *testing.T, g *garden) {
	t.Helper()
	text := g.get("/metrics")
	for _, want := range []string{"telltale_link_up 1", "telltale_decode_values_total", `telltale_outbox_attempts_total{channel="phone"`,
		"telltale_core_steps_total", "telltale_store_written_bytes_total", "go_goroutines"} {
		if !strings.Contains(text, want) {
			t.Errorf("the metrics lack %s", want)
		}
	}
	if t.Failed() {
		t.Log(text)
	}
}

func exported(t *testing.T, g *garden) {
	t.Helper()
	wants := []string{"reading,house=long-house,place=bench,probe=plain temperature=34", "reading,house=long-house,place=ridge,probe=object humidity=55",
		"transition,alarm=" + benchHigh + ",house=long-house,move=raise", "move=acknowledge", "move=return"}
	await(t, "the lines are posted", func() bool {
		_, texts := g.writes.all()
		return len(texts) > 0
	})
	g.stop() // which writes what is left
	text, err := os.ReadFile(g.lines)
	ok(t, err)
	for _, want := range wants {
		if !strings.Contains(string(text), want) {
			t.Errorf("the export file lacks %q:\n%s", want, text)
		}
	}
}

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
	for _, topic := range []string{"g", "g/unknown", "quarry-bank/other", "g/x/y/lines", "$weird", "telltale/state", "telltale/watch/state"} {
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
	if token := probe.Publish("g/bench", 1, true, "44.0"); !token.WaitTimeout(10 * time.Second) {
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
	if token := probe.Publish("g/bench", 1, false, "44.5"); !token.WaitTimeout(10 * time.Second) {
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
