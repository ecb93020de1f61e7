package gateway

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httputil"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"net/http/httptest"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/link"
	"telltale/gateway/page/service"
)

const pairPlan = `
[house.long-house]
name = "Long House"
[house.long-house.place.bench.temperature]
high = 33
low = 5
delay = "1s"
clear-delay = "1s"
[probe.bench]
place = "long-house/bench"
every = "10m"
topic = "g/bench"
temperature = { jump = "any" }
[person.grower]
channels = ["phone", "lamp-on-the-stair"]
[[tell]]
people = ["grower"]
from-priority = "low"
[channel.lamp-on-the-stair]
kind = "webhook"
url = %[1]q
secret-file = "secret"
[own-broker]
address = "127.0.0.1:0"
[channel.phone]
kind = "webhook"
url = %[1]q
secret-file = "secret"
at-once = 100
[page]
address = "127.0.0.1:0"
[store]
directory = "first"
[account.ada]
may = "act"
token-file = "ada"
[account.companion]
may = "accompany"
token-file = "token"
`

const pairCompanion = `
[companion]
first = %q
token-file = "token"
shares = []
[own-broker]
address = "127.0.0.1:0"
[channel.phone]
kind = "webhook"
url = %q
secret-file = "secret"
at-once = 100
[page]
address = "127.0.0.1:0"
[store]
directory = "second"
`

const benchLow = "long-house/bench/temperature/low"

// pair is a watch and its companion, each with a broker, a clock and a way to people of
// its own.
type pair struct {
	t      *testing.T
	dir    string
	way    *httptest.Server // to the first's page
	at     atomic.Pointer[url.URL]
	first  *side
	second *side
	reads  string       // what the probe says
	broker *link.Broker // that both hear; nil: each has one of its own
}

// side is one of the two.
type side struct {
	parts *parts
	probe mqtt.Client
	clock *Clock
	hook  *catcher
	stop  func()
}

func newPair(t *testing.T) *pair {
	p := &pair{t: t, dir: t.TempDir(), reads: "20"}
	for name, text := range map[string]string{"secret": hookKey, "token": strings.Repeat("companion-", 3), "ada": strings.Repeat("ada-", 8)} {
		ok(t, os.WriteFile(filepath.Join(p.dir, name), []byte(text), 0o600))
	}
	p.way = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		at := p.at.Load()
		if at == nil {
			panic(http.ErrAbortHandler) // nobody answers
		}
		(&httputil.ReverseProxy{Rewrite: func(r *httputil.ProxyRequest) { r.SetURL(at) }}).ServeHTTP(w, r)
	}))
	t.Cleanup(p.way.Close)
	start := time.Date(2026, 6, 20, 12, 0, 0, 0, time.UTC)
	p.first, p.second = &side{hook: catch(t), clock: NewSteppedClock(start, 100)}, &side{hook: catch(t), clock: NewSteppedClock(start, 100)}
	return p
}

func (p *pair) config(text string) *config.Config {
	p.t.Helper()
	c, problems := config.Parse(filepath.Join(p.dir, "watch.toml"), []byte(text), func(string) (string, bool) { return "", false })
	ok(p.t, problems.Err())
	return c
}

func (p *pair) start(s *side, text string) {
	p.t.Helper()
	o := Options{Config: p.config(text), Clock: s.clock, Log: zerolog.Nop()}
	made, err := build(o)
	ok(p.t, err)
	ctx, cancel := context.WithCancel(p.t.Context())
	done := make(chan error, 1)
	go func() { done <- made.run(ctx, o) }()
	s.parts = made
	s.stop = func() {
		cancel()
		if err := errors.Join(<-done, made.close()); err != nil {
			p.t.Error(err)
		}
	}
	await(p.t, "the link is up", func() bool { return made.link.Stats().Up })
	r := made.running()
	if p.broker != nil {
		r.Broker = p.broker.Addr().String()
		r.User, r.Password = p.broker.Login()
	}
	s.probe = dial(p.t, r.Broker, r.User, r.Password)
}

// plan is the first's, companion the second's file.
func (p *pair) plan() string { return p.shared(fmt.Sprintf(pairPlan, p.first.hook.URL)) }

func (p *pair) companion() string {
	return p.shared(fmt.Sprintf(pairCompanion, p.way.URL, p.second.hook.URL))
}

// shared has a file name the broker of both, where there is one.
func (p *pair) shared(text string) string {
	if p.broker == nil {
		return text
	}
	user, password := p.broker.Login()
	ok(p.t, os.WriteFile(filepath.Join(p.dir, "broker"), []byte(password), 0o600))
	return strings.Replace(text, "[own-broker]\naddress = \"127.0.0.1:0\"",
		fmt.Sprintf("[broker]\nservers = [\"mqtt://%s\"]\nuser = %q\npassword-file = \"broker\"", p.broker.Addr(), user), 1)
}

