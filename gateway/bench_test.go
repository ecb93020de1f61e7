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
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"

	"telltale/gateway/config"
)

const (
	benchProbes = 1000
	benchWindow = 500 // messages not yet acknowledged by the broker
)

// thousand is thousandAt a broker, its store in a folder of the test's.
func thousand(tb testing.TB, broker string) *config.Config {
	tb.Helper()
	c, err := thousandAt(broker)
	ok(tb, err)
	c.Store.Directory = tb.TempDir()
	return c
}

// thousandAt is a config with a thousand probes, each at a place with a band.
// broker is an address, empty for the embedded broker.
func thousandAt(broker string) (*config.Config, error) {
	var b bytes.Buffer
	b.WriteString("[house.long-house]\nlatitude = 52.0\nlongitude = -2.0\n")
	for i := range benchProbes {
		fmt.Fprintf(&b, "[house.long-house.place.row-%d.temperature]\nlow = 5\nhigh = 35\n", i)
		fmt.Fprintf(&b, "[probe.row-%d-probe]\nplace = \"long-house/row-%d\"\nevery = \"30s\"\nmisses-allowed = 100\ntopic = \"thimble-garth/%d\"\ntemperature = {}\n", i, i, i)
	}
	b.WriteString("[channel.lamp]\nkind = \"mqtt\"\n[channel.slip]\nkind = \"command\"\nrun = [\"/bin/true\"]\nrehearse = true\n")
	b.WriteString("[person.grower]\nchannels = [\"slip\"]\n[[tell]]\npeople = [\"grower\"]\n[page]\naddress = \"127.0.0.1:0\"\n")
	if broker != "" {
		fmt.Fprintf(&b, "[broker]\nservers = [%q]\n", "mqtt://"+broker)
	} else {
		b.WriteString("[own-broker]\naddress = \"127.0.0.1:0\"\n")
	}
	c, problems := config.Parse("bench.toml", b.Bytes(), os.LookupEnv)
	return c, problems.Err()
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

// mosquitto is a broker process without accounts.
type mosquitto struct {
	addr string
	pid  int
}

// used is the processor time of the process, which has one thread.
func (m *mosquitto) used(tb testing.TB) time.Duration {
	if m == nil {
		return 0
	}
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/schedstat", m.pid))
	ok(tb, err)
	ns, err := strconv.ParseInt(strings.Fields(string(text))[0], 10, 64)
	ok(tb, err)
	return time.Duration(ns)
}

// startMosquitto starts a broker at a free port.
func startMosquitto(tb testing.TB) *mosquitto {
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
	return &mosquitto{addr, cmd.Process.Pid}
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

// publish publishes the i-th reading at QoS 1, round by round over all probes.
func publish(c mqtt.Client, i int) mqtt.Token {
	return c.Publish(fmt.Sprintf("thimble-garth/%d", i%benchProbes), 1, false, fmt.Sprintf("%.2f", 20+float64(i/benchProbes%200)/50))
}

// flood publishes n readings at QoS 1, round by round over all probes.
func flood(tb testing.TB, c mqtt.Client, n int) {
	var window [benchWindow]mqtt.Token
	for i := range n {
		slot := &window[i%benchWindow]
		if *slot != nil && (*slot).Wait() && (*slot).Error() != nil {
			tb.Fatal((*slot).Error())
		}
		*slot = publish(c, i)
	}
	for _, t := range window {
		if t != nil {
			t.Wait()
		}
	}
}

// BenchmarkAlarmLatency is the time from publishing the reading that passes a
// limit (its delay being none) to the alarm's event on MQTT: saved first.
func BenchmarkAlarmLatency(b *testing.B) {
	addr := startMosquitto(b).addr
	c := thousand(b, addr)
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
