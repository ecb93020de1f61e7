package gateway

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/link"
	"telltale/gateway/reach"
)

// victimConfig is a garden whose alarms come and go all the time.
const victimConfig = `
[house.long-house]
latitude = 52.0
longitude = -2.0
[house.long-house.circuit.north]
[house.long-house.place.bench.temperature]
high = 33
high-high = 37
rise-per-hour = 40
rate-window = "20m"
[house.long-house.place.ridge.temperature]
high = 40
[house.low-house]
latitude = 52.0
longitude = -2.0
[house.low-house.place.bench.temperature]
low = 12
low-low = 8
[probe.p0]
place = "long-house/bench"
circuit = "north"
every = "80s"
topic = "g/p0"
temperature = {}
[probe.p1]
place = "long-house/bench"
every = "80s"
topic = "g/p1"
temperature = {}
[probe.p2]
place = "long-house/ridge"
circuit = "north"
every = "80s"
topic = "g/p2"
temperature = {}
[probe.p3]
place = "low-house/bench"
every = "80s"
topic = "g/p3"
temperature = {}
[own-broker]
address = "127.0.0.1:0"
[page]
address = "127.0.0.1:0"
[channel.slip]
kind = "command"
run = ["/bin/true"]
[person.grower]
channels = ["slip"]
[person.neighbour]
channels = ["slip"]
[[tell]]
people = ["grower"]
from-priority = "low"
[[tell]]
people = ["neighbour"]
from-priority = "medium"
after = "10m"
`

var (
	victimStart = time.Date(2026, time.July, 1, 0, 0, 0, 0, time.UTC)
	victimStep  = 10 * time.Second
)

// move is one step of the script, the same whenever it is asked for.
type move struct {
	at     time.Time
	msg    *link.Message
	change *link.Change
	act    *alarms.Input
}

func stepTime(i int) time.Time { return victimStart.Add(time.Duration(i) * victimStep) }

// stepAt is the number of the step whose time t is, or the last before it.
func stepAt(t time.Time) int { return int(t.Sub(victimStart) / victimStep) }

// script says what happens at step i: four probes report in turn, somebody
// acknowledges and shelves, payloads are garbled, the broker is lost for a
// while and the ridge probe falls silent now and then.
func script(i int) move {
	m := move{at: stepTime(i)}
	probe := i % 8
	switch {
	case i%40 == 5:
		m.act = &alarms.Input{Kind: alarms.Acknowledge, By: "grower"}
	case i%280 == 46:
		m.act = &alarms.Input{Kind: alarms.Shelve, Alarm: "long-house/bench/temperature/high", By: "grower",
			Note: "the fan is being mended", Until: m.at.Add(15 * time.Minute)}
	case i%1600 == 807:
		m.change = &link.Change{At: m.at, Why: "The broker does not answer."}
	case i%1600 == 831:
		m.change = &link.Change{At: m.at, Up: true}
	case probe == 2 && i%2000 > 1700, probe > 3: // silent, or nobody's turn
	default:
		mid := []float64{27, 27.4, 33, 15}[probe]
		value := mid + 12*math.Sin(2*math.Pi*float64(i)/[]float64{560, 560, 480, 640}[probe])
		text := strconv.FormatFloat(value, 'f', 1, 64)
		if i%160 == 16 {
			text = "n/a"
		}
		m.msg = &link.Message{Topic: "g/p" + strconv.Itoa(probe), Payload: []byte(text), Received: m.at}
	}
	return m
}

// wants says how a victim is to end: at a step, or when it is killed; and
// after how many steps it makes a clean stop and start in between.
type wants struct {
	Last, Restart int
}

// slip is what the notifier of a victim writes down, before it says that it
// has told.
type slip struct {
	Telling string
	Person  string
	Event   reach.Event
}

func slipsOf(t reach.Telling) ([]byte, error) {
	var lines []byte
	for _, e := range t.Events {
		b, err := json.Marshal(slip{t.ID, t.Person, e})
		if err != nil {
			return nil, err
		}
		lines = append(append(lines, b...), '\n')
	}
	return lines, nil
}

// slips is a notifier that writes to a file.
type slips struct{ f *os.File }

func (s slips) Tell(_ context.Context, t reach.Telling) error {
	lines, err := slipsOf(t)
	if err != nil {
		return err
	}
	if _, err := s.f.Write(lines); err != nil {
		return err
	}
	return s.f.Sync()
}

