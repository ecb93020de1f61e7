package gateway

import (
	"bufio"
	"fmt"
	"net"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"telltale/alarms"
	"telltale/alarms/say"
)

// TestMessagesDroppedByTheQueueAreTold holds the owner up while more comes in
// than the link's queue can take.
func TestMessagesDroppedByTheQueueAreTold(t *testing.T) {
	if testing.Short() {
		t.Skip("waits until the link gives up holding back")
	}
	t.Parallel()
	c, err := read(victimConfig, t.TempDir())
	ok(t, err)
	c.Link.QueueSize = 16
	p := runningBy(t, c, NewClock(time.Now(), 100))
	at := p.running()
	probe := dial(t, at.Broker, at.User, at.Password)
	await(t, "the link is up", func() bool { return p.link.Stats().Up })

	hold := make(chan alarms.Picture) // the owner waits until somebody takes the picture
	p.owner.looks <- look{reply: hold}
	for n := range 200 {
		probe.Publish("g/p0", 1, false, fmt.Sprintf("%.1f", 20+float64(n)/100))
	}
	await(t, "the queue drops messages", func() bool { return p.link.Stats().Dropped > 50 })
	<-hold
	var note string
	await(t, "the losses are told", func() bool {
		for _, a := range p.watch.Picture().Alarms {
			if a.ID == alarms.TroubleLosses && a.State == alarms.Unacknowledged {
				note = a.Sentence
				return true
			}
		}
		return false
	})
	if !strings.Contains(note, "The watch has lost messages") {
		t.Errorf("the trouble is told as %q", note)
	}
	await(t, "ten quiet minutes end it", func() bool { return !stateOf(p.watch.Picture(), alarms.TroubleLosses).Active() })
}

// TestWhatTheBrokerDropsForOthersIsNoLoss has a client that subscribes to
// everything and reads nothing. It is counted, and nobody is told of it.
func TestWhatTheBrokerDropsForOthersIsNoLoss(t *testing.T) {
	t.Parallel()
	c, err := read(victimConfig, t.TempDir())
	ok(t, err)
	p := runningBy(t, c, nil)
	at := p.running()
	await(t, "the link is up", func() bool { return p.link.Stats().Up })

	deaf, err := net.Dial("tcp", at.Broker)
	ok(t, err)
	defer deaf.Close()
	// MQTT 3.1.1, 3.1 CONNECT with a clean session and 3.8 SUBSCRIBE to "other/#" at QoS 1.
	_, err = deaf.Write(append([]byte("\x10\x10\x00\x04MQTT\x04\x02\x00\x00\x00\x04deaf"), "\x82\x0c\x00\x01\x00\x07other/#\x01"...))
	ok(t, err)
	answers := bufio.NewReader(deaf)
	for _, want := range []byte("\x20\x02\x00\x00\x90\x03\x00\x01\x01") { // CONNACK, SUBACK
		got, err := answers.ReadByte()
		ok(t, err)
		if got != want {
			t.Fatalf("the broker answers with %#x, want %#x", got, want)
		}
	}
	var sent atomic.Int64
	probe := dial(t, at.Broker, at.User, at.Password)
	payload := strings.Repeat("x", 2000)
	flooded := func() bool {
		var last mqtt.Token
		for range 500 {
			last = probe.Publish("other/x", 1, false, payload)
		}
		last.WaitTimeout(5 * time.Minute)
		return sent.Add(500) > 60_000 || p.broker.Stats().Dropped > 0
	}
	for !flooded() {
	}
	if p.broker.Stats().Dropped == 0 {
		t.Fatalf("of %d messages to a client that reads nothing the broker dropped none", sent.Load())
	}
	probe.Publish("g/p0", 1, false, "20.0")
	await(t, "the watch goes on", func() bool { return point(p.watch.Picture(), "bench", alarms.Temperature).Value == 20 })
	turns := p.owner.steps.Load()
	await(t, "the owner has looked at what was lost", func() bool { return p.owner.steps.Load() > turns+3 })
	if s := stateOf(p.watch.Picture(), alarms.TroubleLosses); s != alarms.Normal {
		t.Errorf("what another client did not take is a trouble: %v", s)
	}
	if n := p.counts().Link.Broker; n == 0 {
		t.Error("what the broker dropped is not counted")
	}
}

// TestAFloodIsTold has one probe send far more than a probe would.
func TestAFloodIsTold(t *testing.T) {
	t.Parallel()
	p := still(t, t.TempDir(), victimStart)
	o := p.owner
	n, topic := uint64(0), ""
	o.losses = func() (uint64, string) { return n, topic }
	o.watchSelf()
	if stateOf(o.engine.Picture(), alarms.TroubleLosses).Active() {
		t.Error("nothing was lost, and that is told")
	}
	n, topic = 53_900, "g/p0"
	o.watchSelf()
	o.settle()
	all := say.Picture(o.engine.Plan(), o.engine.Picture(), say.Locale{}).Alarms
	i := slices.IndexFunc(all, func(a alarms.AlarmPicture) bool { return a.ID == alarms.TroubleLosses })
	if i < 0 || !strings.Contains(all[i].Sentence, `53900 messages so far; "g/p0" brings far more of them than any probe would`) {
		t.Errorf("got %+v", all)
	}
}
