package gateway

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"

	"telltale/gateway/config"
	"telltale/gateway/link"
)

const (
	benchProbes   = 1000
	benchMessages = 60000
	benchWindow   = 500 // messages not yet acknowledged by the broker
)

// thousand is a config with a thousand probes, each at a place with a band.
// server is empty for the embedded broker.
func thousand(tb testing.TB, server string) *config.Config {
	tb.Helper()
	var b bytes.Buffer
	b.WriteString("[house.long-house]\nlatitude = 52.0\nlongitude = -2.0\n")
	for i := range benchProbes {
		fmt.Fprintf(&b, "[house.long-house.place.row-%d.temperature]\nlow = 5\nhigh = 35\n", i)
		fmt.Fprintf(&b, "[probe.row-%d-probe]\nplace = \"long-house/row-%d\"\nevery = \"30s\"\nmisses-allowed = 100\ntopic = \"thimble-garth/%d\"\ntemperature = {}\n", i, i, i)
	}
	b.WriteString("[channel.lamp]\nkind = \"mqtt\"\n[channel.slip]\nkind = \"command\"\nrun = [\"/bin/true\"]\nrehearse = true\n")
	b.WriteString("[person.grower]\nchannels = [\"slip\"]\n[[tell]]\npeople = [\"grower\"]\n[page]\naddress = \"127.0.0.1:0\"\n")
	if server != "" {
		fmt.Fprintf(&b, "[broker]\nservers = [%q]\n", server)
	} else {
		b.WriteString("[own-broker]\naddress = \"127.0.0.1:0\"\n")
	}
	c, problems := config.Parse("bench.toml", b.Bytes(), os.LookupEnv)
	if err := problems.Err(); err != nil {
		tb.Fatal(err)
	}
	c.Store.Directory = tb.TempDir()
	return c
}

// running starts the watch; stop stops it, at the latest when the test ends.
func running(tb testing.TB, c *config.Config) (p *parts, r Running, stop func()) {
	tb.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	o := Options{Config: c, Log: zerolog.New(os.Stderr).Level(zerolog.ErrorLevel)}
	p, err := build(o)
	if err != nil {
		tb.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- p.run(ctx, o) }()
	stop = sync.OnceFunc(func() {
		cancel()
		if err := errors.Join(<-done, p.close()); err != nil {
			tb.Error(err)
		}
	})
	tb.Cleanup(stop)
	await(tb, "the link is up", func() bool { return p.link.Stats().Up })
	return p, p.running(), stop
}

func await(tb testing.TB, what string, ok func() bool) {
	tb.Helper()
	for end := time.Now().Add(5 * time.Minute); !ok(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			tb.Fatalf("waited in vain until %s", what)
		}
	}
}

// quickMosquitto starts a broker process without accounts at a free port.
func quickMosquitto(tb testing.TB) string {
	tb.Helper()
	binary := "/usr/sbin/mosquitto"
	if _, err := os.Stat(binary); err != nil {
		tb.Skip("mosquitto is not installed (Debian: mosquitto)")
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatal(err)
	}
	addr := ln.Addr().String()
	ln.Close()
	_, port, _ := net.SplitHostPort(addr)
	conf := filepath.Join(tb.TempDir(), "broker.conf")
	text := "listener " + port + " 127.0.0.1\nallow_anonymous true\nmax_queued_messages 100000\nmax_inflight_messages 1000\nset_tcp_nodelay true\nlog_dest none\n"
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		tb.Fatal(err)
	}
	cmd := exec.Command(binary, "-c", conf)
	if err := cmd.Start(); err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	await(tb, "the broker listens", func() bool {
		c, err := net.Dial("tcp", addr)
		if err == nil {
			c.Close()
		}
		return err == nil
	})
	return addr
}

func dial(tb testing.TB, addr, user, password string) mqtt.Client {
	tb.Helper()
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("tcp://" + addr).SetUsername(user).SetPassword(password).
		SetClientID(fmt.Sprintf("bench-%d", time.Now().UnixNano())))
	if t := c.Connect(); t.Wait() && t.Error() != nil {
		tb.Fatal(t.Error())
	}
	tb.Cleanup(func() { c.Disconnect(10) })
	return c
}

// flood publishes n readings at QoS 1, round by round over all probes.
func flood(tb testing.TB, c mqtt.Client, n int) {
	var window [benchWindow]mqtt.Token
	for i := range n {
		slot := &window[i%benchWindow]
		if *slot != nil && (*slot).Wait() && (*slot).Error() != nil {
			tb.Fatal((*slot).Error())
		}
		*slot = c.Publish(fmt.Sprintf("thimble-garth/%d", i%benchProbes), 1, false, fmt.Sprintf("%.2f", 20+float64(i/benchProbes%200)/50))
	}
	for _, t := range window {
		if t != nil {
			t.Wait()
		}
	}
}

