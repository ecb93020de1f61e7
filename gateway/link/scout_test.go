package link

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// scouting runs a scout that gives up keep after the last look.
func scouting(t *testing.T, o Options, keep time.Duration) *Scout {
	t.Helper()
	o.retryMin, o.retryMax = 10*time.Millisecond, 50*time.Millisecond
	s, err := NewScout(o, "lamps/")
	if err != nil {
		t.Fatal(err)
	}
	s.keep = keep
	ctx, stop := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() {
		if err := s.Run(ctx); err != nil {
			t.Error(err)
		}
	})
	t.Cleanup(func() { stop(); running.Wait() })
	return s
}

func topicNames(s Sight) []string {
	var out []string
	for _, a := range s.Topics {
		out = append(out, a.Topic)
	}
	return out
}

func TestScoutSeesWhatArrives(t *testing.T) {
	noLeak(t)
	b := embedded(t, BrokerOptions{})
	c := client(t, func(o *mqtt.ClientOptions) { o.AddBroker(at(b.Addr())) })
	must(t, c.Publish("thimble-garth/old", 1, true, "17.5"))
	settle(t, c)
	clock := &steps{now: time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC), step: 10 * time.Second}
	s := scouting(t, Options{Broker: b, Now: clock.Now}, time.Minute)
	if got := s.Look(); got.Up || got.Why != "" || got.Topics != nil {
		t.Errorf("the first look: %+v", got)
	}
	waitFor(t, "what was retained", func() bool { return len(s.Look().Topics) == 1 })
	for i := range 5 {
		must(t, c.Publish("thimble-garth/bench-1", 1, false, fmt.Sprintf("%d", i)))
	}
	must(t, c.Publish("thimble-garth/long", 1, false, strings.Repeat("x", 5000)))
	must(t, c.Publish("lamps/one", 1, false, "on"))
	must(t, c.Publish("thimble-garth/gone", 1, true, ""))
	must(t, c.Publish(strings.Repeat("t", 600), 1, false, "1"))
	must(t, c.Publish("thimble-garth/zz", 1, false, "last"))
	waitFor(t, "the newest topic", func() bool { return slices.Contains(topicNames(s.Look()), "thimble-garth/zz") })
	got := s.Look()
	if want := []string{"thimble-garth/bench-1", "thimble-garth/long", "thimble-garth/old", "thimble-garth/zz"}; !slices.Equal(topicNames(got), want) || !got.Up || got.Further != 1 {
		t.Fatalf("got %q, %+v", topicNames(got), got)
	}
	bench, long, old := got.Topics[0], got.Topics[1], got.Topics[2]
	if bench.Count != 5 || bench.Retained || bench.Every != clock.step || len(bench.Payloads) != 3 || string(bench.Payloads[0].Data) != "4" {
		t.Errorf("got %+v, want 5 messages, one each 10 s, the newest 3 kept", bench)
	}
	if p := long.Payloads[0]; len(p.Data) != 4096 || p.Size != 5000 || long.Every != 0 {
		t.Errorf("a long payload: %d of %d bytes, every %v", len(p.Data), p.Size, long.Every)
	}
	if !old.Retained || !old.Payloads[0].Retained || !bytes.Equal(old.Payloads[0].Data, []byte("17.5")) {
		t.Errorf("a retained one: %+v", old)
	}
}

// steps is a clock that moves at each look.
type steps struct {
	mu   sync.Mutex
	now  time.Time
	step time.Duration
}

func (s *steps) Now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now = s.now.Add(s.step)
	return s.now
}

