package gateway

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
)

// runs counts the goroutines once their number no longer falls to want.
func runs(want int) int {
	n := runtime.NumGoroutine()
	for end := time.Now().Add(5 * time.Minute); n > want && time.Now().Before(end); n = runtime.NumGoroutine() {
		time.Sleep(10 * time.Millisecond)
	}
	return n
}

func leakless(t *testing.T, before int) {
	t.Helper()
	if after := runs(before); after > before {
		stacks := make([]byte, 1<<20)
		t.Errorf("%d goroutines ran before, %d after:\n%s", before, after, stacks[:runtime.Stack(stacks, true)])
	}
}

// TestNothingIsLeftRunning is not parallel: it counts all goroutines.
func TestNothingIsLeftRunning(t *testing.T) {
	before := runtime.NumGoroutine()
	func() {
		g := wholeGarden(t)
		g.send("g/plain", "34.0")
		await(t, "the page shows the reading", func() bool { return strings.Contains(g.get("/state.json"), `"value":34`) })
		g.probe.Disconnect(100)
		g.stop()
		g.hook.Close()
		g.writes.Close()
	}()
	leakless(t, before)
}

// TestWhatCannotStartLeavesNothing takes each address that the watch wants in
// turn, and demands that a refused start has freed everything.
func TestWhatCannotStartLeavesNothing(t *testing.T) {
	before := runtime.NumGoroutine()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	ok(t, err)
	taken := l.Addr().String()
	dir := t.TempDir()
	file := filepath.Join(dir, "secret")
	ok(t, os.WriteFile(file, []byte(hookKey), 0o600))
	c, err := read(fmt.Sprintf(wholeConfig, "http://127.0.0.1:9/", file, filepath.Join(dir, "lines"), "http://127.0.0.1:9/"), filepath.Join(dir, "store"))
	ok(t, err)
	for _, spoil := range []func(){
		func() { c.Broker.Address = taken },
		func() { c.Page.Address, c.Broker.Address = taken, "127.0.0.1:0" },
		func() { c.Metrics.Address, c.Page.Address = taken, "127.0.0.1:0" },
	} {
		spoil()
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
		err := Run(ctx, Options{Config: c, Log: zerolog.Nop(), Ready: func(Running) { t.Error("it is ready, with an address in use") }})
		cancel()
		if !errors.Is(err, ErrAddress) || !strings.Contains(err.Error(), taken) {
			t.Errorf("got %v, want that %s is in use", err, taken)
		}
	}
	ok(t, l.Close())
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	ok(t, Run(ctx, Options{Config: c, Log: zerolog.Nop(), Ready: func(Running) { cancel() }})) // the store is free, and so is the address
	leakless(t, before)
}