func (p *pair) startFirst() {
	p.start(p.first, p.plan())
	at, err := url.Parse("http://" + p.first.parts.page.Addr())
	ok(p.t, err)
	p.at.Store(at)
}

func (p *pair) stopFirst() {
	p.at.Store(nil)
	p.first.probe.Disconnect(0)
	p.first.stop()
	p.first.parts = nil
}

func (p *pair) startSecond() {
	ok(p.t, os.MkdirAll(filepath.Join(p.dir, "second"), 0o700))
	ok(p.t, os.WriteFile(filepath.Join(p.dir, "second", "companion-plan.toml"), p.first.parts.cfg.Shared.Text, 0o600))
	p.start(p.second, p.companion())
}

// until lets time pass, in which the probe is heard, until something is so, for at most
// a time of the garden.
func (p *pair) until(what string, most time.Duration, so func() bool) {
	p.t.Helper()
	for passed := time.Duration(0); !so(); passed += 5 * time.Second {
		if passed > most {
			for _, s := range []*side{p.first, p.second} {
				if s.parts != nil {
					rows, err := (&tending{watch: s.parts.watch}).Tellings(p.t.Context(), service.ToldQuery{Limit: 20})
					p.t.Logf("%v %v", s.state(), err)
					for _, r := range rows {
						p.t.Logf("%s %s %s: %s %q", r.Person, r.Channel, r.Outcome, r.Of.Sentence, r.Why)
					}
				}
			}
			p.t.Fatalf("within %v it did not come about that %s", most, what)
		}
		p.pass()
	}
}

// pass lets 5 s pass at both, until they know of one another.
func (p *pair) pass() {
	p.t.Helper()
	for _, s := range []*side{p.first, p.second} {
		if s.clock.Step(5 * time.Second); s.parts == nil {
			continue
		}
		before := s.parts.owner.steps.Load()
		if token := s.probe.Publish("g/bench", 1, false, p.reads); !token.WaitTimeout(5*time.Minute) || token.Error() != nil {
			p.t.Fatalf("a reading was not taken: %v", token.Error())
		}
		await(p.t, "the reading is judged", func() bool { return s.parts.owner.steps.Load() > before+1 })
		await(p.t, "nothing is to be told now", func() bool { return s.told() })
	}
	if a := p.second.accompanying(); a != nil {
		asked := a.asked.Load()
		await(p.t, "the first was asked", func() bool { return a.asked.Load() > asked+1 })
		if p.broker != nil && p.first.parts != nil {
			await(p.t, "it answered over the broker", func() bool { return a.heardFrom().Equal(p.second.clock.Core()) })
		}
	}
}

func (s *side) accompanying() *accompanying {
	if s == nil || s.parts == nil {
		return nil
	}
	return s.parts.accompanying
}

// told reports whether nothing waits that is due.
func (s *side) told() bool {
	s.parts.worker.Wake()
	return s.parts.box.settled()
}

func (s *side) state() alarms.State {
	return stateOf(s.parts.watch.fresh(), benchHigh)
}

// heard counts the messages that hold a text.
func (s *side) heard(text string) int {
	_, all := s.hook.all()
	n := 0
	for _, one := range all {
		n += strings.Count(one, text)
	}
	return n
}

func (s *side) messages() int {
	_, all := s.hook.all()
	return len(all)
}

// firstTells has the first tell that it is too hot, and Ada take that, while the companion
// hears it and is quiet.
func (p *pair) firstTells() {
	p.t.Helper()
	p.until("the first is heard", time.Minute, func() bool {
		why, known := p.second.accompanying().trouble(p.second.clock.Core())
		return why == "" && known
	})
	p.reads = "40"
	p.until("the first tells", time.Minute, func() bool { return p.first.heard("bench") > 0 })
	p.until("the companion has the alarm too", time.Minute, func() bool { return p.second.state() == alarms.Unacknowledged })
	for range 60 {
		p.pass()
	}
	if n := p.second.messages(); n > 0 {
		p.t.Errorf("the companion told %d messages while the first told", n)
	}
	ok(p.t, p.first.parts.watch.Do(p.t.Context(), alarms.Input{Kind: alarms.Acknowledge, Alarm: benchHigh, By: "Ada"}))
	p.until("the companion knows that Ada has it", time.Minute, func() bool { return p.second.state() == alarms.Acknowledged })
}

func (p *pair) startAgain() {
	p.start(p.second, p.companion())
}
