package gateway

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"telltale/gateway/config"
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
	_, err = p.watch.TestMessage(ctx)
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