// BenchmarkEndToEnd compares the watch, from publish to saved and judged, with
// a bare subscriber of the same client library that only counts: same broker,
// same run, a thousand probes at QoS 1. Only the ratio may be compared between
// machines.
func BenchmarkEndToEnd(b *testing.B) {
	b.Run("mosquitto", func(b *testing.B) {
		addr := quickMosquitto(b)
		var bare, whole time.Duration
		for b.Loop() {
			bare += timeBare(b, addr, "", "")
			whole += timeWhole(b, thousand(b, "mqtt://"+addr), addr)
		}
		report(b, bare, whole)
	})
	b.Run("embedded", func(b *testing.B) {
		var bare, whole time.Duration
		for b.Loop() {
			c := thousand(b, "")
			broker, err := link.StartBroker(brokerOptions(c, zerolog.Nop()))
			if err != nil {
				b.Fatal(err)
			}
			user, password := broker.Login()
			bare += timeBare(b, broker.Addr().String(), user, password)
			if err := broker.Close(); err != nil {
				b.Fatal(err)
			}
			whole += timeWhole(b, c, "")
		}
		report(b, bare, whole)
	})
}

func report(b *testing.B, bare, whole time.Duration) {
	total := float64(b.N) * benchMessages
	b.ReportMetric(total/bare.Seconds(), "bare/s")
	b.ReportMetric(total/whole.Seconds(), "saved/s")
	b.ReportMetric(bare.Seconds()/whole.Seconds(), "ratio")
	b.ReportMetric(0, "ns/op")
}

// timeBare lets a subscriber count all messages and do nothing else.
func timeBare(b *testing.B, addr, user, password string) time.Duration {
	var n atomic.Int64
	counter, publisher := dial(b, addr, user, password), dial(b, addr, user, password)
	if t := counter.Subscribe("thimble-garth/#", 1, func(mqtt.Client, mqtt.Message) { n.Add(1) }); t.Wait() && t.Error() != nil {
		b.Fatal(t.Error())
	}
	began := time.Now()
	flood(b, publisher, benchMessages)
	await(b, "the bare subscriber has all", func() bool { return n.Load() >= benchMessages })
	took := time.Since(began)
	counter.Disconnect(10)
	publisher.Disconnect(10)
	return took
}

// timeWhole lets the watch judge and save all messages. addr is empty for its
// own broker.
func timeWhole(b *testing.B, c *config.Config, addr string) time.Duration {
	p, r, stop := running(b, c)
	defer stop()
	if addr == "" {
		addr = r.Broker
	}
	publisher := dial(b, addr, r.User, r.Password)
	began := time.Now()
	flood(b, publisher, benchMessages)
	await(b, "all is saved and judged", func() bool { return p.store.Stats().Inputs >= benchMessages })
	took := time.Since(began)
	publisher.Disconnect(10)
	if lost, _ := p.losses(); lost > 0 {
		b.Errorf("%d messages were lost", lost)
	}
	return took
}

// BenchmarkAlarmLatency is the time from publishing the reading that passes a
// limit (its delay being none) to the alarm's event on MQTT: saved first.
func BenchmarkAlarmLatency(b *testing.B) {
	addr := quickMosquitto(b)
	c := thousand(b, "mqtt://"+addr)
	for i := range c.Plan.Houses[0].Places {
		band := &c.Plan.Houses[0].Places[i].Bands[0]
		band.Delay, band.ClearDelay = -1, -1
	}
	c.Plan.Chatter.Raises = 1 << 30
	running(b, c)
	client := dial(b, addr, "", "")
	events := make(chan time.Time, 100)
	if t := client.Subscribe("telltale/event", 1, func(_ mqtt.Client, m mqtt.Message) {
		if strings.Contains(string(m.Payload()), `"move":"raise"`) {
			events <- time.Now()
		}
	}); t.Wait() && t.Error() != nil {
		b.Fatal(t.Error())
	}
	var all []time.Duration
	for i := 0; b.Loop(); i++ {
		topic := fmt.Sprintf("thimble-garth/%d", i%benchProbes)
		client.Publish(topic, 1, false, "30").Wait()
		began := time.Now()
		client.Publish(topic, 1, false, "36").Wait()
		select {
		case at := <-events:
			all = append(all, at.Sub(began))
		case <-time.After(5 * time.Minute):
			b.Fatal("no alarm came")
		}
		client.Publish(topic, 1, false, "30").Wait()
	}
	slices.Sort(all)
	b.ReportMetric(float64(all[len(all)/2].Microseconds())/1000, "ms-median")
	b.ReportMetric(float64(all[len(all)*99/100].Microseconds())/1000, "ms-p99")
	b.ReportMetric(0, "ns/op")
}
