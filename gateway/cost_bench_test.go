package gateway

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"
)

// subject is a process of its own whose processor time is measured: the watch,
// or a bare subscriber of the same client library that only counts.
type subject struct {
	Broker string // address of a broker without accounts; empty: the watch's own
	Bare   bool
	User   string // for publishers, at the watch's own broker
	Secret string

	cmd    *exec.Cmd
	orders io.WriteCloser
	told   *bufio.Scanner
}

// used is what a subject has used since it began.
type used struct {
	CPU      time.Duration // user and system
	Messages int64         // taken by the subscriber, or judged and saved
	Resident int64         // bytes, now
}

func (s *subject) start(tb testing.TB) {
	tb.Helper()
	text, err := json.Marshal(s)
	ok(tb, err)
	s.cmd = exec.Command(os.Args[0])
	s.cmd.Env = append(os.Environ(), "TELLTALE_GATEWAY_SUBJECT="+string(text), "TMPDIR="+tb.TempDir())
	s.cmd.Stderr = os.Stderr
	s.orders, err = s.cmd.StdinPipe()
	ok(tb, err)
	out, err := s.cmd.StdoutPipe()
	ok(tb, err)
	s.told = bufio.NewScanner(out)
	ok(tb, s.cmd.Start())
	tb.Cleanup(s.stop)
	s.hear(tb, s) // where to reach it, and how
}

func (s *subject) hear(tb testing.TB, into any) {
	tb.Helper()
	if !s.told.Scan() {
		tb.Fatalf("the subject ended: %v", s.told.Err())
	}
	ok(tb, json.Unmarshal(s.told.Bytes(), into))
}

func (s *subject) used(tb testing.TB) (u used) {
	tb.Helper()
	_, err := io.WriteString(s.orders, "\n")
	ok(tb, err)
	s.hear(tb, &u)
	return u
}

func (s *subject) stop() {
	if s.orders.Close() == nil {
		_ = s.cmd.Wait()
	}
}

// playSubject is the process: it says where it is reached, answers each line
// with what it has used, and ends with its input.
func playSubject(text string) error {
	var s subject
	if err := json.Unmarshal([]byte(text), &s); err != nil {
		return err
	}
	play := s.playWatch
	if s.Bare {
		play = s.playBare
	}
	count, end, err := play()
	if err != nil {
		return err
	}
	out := json.NewEncoder(os.Stdout)
	if err := out.Encode(s); err != nil {
		return err
	}
	for orders := bufio.NewScanner(os.Stdin); orders.Scan(); {
		u, err := usedSoFar()
		u.Messages = count()
		if err := errors.Join(err, out.Encode(u)); err != nil {
			return err
		}
	}
	return end()
}

func usedSoFar() (used, error) {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		return used{}, err
	}
	text, err := os.ReadFile("/proc/self/statm")
	if err != nil {
		return used{}, err
	}
	pages, err := strconv.ParseInt(strings.Fields(string(text))[1], 10, 64)
	return used{
		CPU:      time.Duration(r.Utime.Nano() + r.Stime.Nano()),
		Resident: pages * int64(os.Getpagesize()),
	}, err
}

func (s *subject) playWatch() (count func() int64, end func() error, err error) {
	c, err := thousandAt(s.Broker)
	if err != nil {
		return nil, nil, err
	}
	if c.Store.Directory, err = os.MkdirTemp("", ""); err != nil {
		return nil, nil, err
	}
	o := Options{Config: c, Log: zerolog.New(os.Stderr).Level(zerolog.ErrorLevel)}
	p, err := build(o)
	if err != nil {
		return nil, nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- p.run(ctx, o) }()
	for end := time.Now().Add(time.Minute); !p.link.Stats().Up; time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			cancel()
			return nil, nil, errors.Join(errors.New("the link did not come up"), <-done)
		}
	}
	if s.Broker == "" {
		r := p.running()
		s.Broker, s.User, s.Secret = r.Broker, r.User, r.Password
	}
	count = func() int64 { return int64(p.store.Stats().Inputs) }
	return count, func() error {
		cancel()
		return errors.Join(<-done, p.close())
	}, nil
}

