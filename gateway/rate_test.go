package gateway

import (
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/link"
	"telltale/gateway/reach"
	"telltale/gateway/trials"
)

var rateMinutes = flag.Int("minutes", 1, "simulated minutes of TestRate")

const (
	rateProbes = 1000 // each reports every half second
	rateEvery  = 500 * time.Millisecond
	rateRooms  = 100  // places of a house
	rateHot    = 20   // one in so many is too hot for a while each hour
	rateMost   = 160  // MB resident, the bare core beside the watch included: both look ahead at 1,000 places
	rateAhead  = 4096 // readings on their way, as many as the link's queue takes
)

func rateConfig() string {
	var b strings.Builder
	for i := range rateProbes {
		house, place := i/rateRooms, i%rateRooms
		if place == 0 {
			fmt.Fprintf(&b, "[house.h%d]\nlatitude = 52.0\nlongitude = -2.0\n", house)
		}
		fmt.Fprintf(&b, "[house.h%d.place.p%d.temperature]\nhigh = 30\n", house, place)
	}
	for i := range rateProbes {
		fmt.Fprintf(&b, "[probe.r%d]\nplace = \"h%d/p%d\"\nevery = \"1s\"\ntopic = \"g/%d\"\ntemperature = {}\n", i, i/rateRooms, i%rateRooms, i)
	}
	from := strings.Index(victimConfig, "[own-broker]")
	return b.String() + victimConfig[from:]
}

// rateValue is what a probe says in a round: most stay well, some are too hot
// for a quarter of each hour.
func rateValue(probe, round int) float64 {
	mid := 20.0
	if probe%rateHot == 0 {
		mid = 23
	}
	return mid + 9*math.Sin(2*math.Pi*(float64(round)/7200+float64(probe)/rateProbes))
}

// crowd is a notifier that holds what it is told against what the twin awaits.
type crowd struct {
	w       *twin
	mu      sync.Mutex
	told    int
	again   int
	seen    map[string]bool
	slowest time.Duration
}

func (c *crowd) Tell(_ context.Context, t reach.Telling) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, e := range t.Events {
		c.told++
		if key := t.Person + " " + e.ID; c.seen[key] {
			c.again++
		} else {
			c.seen[key] = true
		}
		c.w.hears([]string{e.ID}, func(late time.Duration) { c.slowest = max(c.slowest, late) })
	}
	return nil
}

// TestRate lets 2,000 readings a second through decode, core, journal, store and
// outbox, as fast as they go. What the link costs is BenchmarkEndToEnd's to say.
func TestRate(t *testing.T) {
	if testing.Short() {
		t.Skip("takes in hundreds of thousands of readings")
	}
	defer debug.SetGCPercent(debug.SetGCPercent(40)) // as the program does
	clock := NewSteppedClock(longStart, longSpeed)
	cfg, err := read(rateConfig(), filepath.Join(t.TempDir(), "store"))
	ok(t, err)
	p, err := build(Options{Config: cfg, Clock: clock, Log: zerolog.Nop(), storeNow: clock.Core})
	ok(t, err)
	w := newTwin(t, cfg.Plan, clock.Core)
	ears := &crowd{w: w, seen: map[string]bool{}}
	p.worker, err = reach.NewWorker(reach.Options{Outbox: p.owner.box, Now: clock.Core, Random: func() float64 { return 0.5 },
		Channels: []reach.Channel{{Name: "slip", Notifier: ears}}, Log: zerolog.Nop()})
	ok(t, err)
	p.owner.wake = p.worker.Wake
	w.before(p)
	ctx, stop := context.WithCancel(context.Background())
	messages, changes := make(chan link.Message, rateAhead), make(chan link.Change)
	var owner, worker sync.WaitGroup
	var failed error
	owner.Go(func() { defer close(p.gone); failed = p.owner.run(ctx, messages, changes) })
	worker.Go(func() { _ = p.worker.Run(ctx) })
	<-p.owner.begun
	changes <- link.Change{Up: true, At: clock.Core()}

	topics, probes := make([]string, rateProbes), make([]alarms.ProbeID, rateProbes)
	for i := range rateProbes {
		topics[i], probes[i] = "g/"+strconv.Itoa(i), alarms.ProbeID("r"+strconv.Itoa(i))
	}
	began := time.Now()
	minutes := *rateMinutes
	if *longWhole {
		minutes = 24 * 60
	}
	rounds := 120 * minutes
	for round := range rounds {
		clock.Step(rateEvery)
		now := clock.Core()
		for i := range rateProbes {
			payload := strconv.AppendFloat(nil, rateValue(i, round), 'f', 1, 64)
			value, err := strconv.ParseFloat(string(payload), 64)
			ok(t, err)
			w.await(alarms.Input{At: now, Kind: alarms.ReadingIn, Probe: probes[i], Quantity: alarms.Temperature, Value: value})
			select {
			case messages <- link.Message{Topic: topics[i], Payload: payload, Received: now}:
			case <-p.gone:
				t.Fatalf("the owner has ended: %v", failed)
			}
		}
		w.drained(t, rateAhead)
		if t.Failed() {
			break
		}
	}
	w.drained(t, 0)
	took := time.Since(began)
	await(t, "all is told", func() bool {
		_ = p.watch.Do(context.Background(), alarms.Input{Kind: alarms.Tick})
		p.worker.Wake()
		w.mu.Lock()
		defer w.mu.Unlock()
		return len(w.untold) == 0 && len(w.owed) == 0
	})
	sameLog(t, w, p.store)
	size, err := p.store.Size(context.Background())
	ok(t, err)
	stats := p.store.Stats()
	stop()
	owner.Wait()
	worker.Wait()
	ok(t, failed)
	ok(t, p.page.Run(canceled()))
	ok(t, p.close())
	most := resident(t)
	t.Logf("%d readings in %v, %d transitions, a store of %d bytes", w.readings, took.Round(time.Second), w.made, size)
	if n := stats.Dropped + stats.HistoryDropped + p.owner.writer.dropped.Load(); n > 0 {
		t.Errorf("%d readings found no room", n)
	}
	if w.readings != rounds*rateProbes {
		t.Errorf("%d readings came", w.readings)
	}
	if w.made < minutes/8 {
		t.Errorf("%d transitions in %d minutes: too calm", w.made, minutes)
	}
	if minutes >= 60 && most > rateMost { // in less the process runs other tests too
		t.Errorf("%d MB were resident, want at most %d", most, rateMost)
	}
	trials.Report(t, fmt.Sprintf("%d minutes of 2,000 readings a second through decode, core, journal, store and outbox", minutes),
		trials.Lost(w.wrong+len(w.owed)+len(w.untold)), trials.Twice(ears.again), trials.Told(ears.slowest), trials.Memory(float64(most)))
}

// resident is the most memory that this process ever had resident, in MB.
func resident(t *testing.T) int {
	t.Helper()
	text, err := os.ReadFile("/proc/self/status")
	ok(t, err)
	_, rest, _ := strings.Cut(string(text), "VmHWM:")
	var kb int
	_, err = fmt.Sscan(rest, &kb)
	ok(t, err)
	return kb / 1000
}
