package link

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"runtime"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"telltale/gateway/trials"
)

// text is a string as MQTT 3.1.1 writes it (section 1.5.3).
func text(s string) []byte { return append([]byte{byte(len(s) >> 8), byte(len(s))}, s...) }

// packet is one packet of MQTT 3.1.1 (section 2.2).
func packet(first byte, parts ...[]byte) []byte {
	body := bytes.Join(parts, nil)
	out := []byte{first}
	for n := len(body); ; {
		b := byte(n & 0x7f)
		if n >>= 7; n > 0 {
			out = append(out, b|0x80)
			continue
		}
		return append(append(out, b), body...)
	}
}

// hello is a CONNECT packet; kept: without clean session.
func hello(id, user, password string, kept bool) []byte {
	flags := byte(0xc2)
	if kept {
		flags = 0xc0
	}
	return packet(0x10, text("MQTT"), []byte{4, flags, 0, 60}, text(id), text(user), text(password))
}

// raw connects, sends what is given and keeps the connection; what is sent back
// is read where read is wanted.
func raw(t testing.TB, b *Broker, send []byte) net.Conn {
	t.Helper()
	c, err := net.Dial("tcp", b.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	_, _ = c.Write(send) // it may have been refused by now
	return c
}

// signIn is raw, with the answer read.
func signIn(t testing.TB, b *Broker, id, user, password string, kept bool) net.Conn {
	t.Helper()
	c := raw(t, b, hello(id, user, password, kept))
	answer := make([]byte, 4)
	if _, err := io.ReadFull(c, answer); err != nil || answer[3] != 0 {
		t.Fatalf("%s is not let in: % x, %v", id, answer, err)
	}
	return c
}

// deaf signs in, subscribes to everything and takes nothing from then on, not
// even into buffers of the system.
func deaf(t testing.TB, b *Broker, id string, qos byte) {
	t.Helper()
	ours, theirs := net.Pipe()
	t.Cleanup(func() { _ = ours.Close() })
	c, _ := b.listen.track(theirs)
	b.listen.admit(func() { b.listen.greet(c, b.server.EstablishConnection) })
	for _, one := range []struct {
		send   []byte
		answer int
	}{{hello(id, "lamp", "slate of the roof", false), 4}, {packet(0x82, []byte{0, 1}, text("thimble-garth/#"), []byte{qos}), 5}} {
		if _, err := ours.Write(one.send); err != nil {
			t.Fatal(err)
		}
		if _, err := io.ReadFull(ours, make([]byte, one.answer)); err != nil {
			t.Fatal(err)
		}
	}
}

var gardenAccounts = []Account{
	{User: "bench-1", Password: "rain of spring", Publish: []string{"thimble-garth/long-house/bench-1/#"}},
	{User: "lamp", Password: "slate of the roof", Subscribe: []string{"thimble-garth/#"}},
	{User: "both", Password: "moss of the wall", Publish: []string{"thimble-garth/#"}, Subscribe: []string{"thimble-garth/#"}},
}

// Who does not say who it is is held to a few, and has no room beyond some
// kilobytes; the connections of who signed in before are let in beside them.
func TestStrangersAreHeldToAFew(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: gardenAccounts})
	signIn(t, b, "bench-1", "bench-1", "rain of spring", false)
	for range 3 * hellosOfEach {
		raw(t, b, nil)
	}
	waitFor(t, "one address to have as many as it may", func() bool {
		b.gate.hellos.mu.Lock()
		defer b.gate.hellos.mu.Unlock()
		return b.gate.hellos.all == hellosOfEach
	})
	signIn(t, b, "bench-2", "bench-1", "rain of spring", false) // beside them, from the same address
	for name, first := range map[string][]byte{
		"a megabyte":                {0x10, 0xff, 0xff, 0x3f, 0},
		"an endless length":         {0x10, 0xff, 0xff, 0xff, 0xff, 0xff},
		"another packet":            packet(0x30, text("x"), []byte("1")),
		"another protocol":          []byte("GET / HTTP/1.1\r\n\r\n"),
		"more than a hello may be":  packet(0x10, make([]byte, helloMost+1)),
		"a length that never comes": {0x10, 0x80, 0x80, 0x80, 0x80, 0x80},
	} {
		if got, err := readHello(&fromBytes{Reader: bytes.NewReader(append(first, make([]byte, 1<<20)...))}); err == nil {
			t.Errorf("%s is taken: % x", name, got[:4])
		}
	}
	h, late := newHellos(), &fromBytes{}
	for i := range hellosMost {
		h.begin(fmt.Sprint("198.51.100.", i), &fromBytes{})
	}
	if h.all != hellosMost-hellosReserved || h.begin("203.0.113.1", late) {
		t.Errorf("strangers hold %d places, want %d", h.all, hellosMost-hellosReserved)
	}
	h.know("203.0.113.1")
	if !h.begin("203.0.113.1", late) {
		t.Error("an address from which somebody signed in before finds no place")
	}
	h.end("203.0.113.1", late)
	if len(h.from["203.0.113.1"]) != 0 || h.all != hellosMost-hellosReserved {
		t.Errorf("it is still counted: %+v", h)
	}
}

