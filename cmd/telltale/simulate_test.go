package main

import (
	"os"
	"regexp"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/link"
	"telltale/gateway/model"
)

// sources are the demo's, as decode takes them.
func sources(t *testing.T) []decode.Source {
	t.Helper()
	cfg, problems := config.Parse("demo.toml", demoConfig, os.LookupEnv)
	ok(t, problems.Err())
	return cfg.Sources
}

// TestTheSimulatedGardenIsUnderstood runs the command against a broker and
// reads what it publishes.
func TestTheSimulatedGardenIsUnderstood(t *testing.T) {
	t.Parallel()
	b, err := link.StartBroker(link.BrokerOptions{Address: "127.0.0.1:0", Log: zerolog.Nop()})
	ok(t, err)
	defer b.Close()
	table, err := decode.New(sources(t))
	ok(t, err)

	type message struct {
		topic   string
		payload []byte
	}
	came := make(chan message, 4096)
	c := probe(t, b.Addr().String(), "listener")
	c.Subscribe("thimble-garth/#", 1, func(_ mqtt.Client, m mqtt.Message) { came <- message{m.Topic(), m.Payload()} }).WaitTimeout(5 * time.Second)

	p := start(t, "simulate", "--broker", "mqtt://"+b.Addr().String(), "--speed", "240", "--log-level", "error")
	got := map[alarms.ProbeID]map[alarms.Quantity]bool{}
	missing := func() int {
		n := 0
		for _, spec := range model.Layout() {
			for _, s := range spec.Senses {
				if !got[spec.ID][s.Quantity] {
					n++
				}
			}
		}
		return n
	}
	deadline := time.After(5 * time.Minute)
	for missing() > 0 {
		select {
		case m := <-came:
			if m.topic == "thimble-garth/simulation" {
				continue // the state of the publisher itself
			}
			for _, problem := range table.Decode(m.topic, m.payload, time.Now(), func(v decode.Value) {
				if got[v.Probe] == nil {
					got[v.Probe] = map[alarms.Quantity]bool{}
				}
				got[v.Probe][v.Quantity] = true
			}) {
				t.Errorf("%s %q: %s", m.topic, m.payload, problem.Detail)
			}
		case <-deadline:
			t.Fatalf("%d quantities of the layout never came; these did: %v", missing(), got)
		}
	}
	if n := table.Unclaimed(); n > 0 {
		t.Errorf("%d messages on topics that no probe of the demo's config claims", n)
	}
	p.stop(syscall.SIGTERM)
	if said := p.stdout(); !regexp.MustCompile(`(?m)^Published \d[\d,]* messages to mqtt://127.0.0.1:\d+.*: .* of the garden, from .* to .* UTC\.$`).MatchString(said) {
		t.Errorf("it ends with %q, want what was published", said)
	}
}
