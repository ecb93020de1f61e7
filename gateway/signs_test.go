package gateway

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/reach"
	"telltale/gateway/supervise"
)

func TestNoSignOfLifeBeforeTheFirstTurn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begin := time.Now()
		for _, c := range []struct {
			name   string
			begins time.Duration // 0: never
			ends   time.Duration
			runs   time.Duration // after the start; -1: never
		}{
			{"as soon as it turns", 5 * time.Second, time.Hour, 5 * time.Second},
			{"not when stopped before", 0, time.Second, -1},
			{"a stuck one is told", 0, time.Hour, stuck},
		} {
			start := time.Now()
			ctx, cancel := context.WithTimeout(t.Context(), c.ends)
			begun := make(chan struct{})
			if c.begins > 0 {
				time.AfterFunc(c.begins, func() { close(begun) })
			}
			ran := time.Duration(-1)
			ok(t, afterBegin(begun, func(context.Context) error { ran = time.Since(start); return nil })(ctx))
			cancel()
			if ran != c.runs {
				t.Errorf("%s: it ran after %v, want %v (-1: never)", c.name, ran, c.runs)
			}
		}
		if time.Since(begin) < stuck {
			t.Error("the waits were not waited for")
		}
	})
}

// dumb is a notifier that says nothing more while it is held, whatever its
// limit of time.
type dumb struct{ sync.Mutex }

func (d *dumb) Tell(context.Context, reach.Telling) error {
	d.Lock()
	defer d.Unlock()
	return nil
}

// TestWhatEarnsASignOfLife stops one part after the other of a running watch
// whose service manager is a socket.
func TestWhatEarnsASignOfLife(t *testing.T) {
	t.Parallel()
	name := filepath.Join(t.TempDir(), "notify")
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: name, Net: "unixgram"})
	ok(t, err)
	var fed atomic.Uint64
	var hearing sync.WaitGroup
	hearing.Go(func() {
		buf := make([]byte, 4096)
		for n, err := socket.Read(buf); err == nil; n, err = socket.Read(buf) {
			if string(buf[:n]) == "WATCHDOG=1" {
				fed.Add(1)
			}
		}
	})
	defer hearing.Wait()
	defer socket.Close()

	ear := &dumb{}
	p, err := buildVictimBy(victimConfig, t.TempDir(), ear, victimStart)
	ok(t, err)
	disk := stalling(p.store)
	p.owner.writer.store, p.owner.box.store = disk, disk
	p.owner.writer.patience, p.owner.box.patience = 20*time.Millisecond, 20*time.Millisecond
	p.turnWithin, p.tellWithin = 3*time.Second, 3*time.Second
	env := map[string]string{"NOTIFY_SOCKET": name, "WATCHDOG_USEC": "20000"}
	m, err := supervise.NewManager(func(k string) string { return env[k] }, 1, zerolog.Nop())
	ok(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended, moving := make(chan error, 1), make(chan struct{})
	go func() { ended <- p.run(ctx, Options{Manager: m}) }()
	t.Cleanup(func() {
		stop()
		if err := errors.Join(<-ended, p.close()); err != nil && !errors.Is(err, errNoAnswer) { // a slow disk is none of this test
			t.Error(err)
		}
		<-moving
	})
	go func() { // the time of the watch, which is not what stands still here
		defer close(moving)
		for ; ctx.Err() == nil; time.Sleep(time.Millisecond) {
			p.clock.Step(time.Millisecond)
		}
	}()
	fedOn := func(what string) {
		t.Helper()
		for before, steps := fed.Load(), p.owner.steps.Load(); fed.Load() < before+5 || p.owner.steps.Load() < steps+4; time.Sleep(time.Millisecond) {
			if ctx.Err() != nil || len(ended) > 0 {
				t.Fatalf("%s: it has ended", what)
			}
		}
	}
	starves := func(what, why string) {
		t.Helper()
		await(t, what, func() bool { err := p.alive(); return err != nil && strings.Contains(err.Error(), why) })
		before := fed.Load()
		time.Sleep(200 * time.Millisecond) // in which twenty would come
		if n := fed.Load() - before; n > 1 {
			t.Errorf("%s: %d signs of life are given", what, n)
		}
	}
	await(t, "the link is up", func() bool { return p.link.Stats().Up })
	fedOn("at first")

	picture := make(chan alarms.Picture)
	p.owner.looks <- look{reply: picture}
	starves("the owner waits for somebody for ever", "has judged nothing")
	<-picture
	fedOn("the owner goes on")

	ear.Lock()
	letEar := sync.OnceFunc(ear.Unlock)
	defer letEar()
	if _, err = p.watch.TestMessage(ctx, ""); !errors.Is(err, errNoAnswer) { // which a slow disk may mean: it is told all the same
		ok(t, err)
	}
	p.worker.Wake() // it stands in the place of the one that is woken by itself
	starves("a notifier does not come back", `channel "slip" has been at one message`)
	letEar()
	fedOn("the notifier has come back")

	disk.mu.Lock()
	letDisk := sync.OnceFunc(disk.mu.Unlock)
	defer letDisk()
	ok(t, p.watch.Do(ctx, alarms.Input{Kind: alarms.TakeOut, Probe: "p0", By: "grower"}))
	await(t, "the disk does not answer", func() bool { return p.owner.writer.stuck(time.Now()) })
	_, err = p.owner.box.Reached(ctx, "slip", "grower")
	if !errors.Is(err, errNoAnswer) {
		t.Errorf("whether somebody was reached is %v", err)
	}
	fedOn("the disk does not answer")
	letDisk()
	fedOn("the disk answers")

	ok(t, p.broker.Close())
	await(t, "the link is lost", func() bool { return !p.link.Stats().Up })
	fedOn("the link is lost")
}