func (s *subject) playBare() (count func() int64, end func() error, err error) {
	var n atomic.Int64
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("tcp://" + s.Broker).SetClientID("bare"))
	if t := c.Connect(); t.Wait() && t.Error() != nil {
		return nil, nil, t.Error()
	}
	t := c.Subscribe("thimble-garth/#", 1, func(mqtt.Client, mqtt.Message) { n.Add(1) })
	if t.Wait() && t.Error() != nil {
		return nil, nil, t.Error()
	}
	return n.Load, func() error { c.Disconnect(10); return nil }, nil
}

// load is what is published while a subject is measured.
type load struct {
	name     string
	messages int
	rate     int           // a second; 0: as fast as the broker takes them
	quiet    time.Duration // nothing at all
}

var loads = []load{
	{name: "full speed", messages: 200_000},
	{name: "3000 a second", messages: 60_000, rate: 3000},
	{name: "33 a second", messages: 660, rate: 33},
	{name: "nothing", quiet: 20 * time.Second},
}

func (l load) publish(tb testing.TB, c mqtt.Client) {
	if l.rate == 0 {
		flood(tb, c, l.messages)
		time.Sleep(l.quiet)
		return
	}
	began := time.Now()
	for i := range l.messages {
		time.Sleep(time.Until(began.Add(time.Duration(i) * time.Second / time.Duration(l.rate))))
		publish(c, i)
	}
}

// cost is the processor time that s, and the broker if it is another process,
// used for l.
func (l load) cost(b *testing.B, s *subject, broker *mosquitto) (own, served time.Duration, after used) {
	publisher := dial(b, s.Broker, s.User, s.Secret)
	defer publisher.Disconnect(10)
	time.Sleep(2 * time.Second) // what the start began is done
	before, servedBefore := s.used(b), broker.used(b)
	l.publish(b, publisher)
	await(b, "all is judged and saved", func() bool {
		after = s.used(b)
		return after.Messages-before.Messages >= int64(l.messages)
	})
	return after.CPU - before.CPU, broker.used(b) - servedBefore, after
}

// BenchmarkEndToEnd is the processor time of the watch beside that of a bare
// subscriber of the same client library that only counts, each in a process of
// its own: a thousand probes at QoS 1, the same loads, one after the other. The
// watch with its own broker is compared with the subscriber and Mosquitto
// together.
func BenchmarkEndToEnd(b *testing.B) {
	if runtime.GOOS != "linux" {
		b.Skip("the processor time of a process is read as Linux gives it")
	}
	for _, l := range loads {
		b.Run(strings.ReplaceAll(l.name, " ", "-"), func(b *testing.B) {
			var bare, served, watch, whole time.Duration
			var resident int64
			for b.Loop() {
				broker := startMosquitto(b)
				own, by, _ := l.measure(b, &subject{Broker: broker.addr, Bare: true}, broker)
				bare, served = bare+own, served+by
				own, _, _ = l.measure(b, &subject{Broker: broker.addr}, broker)
				watch += own
				own, _, after := l.measure(b, &subject{}, nil)
				whole, resident = whole+own, max(resident, after.Resident)
			}
			each, unit := float64(b.N*l.messages)*1e3, "/message" // µs
			if l.messages == 0 {
				each, unit = float64(b.N)*l.quiet.Seconds()*1e3, "/s"
			}
			b.ReportMetric(float64(bare)/each, "bare-µs"+unit)
			b.ReportMetric(float64(bare+served)/each, "bare+broker-µs"+unit)
			b.ReportMetric(float64(watch)/each, "watch-µs"+unit)
			b.ReportMetric(float64(whole)/each, "watch-with-broker-µs"+unit)
			b.ReportMetric(float64(watch)/float64(bare), "watch/bare")
			b.ReportMetric(float64(whole)/float64(bare+served), "with-broker/bare+broker")
			b.ReportMetric(float64(resident)/1e6, "MB-resident")
			b.ReportMetric(0, "ns/op")
		})
	}
}

func (l load) measure(b *testing.B, s *subject, broker *mosquitto) (own, served time.Duration, after used) {
	s.start(b)
	own, served, after = l.cost(b, s, broker)
	s.stop()
	return own, served, after
}
