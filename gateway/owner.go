package gateway

import (
	"context"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/gateway/decode"
	"telltale/gateway/link"
	"telltale/gateway/reach"
	"telltale/gateway/supervise"
)

// owner is the goroutine that holds the core. It alone gives the writer work,
// and never waits for the disk longer than that is patient.
type owner struct {
	recovery

	table  *decode.Table
	writer *writer
	box    *outbox
	rules  reach.Rules
	keeps  keeping
	clock  *Clock
	log    zerolog.Logger
	hub    *hub
	heard  func(alarms.Transition)
	out    handOn
	wake   func()
	losses func() (n uint64, topic string) // messages lost anywhere so far, and a topic that brought too many
	mute   func() string                   // why people cannot be told, "" if they can
	minds  []*minding                      // what it asks after
	first  *accompanying                   // the watch that this one accompanies; nil: none

	acts  chan act
	looks chan look

	begun chan struct{}   // closed after the first turn
	still *standing       // finds when the process stood still; nil: it is not asked
	pulse supervise.Pulse // beats each turn in which the core's time has moved
	beat  time.Time       // the core's time at the last beat
	steps atomic.Uint64   // inputs that the core has judged
	made  atomic.Uint64   // transitions that it has brought out

	batch   []alarms.Input      // judged, not yet given to the writer
	rows    []reach.Outgoing    // what they ask for; nil until routed
	hearers map[string][]string // who else is to hear of a transition, by its ID
	saving  *saving             // given to the writer; nil: nothing is
	laying  bool                // a checkpoint was given to the writer
	unsaved bool                // something but ticks was judged since the last flush
	flushed time.Time           // the core's time at that
	moved   bool                // a reading came since the last note to the hub
	noted   time.Time           // of that note, real time
	refused bool                // the disk did not take the last write
	again   time.Time           // when to try it again, real time
	linkUp  bool                // it was reached since
	lost    uint64
	lostAt  time.Time
	muted   string
	starts  starts
}

// handOn takes what was judged, for the export; it never blocks.
type handOn interface {
	Reading(v decode.Value, received time.Time)
	Transition(t alarms.Transition)
}

// act is what a person did, with where the answer goes.
type act struct {
	in    alarms.Input
	reply chan []alarms.Transition
}

// look asks for a picture, with where it goes.
type look struct {
	reply chan alarms.Picture
}

const (
	batch     = 512                    // messages taken in one turn at most, and kept from the writer
	notices   = 500 * time.Millisecond // real time between notes that readings came
	lifeSigns = 30 * time.Second       // of the core: so often the time alone is given to the disk
)

// turn is the real time between ticks. Each of them wakes a machine that may
// have nothing else to do. On fast time no more than a minute of it passes
// between two.
func (o *owner) turn() time.Duration {
	if o.clock.speed > 1 {
		return max(time.Millisecond, min(time.Second/4, time.Duration(float64(time.Minute)/o.clock.speed)))
	}
	return time.Second
}

// run owns until ctx ends, then takes what is still queued and returns.
func (o *owner) run(ctx context.Context, messages <-chan link.Message, changes <-chan link.Change) error {
	o.begin()
	tick := time.NewTicker(o.turn())
	defer tick.Stop()
	for {
		o.lookAtClocks()
		select {
		case <-ctx.Done():
			o.drain(messages)
			return o.finish()
		case m := <-messages:
			o.take(m, messages)
		case c := <-changes:
			o.change(c)
		case a := <-o.acts:
			o.act(a)
		case l := <-o.looks:
			l.reply <- o.engine.Picture()
		case <-o.writer.news: // settle takes it
		case <-tick.C:
			o.tick()
		}
		o.settle()
		if o.keeps.FoundEarlier() {
			o.give(toSync, o.writer.store.Sync)
			return errEarlier
		}
		o.beatOn()
	}
}

func (o *owner) tick() {
	o.apply(alarms.Input{Kind: alarms.Tick, At: o.clock.Core()})
	o.watchSelf()
	o.flush()
}

// beatOn beats if the core's time has moved: a watch whose time stands must not
// pass for one that is alive.
func (o *owner) beatOn() {
	if now := o.engine.Now(); now.After(o.beat) {
		o.beat = now
		o.pulse.Beat()
	}
}

// take reads one message and those that wait behind it.
func (o *owner) take(m link.Message, more <-chan link.Message) {
	for n := 1; ; n++ {
		o.message(m)
		if n == batch {
			return
		}
		select {
		case m = <-more:
		default:
			return
		}
	}
}

func (o *owner) drain(messages <-chan link.Message) {
	for {
		select {
		case m := <-messages:
			o.message(m)
		case a := <-o.acts:
			o.act(a)
		default:
			o.settle()
			return
		}
	}
}

// longHeld is the age up to which a message that waited at the broker counts
// as of the present, if it does not say itself when it was measured.
const longHeld = time.Minute

func (o *owner) message(m link.Message) {
	old := m.Retained || (m.Held && m.Received.Sub(o.linkDown) > longHeld)
	received := o.clock.Wall(m.Received)
	problems := o.table.Decode(m.Topic, m.Payload, received, func(v decode.Value) {
		v.Value = o.engine.Corrected(v.Probe, v.Quantity, v.Value) // so that alarms, history and export agree
		o.apply(alarms.Input{
			At: m.Received, Kind: alarms.ReadingIn, Probe: v.Probe, Quantity: v.Quantity, Value: v.Value,
			Measured: v.Measured, Retained: m.Retained || (old && v.Measured.IsZero()),
		})
		if !m.Retained {
			o.out.Reading(v, received)
			o.moved = true
		}
	})
	for _, p := range problems {
		if p.First {
			o.log.Warn().Str("probe", string(p.Probe)).Str("topic", m.Topic).Str("cause", string(p.Cause)).
				Msgf("a payload cannot be read: %s", p.Detail)
		}
		if m.Retained {
			continue
		}
		for _, q := range p.Quantities {
			o.apply(alarms.Input{At: m.Received, Kind: alarms.GarbledIn, Probe: p.Probe, Quantity: q, Note: p.Detail})
		}
	}
}

func (o *owner) change(c link.Change) {
	in := alarms.Input{At: c.At, Kind: alarms.LinkDown, Note: c.Why}
	if c.Up {
		in.Kind = alarms.LinkUp
		in.Note = ""
	} else if o.linkUp || o.linkDown.IsZero() {
		o.linkDown = c.At
	}
	o.linkUp = c.Up
	o.apply(in)
}

func (o *owner) act(a act) {
	before := len(o.fresh)
	a.in.At = o.clock.Core()
	o.apply(a.in)
	made := append([]alarms.Transition(nil), o.fresh[before:]...)
	o.settle()
	a.reply <- made
}

// apply gives one input to the journal and then to the core. Ticks are not
// journaled, so an input that came in before a tick and waited behind it takes
// the tick's time: the core counts it so, and a replay of the journal must too.
func (o *owner) apply(in alarms.Input) {
	in.At = in.At.Truncate(time.Millisecond) // the core needs no more, and the journal is smaller
	if in.At.Before(o.newest) {
		in.At = o.newest
	}
	o.newest = in.At
	o.batch = append(o.batch, in)
	o.unsaved = o.unsaved || in.Kind != alarms.Tick
	o.steps.Add(1)
	if ts := say.Step(o.engine, in); len(ts) > 0 {
		o.fresh = append(o.fresh, ts...)
		o.made.Add(uint64(len(ts)))
		o.rows = nil
	}
}