type fromBytes struct {
	io.Reader
	net.Conn
}

func (f *fromBytes) Read(p []byte) (int, error) { return f.Reader.Read(p) }

// Sessions are kept for who may read, and a handful of each account.
func TestFewSessionsAreKept(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: gardenAccounts})
	for _, a := range []struct {
		user, password string
		want           int
	}{{"bench-1", "rain of spring", 0}, {"lamp", "slate of the roof", sessionsOfEach}} {
		for i := range 5 * sessionsOfEach {
			c := signIn(t, b, fmt.Sprint(a.user, i), a.user, a.password, true)
			_ = c.Close()
			waitFor(t, "it is gone", func() bool { return b.Stats().Clients == 0 })
		}
		waitFor(t, "the sessions to be as many as may be", func() bool {
			kept := 0
			for _, c := range b.server.Clients.GetAll() {
				if string(c.Properties.Username) == a.user {
					kept++
				}
			}
			return kept == a.want
		})
	}
}

// Kept messages are bounded by number and by size; those that are there can
// still change and go, and what is not kept is passed on.
func TestRetainedMessagesAreBounded(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: gardenAccounts})
	c := client(t, login(b, "both", "moss of the wall"))
	got := make(chan string, 3*retainedMost)
	c.Subscribe("thimble-garth/#", 1, func(_ mqtt.Client, m mqtt.Message) { got <- m.Topic() }).WaitTimeout(patience)
	publish := func(topic, payload string) {
		if tok := c.Publish(topic, 1, true, payload); !tok.WaitTimeout(patience) || tok.Error() != nil {
			t.Fatal(tok.Error())
		}
	}
	for i := range retainedMost + 100 {
		publish(fmt.Sprint("thimble-garth/", i), "1")
	}
	if n := b.Stats().Retained; n < retainedMost || n > retainedMost+50 { // and the broker's own
		t.Errorf("%d are kept, want %d", n, retainedMost)
	}
	waitFor(t, "all are passed on", func() bool { return len(got) == retainedMost+100 })
	for i := range retainedMost {
		publish(fmt.Sprint("thimble-garth/", i), "")
	}
	big := strings.Repeat("x", 1<<16)
	for i := range 2 * retainedBytesMost >> 16 {
		publish(fmt.Sprint("thimble-garth/", i), big)
	}
	if n := b.Stats().Retained; n > retainedBytesMost>>16+50 {
		t.Errorf("%d of 64 kB each are kept", n)
	}
}

// A reader that takes nothing has so much waiting and no more, whatever the
// quality of service, and takes nothing from one that reads.
func TestAReaderThatTakesNothingIsBounded(t *testing.T) {
	for qos := range byte(2) {
		b := embedded(t, BrokerOptions{Accounts: gardenAccounts})
		deaf(t, b, "deaf", qos)
		reader := client(t, login(b, "lamp", "slate of the roof"))
		got := make(chan struct{}, 1<<12)
		reader.Subscribe("thimble-garth/#", qos, func(mqtt.Client, mqtt.Message) { got <- struct{}{} }).WaitTimeout(patience)
		c := client(t, login(b, "both", "moss of the wall"))
		const n = 100
		load := strings.Repeat("x", 1<<16)
		for i := range n {
			if tok := c.Publish("thimble-garth/load", 1, false, load); !tok.WaitTimeout(patience) || tok.Error() != nil {
				t.Fatal(tok.Error())
			}
			waitFor(t, "the reader has it", func() bool { return len(got) == i+1 })
		}
		waitFor(t, "the other is sent away, or left out", func() bool { return b.Stats().Clients == 2 || qos > 0 && b.Stats().Dropped > 0 })
	}
}

