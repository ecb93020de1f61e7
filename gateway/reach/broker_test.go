package reach

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
)

// openDoor lets everybody in and do everything.
type openDoor struct{ mochi.HookBase }

func (*openDoor) Provides(b byte) bool {
	return b == mochi.OnConnectAuthenticate || b == mochi.OnACLCheck
}
func (*openDoor) OnConnectAuthenticate(*mochi.Client, packets.Packet) bool { return true }
func (*openDoor) OnACLCheck(*mochi.Client, string, bool) bool              { return true }

// startBroker runs a real broker on a free port and returns its address.
func startBroker(t *testing.T) string {
	t.Helper()
	broker := mochi.New(&mochi.Options{Logger: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err := broker.AddHook(new(openDoor), nil); err != nil {
		t.Fatal(err)
	}
	listener := listeners.NewTCP(listeners.Config{ID: "test", Address: "127.0.0.1:0"})
	if err := broker.AddListener(listener); err != nil {
		t.Fatal(err)
	}
	if err := broker.Serve(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { broker.Close() })
	return "tcp://" + listener.Address()
}

// connect returns a client of the broker.
func connect(t *testing.T, address, name string) paho.Client {
	t.Helper()
	c := paho.NewClient(paho.NewClientOptions().AddBroker(address).SetClientID(name).SetAutoReconnect(false))
	if token := c.Connect(); !token.WaitTimeout(5*time.Minute) || token.Error() != nil {
		t.Fatalf("cannot connect: %v", token.Error())
	}
	t.Cleanup(func() { c.Disconnect(100) })
	return c
}

// client is a Publisher over a real connection.
type client struct{ paho.Client }

func (c client) Publish(ctx context.Context, topic string, payload []byte, qos byte, retain bool) error {
	token := c.Client.Publish(topic, qos, retain, payload)
	select {
	case <-token.Done():
		return token.Error()
	case <-ctx.Done():
		return ctx.Err()
	}
}

// follower hears what a lamp would hear.
type follower struct {
	mu       sync.Mutex
	retained map[string]string // newest payload by topic
	live     []message
}

type message struct{ topic, payload string }

func follow(t *testing.T, address, name, filter string) *follower {
	t.Helper()
	f := &follower{retained: map[string]string{}}
	hear := func(_ paho.Client, m paho.Message) {
		f.mu.Lock()
		defer f.mu.Unlock()
		if m.Retained() {
			f.retained[m.Topic()] = string(m.Payload())
		} else {
			f.live = append(f.live, message{m.Topic(), string(m.Payload())})
		}
	}
	if token := connect(t, address, name).Subscribe(filter, 1, hear); !token.WaitTimeout(5*time.Minute) || token.Error() != nil {
		t.Fatalf("cannot subscribe: %v", token.Error())
	}
	return f
}

func (f *follower) topics() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Sorted(maps.Keys(f.retained))
}

func (f *follower) kept(topic string) string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.retained[topic]
}

func (f *follower) heard(topic string) []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	var all []string
	for _, m := range f.live {
		if m.topic == topic {
			all = append(all, m.payload)
		}
	}
	return all
}

// desk is a Publisher that only remembers.
type desk struct {
	mu    sync.Mutex
	sent  []message
	fails int                         // from this message on; 0: never
	wait  func(context.Context) error // nil: at once
}

func (d *desk) Publish(ctx context.Context, topic string, payload []byte, qos byte, retain bool) error {
	d.mu.Lock()
	wait := d.wait
	d.mu.Unlock()
	if wait != nil {
		if err := wait(ctx); err != nil {
			return err
		}
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.fails > 0 && len(d.sent)+1 >= d.fails {
		return errors.New("not connected")
	}
	if qos != 1 || retain == (topic == "telltale/event") {
		return errors.New("wrong quality of service or retain flag")
	}
	d.sent = append(d.sent, message{topic, string(payload)})
	return nil
}

func (d *desk) messages() []message {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.Clone(d.sent)
}

func (d *desk) set(change func(*desk)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	change(d)
}