// victim goes on with the script from where the store is. It says when it has
// begun.
func victim(dir string) error {
	var w wants
	if err := json.Unmarshal([]byte(os.Getenv("TELLTALE_GATEWAY_WANTS")), &w); err != nil {
		return err
	}
	f, err := os.OpenFile(filepath.Join(dir, "slips"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	fmt.Fprintln(f) // ends a line that was cut off
	for {
		last := w.Last
		k, err := peekAt(filepath.Join(dir, "store"))
		if err != nil {
			return err
		}
		if err := k.keep(dir, w.Restart > 0); err != nil {
			return err
		}
		if w.Restart > 0 {
			last = (k.Next/w.Restart + 1) * w.Restart
		}
		if w.Last > 0 && last >= w.Last {
			last = w.Last
		}
		if err := live(dir, slips{f}, k, last, last == w.Last); err != nil || last == w.Last {
			return err
		}
	}
}

// live runs the owner and the teller of a real watch over the steps up to
// last, for ever if that is 0. At the end it waits until everything is saved
// and told.
func live(dir string, tell slips, k peek, last int, end bool) error {
	start := victimStart
	if !k.Newest.IsZero() {
		start = k.marker().At
	}
	p, err := buildVictim(dir, tell, start)
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	messages, changes := make(chan link.Message), make(chan link.Change)
	var owner, worker sync.WaitGroup
	telling, stopTelling := context.WithCancel(context.Background())
	defer stopTelling()
	var failed error
	owner.Go(func() { defer close(p.gone); failed = p.owner.run(ctx, messages, changes) })
	worker.Go(func() { _ = p.worker.Run(telling) })
	fmt.Println("living")
	<-p.owner.begun // at the time of the marker
	for i := k.Next; last == 0 || i <= last; i++ {
		p.play(script(i), messages, changes)
	}
	if end {
		if err := p.allTold(); err != nil {
			return err
		}
		os.Exit(0) // without a clean stop, which would put a snapshot in the place of the journal
	}
	stop()
	owner.Wait()
	stopTelling()
	worker.Wait()
	return errors.Join(failed, p.page.Run(canceled()), p.close())
}

// buildVictim builds a watch whose one channel is tell, on a clock that the
// script moves.
func buildVictim(dir string, tell reach.Notifier, start time.Time) (*parts, error) {
	return buildVictimBy(victimConfig, dir, tell, start)
}

func buildVictimBy(text, dir string, tell reach.Notifier, start time.Time, how ...func(*Options)) (*parts, error) {
	c, err := read(text, filepath.Join(dir, "store"))
	if err != nil {
		return nil, err
	}
	clock := NewSteppedClock(start, 1)
	o := Options{Config: c, Clock: clock, Log: zerolog.Nop()}
	for _, f := range how {
		f(&o)
	}
	p, err := build(o)
	if err != nil {
		return nil, err
	}
	p.worker, err = reach.NewWorker(reach.Options{Outbox: p.owner.box, Now: clock.Core, Random: func() float64 { return 0.5 },
		Channels: []reach.Channel{{Name: "slip", Notifier: tell}}, Log: zerolog.Nop()})
	if err != nil {
		return nil, err
	}
	p.owner.wake = p.worker.Wake
	return p, nil
}

// canceled is a context that has ended: what runs by it only closes.
func canceled() context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return ctx
}

// behind is how long a message of the script has waited, perhaps behind a
// tick, when the owner takes it.
const behind = 2 * time.Second

// play gives one step to the owner and waits until it was taken.
func (p *parts) play(m move, messages chan link.Message, changes chan link.Change) {
	p.clock.Step(m.at.Add(behind).Sub(p.clock.Core()))
	if stepAt(m.at)%3 == 0 {
		_ = p.watch.Do(context.Background(), alarms.Input{Kind: alarms.Tick}) // nothing to refuse
	}
	switch {
	case m.msg != nil:
		messages <- *m.msg
	case m.change != nil:
		changes <- *m.change
	case m.act != nil:
		_ = p.watch.Do(context.Background(), *m.act) // the core may refuse it
	}
	reply := make(chan alarms.Picture, 1)
	p.owner.looks <- look{reply: reply}
	<-reply
}

// judged is how many inputs the owner has judged and not yet given to the writer.
// A look makes it wait until it is counted.
func (p *parts) judged() int {
	seen := make(chan alarms.Picture)
	select {
	case p.owner.looks <- look{reply: seen}:
		n := len(p.owner.batch)
		<-seen
		return n
	case <-p.gone:
		return len(p.owner.batch)
	}
}

// waitsForDisk reports whether something judged is not on disk yet.
func (p *parts) waitsForDisk() bool {
	return p.judged() > 0 || !p.owner.writer.idle() || p.store.Stats().Waiting > 0
}

// allTold waits until nothing waits for the disk and nothing due for telling.
func (p *parts) allTold() error {
	for range 2000 {
		due := 0
		for _, c := range p.channels {
			some, err := p.store.Outbox.Due(context.Background(), c.Name, p.clock.Core(), 10)
			if err != nil {
				return err
			}
			due += len(some)
		}
		if due == 0 && !p.waitsForDisk() {
			return nil
		}
		time.Sleep(5 * time.Millisecond)
	}
	return errors.New("not all was saved and told in 10 s")
}