func TestScoutIsThereOnlyWhileSomebodyLooks(t *testing.T) {
	noLeak(t)
	b := embedded(t, BrokerOptions{})
	s := scouting(t, Options{Broker: b}, 300*time.Millisecond)
	c := client(t, func(o *mqtt.ClientOptions) { o.AddBroker(at(b.Addr())) })
	must(t, c.Publish("thimble-garth/bench-1", 1, true, "21.5"))
	waitFor(t, "nobody but the probe", func() bool { return b.Stats().Clients == 1 })
	for range 2 { // and again after it has ended
		waitFor(t, "it listens", func() bool { return len(s.Look().Topics) == 1 })
		if n := b.Stats().Clients; n != 2 {
			t.Errorf("%d clients while it listens, want 2", n)
		}
		waitFor(t, "it ends", func() bool { return b.Stats().Clients == 1 })
		s.mu.Lock()
		if len(s.arrived) != 0 || s.sight.Up {
			t.Error("it remembers what it has seen after it has ended")
		}
		s.mu.Unlock()
	}
	var own atomic.Int64
	must(t, c.Subscribe("telltale/#", 0, func(mqtt.Client, mqtt.Message) { own.Add(1) }))
	waitFor(t, "it listens", func() bool { return len(s.Look().Topics) == 1 })
	waitFor(t, "it ends", func() bool { return b.Stats().Clients == 1 })
	settle(t, c)
	if n := own.Load(); n != 0 {
		t.Errorf("it left %d messages at the broker, want none", n)
	}
}

func TestScoutIsBounded(t *testing.T) {
	b := embedded(t, BrokerOptions{})
	s := scouting(t, Options{Broker: b}, time.Minute)
	waitFor(t, "it is connected", func() bool { return s.Look().Up })
	c := client(t, func(o *mqtt.ClientOptions) { o.AddBroker(at(b.Addr())) })
	const more = 20
	for i := range scoutTopics + more {
		must(t, c.Publish(fmt.Sprintf("flood/%d", i), 1, false, "1"))
	}
	waitFor(t, "all have come", func() bool { return s.Look().Further == more })
	if n := len(s.Look().Topics); n != scoutTopics {
		t.Errorf("it remembers %d topics, want %d", n, scoutTopics)
	}
}

// A broker that does not let its account look is told, with what to check.
func TestScoutTellsARefusal(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: []Account{{User: "narrow", Password: "secret", Subscribe: []string{"thimble-garth/#"}}}})
	s := scouting(t, Options{Servers: []string{at(b.Addr())}, User: "narrow", Password: "secret", ClientID: "narrow"}, time.Minute)
	waitFor(t, "the refusal", func() bool { return strings.Contains(s.Look().Why, "does not let") })
	wantSentence(t, s.Look().Why, "narrow", "#", "topic rights")
}

// At a broker of another make: what was retained comes marked so, its own
// figures below $SYS do not come, and the watch beside it is not disturbed.
func TestScoutAtMosquitto(t *testing.T) {
	m := startMosquitto(t)
	watch := startLink(t, m.options())
	watch.change(true)
	c := m.client("bench-1")
	must(t, c.Publish("thimble-garth/long-house/bench-1/old", 1, true, "17.5"))
	watch.take(1)
	s := scouting(t, m.options(), 500*time.Millisecond)
	waitFor(t, "what was retained", func() bool { return len(s.Look().Topics) == 1 })
	must(t, c.Publish("thimble-garth/long-house/bench-1/new", 1, false, "21.5"))
	waitFor(t, "what is new", func() bool { return len(s.Look().Topics) == 2 })
	got := s.Look()
	if want := []string{"thimble-garth/long-house/bench-1/new", "thimble-garth/long-house/bench-1/old"}; !slices.Equal(topicNames(got), want) || got.Topics[0].Retained || !got.Topics[1].Retained {
		t.Errorf("got %+v", got.Topics)
	}
	waitFor(t, "it ends", func() bool { s.mu.Lock(); defer s.mu.Unlock(); return s.sight.Since.IsZero() })
	must(t, c.Publish("thimble-garth/long-house/bench-1/new", 1, false, "22"))
	if got := watch.take(2); string(got[1].Payload) != "22" || got[1].Retained {
		t.Errorf("the watch got %+v", got)
	}
}
