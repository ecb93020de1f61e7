package gateway

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"telltale/alarms"
)

const (
	secret  = "a shared secret for tests"
	hookKey = "whsec_YSBzaGFyZWQgc2VjcmV0IGZvciB0ZXN0cw==" // the same, as the config has it
)

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
	ok(t, os.WriteFile(file, []byte(hookKey), 0o600))
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
	if token := g.probe.Publish(topic, 1, false, payload); !token.WaitTimeout(5*time.Minute) || token.Error() != nil {
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

func stateOf(p alarms.Picture, id alarms.AlarmID) alarms.State { return p.Alarm(id).State }
