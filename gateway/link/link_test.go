package link

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"telltale/gateway/topic"
)

func TestOptionsAreChecked(t *testing.T) {
	for _, c := range []struct {
		o    Options
		want []string
	}{
		{Options{}, []string{"no broker given", "nothing to subscribe to"}},
		{Options{Servers: []string{"http://127.0.0.1", "mqtt://", "mqtt://h/x", "mqtt://u:secret@h", "127.0.0.1:1883"}, Filters: []string{"a#"}},
			[]string{`"http://127.0.0.1": want mqtt://`, `"mqtt://": want scheme, host and port`, `"mqtt://h/x"`, "do not belong into the address", "no URL", `topic filter: must have # alone in its level, not "a#"`}},
		{Options{Servers: []string{"mqtt://h"}, Filters: []string{"a"}, QoS: 2, KeepAlive: time.Second, StateTopic: "a/+", Password: "p", QueueSize: -1},
			[]string{"quality of service 2; want 0 or 1", "keep alive 1s", `state topic: must be one topic, without + and # (got "a/+")`, "a password without a user name", "queue of -1"}},
		{Options{Servers: []string{"mqtt://h"}, Filters: []string{"a"}, PublishOnly: true}, []string{"1 topic filters for a link that shall only publish"}},
		{Options{Servers: []string{"mqtt://h"}, Filters: []string{"a"}, CAFile: "x"}, []string{"no broker address uses TLS"}},
		{Options{Servers: []string{"mqtts://h"}, Filters: []string{"a"}, CAFile: "missing.crt"}, []string{"missing.crt"}},
	} {
		_, err := New(c.o)
		if err == nil {
			t.Errorf("%+v was accepted", c.o)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("error lacks %q:\n%v", w, err)
			}
		}
		if strings.Contains(err.Error(), "secret") {
			t.Errorf("the error shows a password: %v", err)
		}
	}
}

func TestMessagesAndRetained(t *testing.T) {
	noLeak(t)
	b := embedded(t, BrokerOptions{})
	pub := client(t, func(o *mqtt.ClientOptions) { o.AddBroker(at(b.Addr())) })
	must(t, pub.Publish("thimble-garth/old", 1, true, "19.5"))
	settle(t, pub)
	noon := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	o := watchOf(b)
	o.Now = func() time.Time { return noon }
	r := startLink(t, o)
	if c := r.change(true); c.At != noon || c.Why != "Connected to the broker at "+b.Addr().String()+"." {
		t.Errorf("change %+v", c)
	}
	old := r.take(1)[0]
	must(t, pub.Publish("thimble-garth/old", 1, true, "20.5"))
	fresh := r.take(1)[0]
	if !old.Retained || string(old.Payload) != "19.5" {
		t.Errorf("%+v must be the retained 19.5", old)
	}
	if fresh.Retained || fresh.Held || fresh.Duplicate || string(fresh.Payload) != "20.5" || fresh.Received != noon {
		t.Errorf("%+v must be the live 20.5", fresh)
	}
	must(t, pub.Publish("thimble-garth/long", 1, false, strings.Repeat("x", 65537)))
	waitFor(t, "the long payload to be counted", func() bool { return r.Stats().TooLong == 1 })
	if s := r.Stats(); s.Received != 3 || s.Connects != 1 || !s.Up || s.Server != b.Addr().String() {
		t.Errorf("%+v", s)
	}
	r.stop()
	if s := r.Stats(); s.Up || s.Server != "" {
		t.Errorf("after the end: %+v", s)
	}
	if err := r.Run(t.Context()); err == nil {
		t.Error("Run ran twice")
	}
}

// TestBrokerDownAtTheStart: no failure, one change however often it tries, and
// the connection as soon as there is a broker.
func TestBrokerDownAtTheStart(t *testing.T) {
	noLeak(t)
	addr := freePort(t)
	r := startLink(t, Options{Servers: []string{"mqtt://" + addr}, User: "telltale", Password: "moss"})
	why := r.change(false).Why
	wantSentence(t, why, "Nothing listens at "+addr, "Check that the broker runs")
	waitFor(t, "some attempts", func() bool { return r.Stats().Failures > 3 })
	if err := r.Publish(t.Context(), "thimble-garth/x", nil, 1, false); !errors.Is(err, ErrDown) {
		t.Errorf("Publish: %v, want ErrDown", err)
	}
	b, err := StartBroker(BrokerOptions{Address: addr, WatchPassword: "moss"})
	if err != nil {
		t.Fatal(err)
	}
	r.change(true)
	if err := b.Close(); err != nil {
		t.Error(err)
	}
	wantSentence(t, r.change(false).Why, "was lost")
}

