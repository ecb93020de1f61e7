package gateway

import (
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/link"
	"telltale/gateway/model"
	"telltale/gateway/reach"
)

// long is a watch that lives through much.
type long struct {
	t     *testing.T
	rng   *rand.Rand
	dir   string
	clock *Clock
	sim   *model.Sim
	table *decode.Table // as the watch should read payloads
	w     *twin
	cfg   *config.Config
	high  int

	phone, post *receiver
	broker      *link.Broker
	at          string // of the broker
	probes      mqtt.Client

	p      *parts
	cancel func()
	done   chan error

	messages int          // that the probes sent
	slowest  atomic.Int64 // ns from an alarm to its telling, while somebody could be told
	barred   atomic.Bool  // nobody can be told just now
	hooks    []*reach.Webhook
	happened map[string]int
}

func newLong(t *testing.T) *long {
	l := &long{t: t, rng: rand.New(rand.NewPCG(*longSeed, 1)), dir: filepath.Join(t.TempDir(), "store"), clock: NewSteppedClock(longStart, longSpeed),
		phone: newReceiver(t), post: newReceiver(t), high: 33, happened: map[string]int{}}
	l.clock.boot = "long"
	l.startBroker("127.0.0.1:0")
	t.Cleanup(func() { _ = l.broker.Close() })
	l.at = l.broker.Addr().String()
	l.cfg = longConfig(t, l.at, l.phone, l.post, l.high)
	var err error
	l.table, err = decode.New(l.cfg.Sources)
	ok(t, err)
	l.sim, err = model.Tell(model.Story{Name: "long", Start: longStart, Fitted: model.Fitted{Every: longSlice}}, *longSeed)
	ok(t, err)
	l.w = newTwin(t, l.cfg.Plan, l.clock.Core)
	for _, r := range []*receiver{l.phone, l.post} {
		r.w, r.late = l.w, func(late time.Duration) {
			if !l.barred.Load() && int64(late) > l.slowest.Load() {
				l.slowest.Store(int64(late))
			}
		}
	}
	l.start()
	return l
}