// lines is a log that keeps what is written to it.
type lines struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *lines) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(b)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

const loggedConfig = `
[house.long-house]
latitude = 52.0
longitude = -2.0
[house.long-house.place.bench.temperature]
high = 33
[probe.bench-1]
place = "long-house/bench"
topic = "g/bench"
temperature = {}
[channel.slip]
kind = "command"
run = ["/bin/true"]
[channel.trial]
kind = "command"
run = ["/bin/false"]
rehearse = true
[person.grower]
channels = ["slip", "trial"]
[[tell]]
people = ["grower"]
[own-broker]
address = "127.0.0.1:0"
[page]
address = "127.0.0.1:0"
`

func TestTheLogSaysEachThingOnceAndTruly(t *testing.T) {
	t.Parallel()
	beats := make(chan string, 10)
	away := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err == nil {
			beats <- string(body)
		}
	}))
	defer away.Close()
	c, err := read(loggedConfig, filepath.Join(t.TempDir(), "store"))
	ok(t, err)
	c.Heartbeat = config.Heartbeat{URL: config.NewSecret(away.URL), Every: time.Hour}
	var log lines
	p, err := build(Options{Config: c, Log: zerolog.New(&log).Level(zerolog.DebugLevel)})
	ok(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- p.run(ctx, Options{}) }()
	if first := <-beats; !strings.Contains(first, `"state":"alive"`) {
		t.Errorf("the first sign of life is %s", first)
	}
	_, err = p.watch.TestMessage(ctx, "")
	ok(t, err)
	await(t, "both channels have had the test message", func() bool {
		return strings.Contains(log.String(), "the message was delivered") && strings.Contains(log.String(), "the message was rehearsed and not sent")
	})
	stop()
	ok(t, <-ended)
	ok(t, p.close())
	if strings.Contains(log.String(), "sign of life") {
		t.Errorf("the log complains of the signs of life:\n%s", log.String())
	}
	for l := range strings.Lines(log.String()) {
		if twice := doubled(l); twice != "" {
			t.Errorf("%q stands twice in\n%s", twice, l)
		}
	}
}

// doubled returns a key that a flat JSON object has twice, "" if none.
func doubled(object string) string {
	d := json.NewDecoder(strings.NewReader(object))
	seen := map[string]bool{}
	for depth, key := 0, true; ; {
		token, err := d.Token()
		if err != nil {
			return ""
		}
		switch tok := token.(type) {
		case json.Delim:
			if depth++; tok == '}' || tok == ']' {
				depth -= 2
			}
			key = true
		default:
			if name := fmt.Sprint(tok); depth == 1 && key {
				if seen[name] {
					return name
				}
				seen[name] = true
			}
			key = depth == 1 && !key
		}
	}
}