// TestSecondServer: the next address is tried when the first does not answer.
func TestSecondServer(t *testing.T) {
	b := embedded(t, BrokerOptions{})
	o := watchOf(b)
	o.Servers = []string{"mqtt://" + freePort(t), o.Servers[0]}
	r := startLink(t, o)
	if c := r.change(true); !strings.Contains(c.Why, b.Addr().String()) {
		t.Error(c.Why)
	}
}

// TestState: the retained state follows the life of the watch, and the broker
// speaks up when the watch goes without a word.
func TestState(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: houseAccounts})
	states := make(chan stateNote, 10)
	watcher := client(t, login(b, "page", "slate"))
	must(t, watcher.Subscribe(topic.Own+topic.State, 1, func(_ mqtt.Client, m mqtt.Message) {
		var s stateNote
		if err := json.Unmarshal(m.Payload(), &s); err != nil {
			t.Errorf("%s: %v", m.Payload(), err)
		}
		states <- s
	}))
	next := func(want State) {
		t.Helper()
		select {
		case s := <-states:
			if s.State != want || s.Since.IsZero() {
				t.Fatalf("state %+v, want %s", s, want)
			}
		case <-time.After(patience):
			t.Fatalf("state %s did not come", want)
		}
	}
	r := startLink(t, watchOf(b))
	next(Watching)
	r.stop()
	next(Stopped)
	r = startLink(t, watchOf(b))
	next(Watching)
	r.change(true)
	// The link dies: its socket is closed under it.
	cl, _ := b.server.Clients.Get("telltale")
	cl.Net.Conn.Close()
	next(Lost)
	r.change(false)
	r.change(true)
	next(Watching)
}

// TestRefusedSubscription: what the broker does not let the watch hear is
// told; the rest still arrives.
func TestRefusedSubscription(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: []Account{{User: "half", Password: "p", Publish: []string{"thimble-garth/#"}, Subscribe: []string{"thimble-garth/#"}}}})
	// Its state it may not publish either; a will there would not let it in.
	r := startLink(t, Options{Servers: []string{at(b.Addr())}, User: "half", Password: "p", ClientID: "half", QoS: 1,
		Filters: []string{"low-house/#", "thimble-garth/#"}, StateTopic: "thimble-garth/half"})
	wantSentence(t, r.change(true).Why, `does not let the account "half" subscribe to low-house/#`, "Check the topic rights")
	if err := r.Publish(t.Context(), "thimble-garth/x", []byte("1"), 1, false); err != nil {
		t.Error(err)
	}
	r.take(1)
	deaf := startLink(t, Options{Servers: []string{at(b.Addr())}, User: "half", Password: "p", ClientID: "deaf",
		Filters: []string{"low-house/#"}, StateTopic: "thimble-garth/half"})
	wantSentence(t, deaf.change(false).Why, "low-house/#")
}

// TestStuckReader: a reader that takes nothing breaks neither the connection
// nor the order, and the newest messages are there when it comes back.
func TestStuckReader(t *testing.T) {
	b := embedded(t, BrokerOptions{})
	o := watchOf(b)
	o.QueueSize, o.holdBack = 10, 50*time.Millisecond
	r := startLink(t, o)
	r.change(true)
	pub := client(t, func(o *mqtt.ClientOptions) { o.AddBroker(at(b.Addr())) })
	const n = 200
	for i := range n {
		must(t, pub.Publish("thimble-garth/x", 1, false, reading(i)))
	}
	waitFor(t, "all to be received", func() bool { return r.Stats().Received == n })
	waitFor(t, "the last one to be queued", func() bool { return r.Stats().Dropped == n-10 })
	got := r.take(10)
	for i, m := range got {
		if want := reading(n - 10 + i); string(m.Payload) != want {
			t.Errorf("message %d is %s, want %s", i, m.Payload, want)
		}
	}
	if s := r.Stats(); !s.Up || s.Connects != 1 || s.Dropped != n-10 || s.QueuePeak != 10 {
		t.Errorf("%+v", s)
	}
}