func (l *long) startBroker(at string) {
	var err error
	for range 100 { // the port may not be free at once
		if l.broker, err = link.StartBroker(link.BrokerOptions{Address: at, WatchPassword: hookKey, Speed: longSpeed, Log: zerolog.Nop()}); err == nil {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	ok(l.t, err)
	if l.probes != nil {
		l.probes.Disconnect(0)
	}
	l.probes = dial(l.t, l.broker.Addr().String(), "telltale", hookKey)
}

// start builds a watch on what is in dir and runs it.
func (l *long) start(told ...alarms.Input) {
	l.t.Helper()
	l.cfg.Store.Directory = l.dir
	o := Options{Config: l.cfg, Clock: l.clock, Log: zerolog.Nop(), storeNow: l.clock.Core}
	var err error
	l.p, err = build(o)
	ok(l.t, err)
	ok(l.t, l.unlimited(l.p))
	l.w.reborn(told...)
	l.w.before(l.p)
	ctx, cancel := context.WithCancel(context.Background())
	l.cancel, l.done = cancel, make(chan error, 1)
	go func() { l.done <- l.p.run(ctx, o) }()
	await(l.t, "the link is up", func() bool { return l.p.link.Stats().Up })
	l.tick()
}

// unlimited gives p a worker by whose bounds no real time passes: as many
// messages may go out in a minute as come in a simulated month.
func (l *long) unlimited(p *parts) error {
	channels := slices.DeleteFunc(slices.Clone(p.channels), func(c reach.Channel) bool { return c.Name != "lamp" })
	for name, r := range map[string]*receiver{"phone": l.phone, "post": l.post} {
		n, err := reach.NewWebhook(reach.WebhookOptions{URL: r.URL, Secret: []byte(secret), Now: l.clock.Now})
		if err != nil {
			return err
		}
		l.hooks = append(l.hooks, n)
		channels = append(channels, reach.Channel{Name: name, Notifier: n})
	}
	var err error
	p.worker, err = reach.NewWorker(reach.Options{Channels: channels, Outbox: p.owner.box, Now: l.clock.Core, Wall: l.clock.Wall,
		Random: func() float64 { return 0.5 }, Elsewhere: rulesOf(p.cfg).Elsewhere, Garden: p.garden, Log: zerolog.Nop()})
	p.owner.wake = p.worker.Wake
	return err
}

// stop ends the watch.
func (l *long) stop() error {
	l.cancel()
	err := errors.Join(<-l.done, l.p.close())
	for _, h := range l.hooks {
		h.Close()
	}
	l.hooks = nil
	return err
}

// marker is what a watch that comes back must tell the core first.
func (l *long) marker() alarms.Input {
	return alarms.Input{Kind: alarms.RestartMarker, At: l.clock.Core()}
}

// wait waits until the watch has taken all that was sent, or is dead.
func (l *long) wait(what string, done func() bool) {
	l.t.Helper()
	late := time.NewTimer(5 * time.Minute)
	defer late.Stop()
	look := time.NewTicker(5 * time.Millisecond)
	defer look.Stop()
	for !done() {
		if l.died() {
			return
		}
		select {
		case <-l.w.moved:
		case <-look.C:
		case <-late.C:
			l.t.Fatalf("waited in vain until %s at %v: %v", what, l.clock.Core(), l.w)
		}
	}
}

func (l *long) died() bool {
	l.w.mu.Lock()
	defer l.w.mu.Unlock()
	return l.w.dead
}

// tick lets the watch judge the present, and tell what is due.
func (l *long) tick() {
	l.t.Helper()
	ok(l.t, l.p.watch.Do(context.Background(), alarms.Input{Kind: alarms.TroubleOff, Alarm: alarms.TroubleLosses})) // is off; a tick would not be journaled at once
	l.wait("all is saved", l.w.quiet)
	for _, c := range []string{"phone", "post"} {
		l.wait("all that is due is told", func() bool {
			rows, err := l.p.owner.box.Due(context.Background(), c, l.clock.Core(), 1)
			l.p.worker.Wake()
			return err == nil && len(rows) == 0
		})
	}
}

// until moves the clock, with a tick at each deadline of the core.
func (l *long) until(end time.Time) {
	l.t.Helper()
	for range 50 {
		l.w.mu.Lock()
		due, is := l.w.core.Next()
		l.w.mu.Unlock()
		due = due.Add(time.Millisecond - 1).Truncate(time.Millisecond)
		if !is || due.After(end) {
			break
		}
		by := due.Sub(l.clock.Core())
		if by <= 0 { // the disk has not got what the watch has judged
			break
		}
		l.clock.Step(by)
		if l.tick(); l.died() {
			break
		}
	}
	if by := end.Sub(l.clock.Core()); by > 0 {
		l.clock.Step(by)
	}
}

// slice lets the garden and the watch live for a while. What probes send while
// there is no broker, or no watch, is lost.
func (l *long) slice(listening bool) {
	l.t.Helper()
	end := l.clock.Core().Add(longSlice)
	l.until(end)
	messages := l.sim.Advance(end)
	if !listening || l.died() {
		if !l.died() {
			l.tick()
		}
		return
	}
	var tokens []mqtt.Token
	for _, m := range messages {
		l.send(m)
		tokens = append(tokens, l.probes.Publish(m.Topic, 1, false, m.Payload))
	}
	for _, token := range tokens {
		if !token.WaitTimeout(5*time.Minute) || token.Error() != nil {
			l.t.Fatalf("a message was not taken: %v", token.Error())
		}
	}
	l.wait("all that was sent is judged", l.w.quiet)
	if !l.died() {
		l.tick()
	}
}

// send lets the twin await what a message brings.
func (l *long) send(m model.Published) {
	now := l.clock.Core()
	l.w.mu.Lock()
	defer l.w.mu.Unlock()
	problems := l.table.Decode(m.Topic, m.Payload, l.clock.Wall(now), func(v decode.Value) {
		l.w.sent = append(l.w.sent, alarms.Input{At: now, Kind: alarms.ReadingIn, Probe: v.Probe, Quantity: v.Quantity, Value: v.Value, Measured: v.Measured})
	})
	for _, p := range problems {
		for _, q := range p.Quantities {
			l.w.sent = append(l.w.sent, alarms.Input{At: now, Kind: alarms.GarbledIn, Probe: p.Probe, Quantity: q, Note: p.Detail})
		}
	}
	l.messages++
}

// kill ends the watch as a power cut does at this moment, and starts another on
// what is left of the first.
func (l *long) kill() {
	l.t.Helper()
	l.w.die()
	free(&l.w.busy) // what is under way to the disk gets there, and nothing else comes
	left := l.dir + ".left"
	ok(l.t, l.copyAll(left))
	_ = l.stop() // it cannot save any more, and says so
	ok(l.t, os.RemoveAll(l.dir))
	ok(l.t, os.Rename(left, l.dir))
	l.away()
	l.start(l.marker())
}

// away lets time pass without a watch.
func (l *long) away() {
	end := l.clock.Core().Add(time.Duration(1+l.rng.IntN(6)) * longSlice)
	l.sim.Advance(end)
	l.clock.Step(end.Sub(l.clock.Core()))
}

// copyAll copies the store while nobody writes to it.
func (l *long) copyAll(to string) error {
	unlock, err := lockDatabase(l.dir)
	if err != nil {
		return err
	}
	return errors.Join(os.CopyFS(to, os.DirFS(l.dir)), unlock())
}
