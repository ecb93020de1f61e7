package link

import (
	"bufio"
	"fmt"
	"net"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"
)

const (
	benchMessages = 15000 // fewer than the embedded broker keeps for a client
	benchTopics   = 1000
	benchPayload  = `{"celsius":21.52,"n":1}`
)

// BenchmarkMessages compares Link.Messages with a bare subscriber of the same
// client library, which only counts, on the same broker and in the same run,
// in turn. "fed" is no broker but a stream of ready packets, so that the
// subscriber alone is measured. The link reaches the embedded broker within
// the process, the bare subscriber by TCP. The ratio is the link's rate over the bare
// one's; only it may be compared between machines.
func BenchmarkMessages(b *testing.B) {
	for _, qos := range []byte{0, 1} {
		b.Run(fmt.Sprintf("mosquitto/qos%d", qos), func(b *testing.B) {
			m := newMosquitto(b, "max_inflight_messages 1000")
			m.lines = slices.DeleteFunc(m.lines, func(l string) bool {
				return l == "log_type all" || l == "persistence true" || l == "autosave_on_changes true"
			})
			m.start()
			compare(b, m.options(), m.options(), qos, func() { flood(b, m.addr, "telltale", "rain", qos) })
		})
		b.Run(fmt.Sprintf("embedded/qos%d", qos), func(b *testing.B) {
			br := embedded(b, BrokerOptions{Speed: 1e6})
			bare := watchOf(br)
			compare(b, bare, Options{Broker: br}, qos, func() { flood(b, br.Addr().String(), "", "", qos) })
			if n := br.Stats().Dropped; n > 0 {
				b.Errorf("the broker dropped %d", n)
			}
		})
		b.Run(fmt.Sprintf("fed/qos%d", qos), func(b *testing.B) {
			f := newFeeder(b, qos)
			o := Options{Servers: []string{"mqtt://" + f.ln.Addr().String()}}
			compare(b, o, o, qos, func() { f.feed <- struct{}{} })
		})
	}
}

func compare(b *testing.B, one, other Options, qos byte, publish func()) {
	one.QoS, other.QoS, other.CleanSession, other.Speed = qos, qos, true, 1e6
	var bare, link time.Duration
	for b.Loop() {
		bare += timeBare(b, one, publish)
		link += timeLink(b, other, publish)
	}
	total := float64(b.N) * benchMessages
	b.ReportMetric(total/bare.Seconds(), "bare/s")
	b.ReportMetric(total/link.Seconds(), "link/s")
	b.ReportMetric(bare.Seconds()/link.Seconds(), "ratio")
	b.ReportMetric(0, "ns/op")
}

func timeBare(b *testing.B, o Options, publish func()) time.Duration {
	var n atomic.Int64
	done := make(chan struct{})
	c := client(b, func(co *mqtt.ClientOptions) {
		co.AddBroker(o.Servers[0]).SetUsername(o.User).SetPassword(o.Password)
	})
	must(b, c.Subscribe("thimble-garth/#", o.QoS, func(mqtt.Client, mqtt.Message) {
		if n.Add(1) == benchMessages {
			close(done)
		}
	}))
	began := time.Now()
	publish()
	select {
	case <-done:
	case <-time.After(4 * patience):
		b.Fatalf("bare: %d of %d came", n.Load(), benchMessages)
	}
	took := time.Since(began)
	c.Disconnect(100)
	return took
}

func timeLink(b *testing.B, o Options, publish func()) time.Duration {
	r := startLink(b, o)
	r.change(true)
	began := time.Now()
	publish()
	late := time.After(4 * patience)
	for n := 0; n < benchMessages; n++ {
		select {
		case <-r.Messages():
		case <-late:
			b.Fatalf("link: %d of %d came", n, benchMessages)
		}
	}
	took := time.Since(began)
	r.stop()
	if s := r.Stats(); s.Dropped > 0 {
		b.Errorf("the link dropped %d", s.Dropped)
	}
	return took
}

// flood publishes all messages, at QoS 1 with at most 1000 unacknowledged.
func flood(b *testing.B, addr, user, password string, qos byte) {
	c := client(b, func(o *mqtt.ClientOptions) { o.AddBroker("mqtt://" + addr).SetUsername(user).SetPassword(password) })
	defer c.Disconnect(1000)
	var window [1000]mqtt.Token
	for i := range benchMessages {
		if old := window[i%len(window)]; old != nil && qos > 0 {
			must(b, old)
		}
		window[i%len(window)] = c.Publish(fmt.Sprintf("thimble-garth/%d", i%benchTopics), qos, false, benchPayload)
	}
	for _, token := range window {
		must(b, token)
	}
}

// feeder answers CONNECT and SUBSCRIBE and then streams ready packets.
type feeder struct {
	ln   net.Listener
	feed chan struct{}
	all  []byte
}

func newFeeder(b *testing.B, qos byte) *feeder {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	f := &feeder{ln: ln, feed: make(chan struct{}, 1)}
	var w sliceWriter
	for i := range benchMessages {
		p := packets.NewControlPacket(packets.Publish).(*packets.PublishPacket)
		p.Qos, p.MessageID = qos, uint16(i%60000+1)
		p.TopicName, p.Payload = fmt.Sprintf("thimble-garth/%d", i%benchTopics), []byte(benchPayload)
		if err := p.Write(&w); err != nil {
			b.Fatal(err)
		}
	}
	f.all = w
	var wg sync.WaitGroup
	wg.Go(func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			wg.Go(func() { f.talk(c) })
		}
	})
	b.Cleanup(func() { ln.Close(); wg.Wait() })
	return f
}

func (f *feeder) talk(c net.Conn) {
	defer c.Close()
	r := bufio.NewReaderSize(c, 64<<10)
	fed := false
	for {
		cp, err := packets.ReadPacket(r)
		if err != nil {
			return
		}
		switch p := cp.(type) {
		case *packets.ConnectPacket:
			_ = packets.NewControlPacket(packets.Connack).Write(c)
		case *packets.SubscribePacket:
			a := packets.NewControlPacket(packets.Suback).(*packets.SubackPacket)
			a.MessageID, a.ReturnCodes = p.MessageID, p.Qoss
			_ = a.Write(c)
			if !fed {
				fed = true
				go func() {
					select {
					case <-f.feed:
						_, _ = c.Write(f.all)
					case <-time.After(patience):
					}
				}()
			}
		case *packets.PublishPacket:
			a := packets.NewControlPacket(packets.Puback).(*packets.PubackPacket)
			a.MessageID = p.MessageID
			_ = a.Write(c)
		}
	}
}

type sliceWriter []byte

func (w *sliceWriter) Write(p []byte) (int, error) {
	*w = append(*w, p...)
	return len(p), nil
}