// TestSessionTakenOver: two watches with one client ID throw each other out;
// that must be said.
func TestSessionTakenOver(t *testing.T) {
	b := embedded(t, BrokerOptions{})
	one, two := startLink(t, watchOf(b)), startLink(t, watchOf(b))
	found := make(chan string, 100)
	look := func(r *running) bool {
		select {
		case c := <-r.Changes():
			if strings.Contains(c.Why, "client ID") {
				found <- c.Why
			}
		default:
		}
		return len(found) > 0
	}
	waitFor(t, "the hint at a second client", func() bool { return look(one) || look(two) })
	wantSentence(t, <-found, `another program took the watch's place there by connecting with its client ID, "telltale"`)
	waitFor(t, "that it keeps happening is told", func() bool {
		return strings.Contains(one.Stats().Why+two.Stats().Why, `so most likely its session is taken over: check that no other program uses the client ID "telltale"`)
	})
}

func TestPublishChecks(t *testing.T) {
	b := embedded(t, BrokerOptions{})
	r := startLink(t, watchOf(b))
	r.change(true)
	for _, topic := range []string{"", "a/#", "a/+"} {
		if err := r.Publish(t.Context(), topic, nil, 1, false); err == nil || errors.Is(err, ErrDown) {
			t.Errorf("topic %q: %v", topic, err)
		}
	}
	if err := r.Publish(t.Context(), "a", nil, 2, false); err == nil {
		t.Error("quality of service 2 was accepted")
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if err := r.Publish(gone, "a", nil, 1, false); err != nil && !errors.Is(err, context.Canceled) {
		t.Errorf("with an ended context: %v", err)
	}
}

// TestOverlappingFilters: one message through filters that cover one another
// comes once; what two filters overlap in part may come twice, and nothing is
// lost.
func TestOverlappingFilters(t *testing.T) {
	b := embedded(t, BrokerOptions{})
	o := watchOf(b)
	o.Filters = []string{"thimble-garth/#", "thimble-garth/+/air", "thimble-garth/bench-1/+"}
	r := startLink(t, o)
	r.change(true)
	if !slices.Equal(r.filters, []string{"thimble-garth/#"}) {
		t.Errorf("subscribes to %q", r.filters)
	}
	pub := client(t, func(o *mqtt.ClientOptions) { o.AddBroker(at(b.Addr())) })
	must(t, pub.Publish("thimble-garth/bench-1/air", 1, false, "1"))
	must(t, pub.Publish("thimble-garth/bench-1/air", 1, false, "1")) // a second equal reading
	must(t, pub.Publish("thimble-garth/end", 1, false, "1"))
	if got := r.take(3); got[2].Topic != "thimble-garth/end" {
		t.Errorf("got %+v, want each of three once", got)
	}
}

// TestPublishOnly: a link for a heartbeat to another broker needs no rights
// but to publish.
func TestPublishOnly(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: houseAccounts})
	o := Options{Servers: []string{at(b.Addr())}, User: "bench-1", Password: "rain", ClientID: "watch-of-the-house",
		PublishOnly: true, StateTopic: "thimble-garth/long-house/bench-1/state"}
	r := startLink(t, o)
	r.change(true)
	if err := r.Publish(t.Context(), "thimble-garth/long-house/bench-1/heartbeat", []byte("1"), 1, true); err != nil {
		t.Error(err)
	}
	if n := b.Stats().RefusedTopics; n != 0 {
		t.Errorf("it asked for %d topics that it may not have", n)
	}
}

// TestAMessageEndsTheLongPauses: a connection that brought a message shows the
// broker to be well, however short it was. Without that the pauses here would
// grow beyond all patience.
func TestAMessageEndsTheLongPauses(t *testing.T) {
	b := embedded(t, BrokerOptions{})
	pub := client(t, func(o *mqtt.ClientOptions) { o.AddBroker(at(b.Addr())) })
	must(t, pub.Publish("thimble-garth/old", 1, true, "19.5"))
	settle(t, pub)
	o := watchOf(b)
	o.retryMin, o.retryMax, o.CleanSession = time.Millisecond, 10*time.Hour, true
	r := startLink(t, o)
	for i := range uint64(24) {
		r.take(1)
		if n := r.Stats().Connects; n != i+1 {
			t.Fatalf("%d connections for %d messages", n, i+1)
		}
		cl, ok := b.server.Clients.Get("telltale")
		if !ok {
			t.Fatal("the broker does not know the watch")
		}
		cl.Net.Conn.Close()
	}
}

// TestPausesAreShort: whatever the broker does, the watch is back within ten
// seconds of it.
func TestPausesAreShort(t *testing.T) {
	if o := (Options{}).withDefaults(); o.retryMax > 10*time.Second {
		t.Errorf("the longest pause is %v", o.retryMax)
	}
}