// One that reads and acknowledges nothing is left out, and stays.
func TestAReaderThatAcknowledgesNothingIsBounded(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: gardenAccounts})
	mum := signIn(t, b, "mum", "lamp", "slate of the roof", false)
	_, _ = mum.Write(packet(0x82, []byte{0, 1}, text("thimble-garth/#"), []byte{1}))
	go func() { _, _ = io.Copy(io.Discard, mum) }()
	c := client(t, login(b, "both", "moss of the wall"))
	waitFor(t, "it has subscribed", func() bool { return b.server.Info.Clone().Subscriptions == 1 })
	load := strings.Repeat("x", 1<<16)
	for range 40 {
		if tok := c.Publish("thimble-garth/load", 1, false, load); !tok.WaitTimeout(patience) || tok.Error() != nil {
			t.Fatal(tok.Error())
		}
	}
	waitFor(t, "the rest to be left out", func() bool { return b.Stats().Dropped == 40-bytesOfEach>>16 && b.Stats().Clients == 2 })
}

// Guesses are slowed, for one name, for many from one address, and not for a
// probe that knows its password.
func TestGuessesAreSlowed(t *testing.T) {
	var g guesses
	now := time.Date(2026, 4, 5, 12, 0, 0, 0, time.UTC)
	try := func(user, host string, right bool) bool {
		may := g.mayTry(user, host, now)
		if may {
			g.note(user, host, right)
		}
		return may
	}
	try("bench-1", "192.0.2.1", true)
	tried := 0
	for range 100 {
		if try("watch", "192.0.2.1", false) {
			tried++
		}
	}
	for i := range 100 {
		if try(fmt.Sprint("user-", i), "192.0.2.1", false) {
			tried++
		}
	}
	if tried != triesOfHost {
		t.Errorf("%d guesses were looked at in a minute, want %d", tried, triesOfHost)
	}
	if !try("bench-1", "192.0.2.1", true) {
		t.Error("a probe behind the same address is held up")
	}
	if try("bench-2", "192.0.2.1", true) || !try("bench-2", "192.0.2.2", true) {
		t.Error("a new name must wait there, and nowhere else")
	}
	now = now.Add(time.Minute)
	if !try("watch", "192.0.2.1", true) {
		t.Error("after a minute it still waits")
	}
	trials.Report(t, fmt.Sprintf("200 guesses at the broker, of which %d were looked at", tried))
}

// All of it at once costs less than 40 MB, and a probe is served meanwhile.
func TestHostileClientsCostLittleMemory(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: gardenAccounts})
	before := memory()
	for range 1000 {
		raw(t, b, nil)
	}
	for range 900 {
		raw(t, b, []byte{0x10, 0xff, 0xff, 0x3f, 0, 4})
	}
	for i := range 2000 {
		_ = raw(t, b, hello(fmt.Sprint("session-", i), "both", "moss of the wall", true)).Close()
	}
	for i := range 8 {
		deaf(t, b, fmt.Sprint("deaf-", i), byte(i%2))
	}
	var c mqtt.Client
	waitFor(t, "somebody can sign in", func() bool {
		o := mqtt.NewClientOptions().SetClientID("loud").SetConnectRetry(false)
		login(b, "both", "moss of the wall")(o)
		c = mqtt.NewClient(o)
		tok := c.Connect()
		return tok.WaitTimeout(patience) && tok.Error() == nil
	})
	t.Cleanup(func() { c.Disconnect(0) })
	load := strings.Repeat("x", 1<<16)
	for i := range 2000 {
		if tok := c.Publish(fmt.Sprint("thimble-garth/", i%700), 1, i%2 == 0, load); !tok.WaitTimeout(patience) || tok.Error() != nil {
			t.Fatal(tok.Error())
		}
	}
	grown := memory() - before
	t.Logf("grown by %.1f MB; %+v", grown, b.Stats())
	trials.Report(t, "4,000 hostile clients at the broker", trials.Memory(grown))
	if grown > 40 {
		t.Errorf("grown by %.1f MB, want less than 40", grown)
	}
}

// memory is what the process holds, MB: heap in use and stacks.
func memory() float64 {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.HeapInuse+m.StackInuse) / (1 << 20)
}

// What lamps follow is written by the watch alone, wherever it publishes.
func TestNobodyElseWritesWhatLampsFollow(t *testing.T) {
	all := Account{User: "both", Password: "moss of the wall", Publish: []string{"#"}}
	r := newBook(BrokerOptions{Accounts: []Account{all}, Own: []string{"garden/alarms/"}}).accounts["both"]
	for topic, want := range map[string]bool{"garden/alarms/state": false, "telltale/state": false, "$SYS/x": false,
		"garden/bench-1": true, "garden/alarms": true, "garden/+": false, "#": false} {
		if r.mayPublish(topic) != want {
			t.Errorf("%s may be written: %v, want %v", topic, !want, want)
		}
	}
}
