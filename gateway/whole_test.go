package gateway

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/reach"
)

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
			h := posts[i].Header
			if got, want := h.Get(reach.SignatureHeader), reach.Sign([]byte(secret), h.Get(reach.IDHeader), h.Get(reach.TimestampHeader), []byte(text)); got != want {
				t.Fatalf("the webhook is not signed well: got %q, want %q", got, want)
			}
			ok(t, json.Unmarshal([]byte(text), &told))
			if told.Events[0].Alarm == benchHigh {
				return true
			}
		}
		return false
	})
	if told.Person != "grower" || told.Events[0].Move != alarms.Raise || !strings.Contains(told.Text, "Too hot in Long House, bench: 34.0 °C (limit 33.0 °C)") {
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
	await(t, "the event topic has the raise", func() bool {
		return strings.Contains(g.newest("telltale/event"), `"id":"`+g.parts.garden+"/"+benchHigh)
	})
	if len(g.parts.garden) < 16 {
		t.Errorf("the garden's ID is %q", g.parts.garden)
	}

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

var form = regexp.MustCompile(`(?s)action="/alarms/acknowledge">.*?name="alarm" value="([^"]+)".*?name="seen" value="([^"]+)"`)

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
	resp, err = browser.PostForm("http://"+g.at.Page+"/alarms/acknowledge", url.Values{"alarm": {f[1]}, "seen": {f[2]}, "who": {"Grower"}})
	ok(t, err)
	ok(t, resp.Body.Close())
	if resp.StatusCode != http.StatusOK {
		t.Fatalf("the form was answered with %s", resp.Status)
	}
	if s := stateOf(g.picture(), benchHigh); s != alarms.Acknowledged {
		t.Errorf("after the form the alarm is %v", s)
	}
	await(t, "the lamp burns steadily", func() bool { return g.newest("telltale/state") == "taken" })
	log, err := g.parts.watch.Log(context.Background(), service.LogAll, time.Now().Add(time.Hour), 10)
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
	for _, filled := range []string{"telltale_store_size_bytes", "telltale_store_written_bytes_total", "telltale_store_flushes_total",
		"telltale_store_flush_timestamp_seconds", "telltale_core_steps_total", "telltale_core_transitions_total"} {
		if !regexp.MustCompile(`(?m)^` + filled + ` [1-9]`).MatchString(text) {
			t.Errorf("%s is not there or 0", filled)
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
