package modem

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/rs/zerolog"
)

// Mode is how messages are written to the modem.
type Mode string

// Modes.
const (
	PDU      Mode = "pdu"  // as they are on the air; long messages arrive as one
	TextMode Mode = "text" // as text, for modems that know nothing else
)

// Options say how to reach the modem and who hears what it hears.
type Options struct {
	Open          func() (Port, error)
	PIN           string // of the SIM; empty: it needs none
	Refusals      Refusals
	Mode          Mode          // default PDU; a modem that refuses it is spoken to in text mode
	ServiceCentre string        // its number; empty: the one on the SIM
	RingFor       time.Duration // default 25 s
	MostPerDay    int           // messages a day but for high priority, each part counts; default 50
	Sent          int           // of them already sent today, by an earlier run
	Now           func() time.Time
	Zone          *time.Location // in which a day begins; nil: UTC
	// Incoming handles a message; one at a time, in a goroutine of its own. The
	// message is taken off the SIM when it returns nil.
	Incoming func(context.Context, Message) error
	// Report hears what became of messages sent. It must not block.
	Report func(Fate)
	Pace   Pace
	Log    zerolog.Logger
}

// Refusals remember a PIN that a SIM refused, longer than this process lives.
type Refusals interface {
	Refused(pin string) bool
	Refuse(pin string) error
}

// Pace holds the waits, in real time. Zero fields get their defaults.
type Pace struct {
	Answer    time.Duration // of a modem that is asked whether it is there; 2 s
	Send      time.Duration // for the network to take one message; 60 s
	Poll      time.Duration // between looks at network and memory; 1 min
	Reopen    time.Duration // after the line was lost, at first; 1 s, doubling up to Poll
	Absent    time.Duration // a modem or SIM that is missing so long is a trouble; 1 min
	NoNetwork time.Duration // a network that is missing so long is a trouble; 10 min
	Look      time.Duration // between looks at a call; 1 s
}

func (p *Pace) fill() {
	for _, d := range []struct {
		of *time.Duration
		by time.Duration
	}{{&p.Answer, 2 * time.Second}, {&p.Send, time.Minute}, {&p.Poll, time.Minute}, {&p.Reopen, time.Second},
		{&p.Absent, time.Minute}, {&p.NoNetwork, 10 * time.Minute}, {&p.Look, time.Second}} {
		if *d.of == 0 {
			*d.of = d.by
		}
	}
}

// Modem is a modem on a serial line. Run owns it; all other methods may be
// called by anybody.
type Modem struct {
	o        Options
	requests chan request
	inbox    chan stored // to be handled
	handled  chan stored

	// Of the goroutine of Run alone.
	under map[place]bool // messages that are being handled
	join  joiner
	ref   byte // of the newest long message
	open  [256]*outstanding

	mu     sync.Mutex
	s      State
	why    string        // nothing can go out; empty: it can
	since  time.Time     // of why, real time
	wait   time.Duration // until why is a trouble
	down   chan struct{} // closed when the session ends
	budget budget
	pinOut string // why the PIN is not tried any more
}

// New checks o; nothing is opened yet.
func New(o Options) (*Modem, error) {
	if o.Open == nil || o.Incoming == nil || o.Report == nil {
		return nil, errors.New("a modem needs a line to open and somebody who hears what comes")
	}
	o.Mode = cmp.Or(o.Mode, PDU)
	if o.RingFor == 0 {
		o.RingFor = 25 * time.Second
	}
	o.MostPerDay = cmp.Or(o.MostPerDay, 50)
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	o.Pace.fill()
	m := &Modem{o: o, requests: make(chan request), inbox: make(chan stored, 16), handled: make(chan stored, 16),
		under: map[place]bool{}, down: make(chan struct{})}
	close(m.down)
	m.budget = budget{most: o.MostPerDay, sent: o.Sent, day: m.today()}
	m.why, m.since, m.wait = "the modem was not reached yet", time.Now(), o.Pace.Absent
	m.ref = byte(time.Now().UnixNano() >> 20)
	return m, nil
}

// Run opens the line, keeps it open and serves until ctx ends. It returns nil.
func (m *Modem) Run(ctx context.Context) error {
	var handler sync.WaitGroup
	handler.Go(func() { m.handle(ctx) })
	defer handler.Wait()
	pause := m.o.Pace.Reopen
	for ctx.Err() == nil {
		began := time.Now()
		err := m.session(ctx)
		if ctx.Err() != nil {
			break
		}
		m.lost(err)
		if time.Since(began) > m.o.Pace.Poll {
			pause = m.o.Pace.Reopen
		}
		select {
		case <-ctx.Done():
		case <-time.After(pause):
		}
		pause = min(2*pause, m.o.Pace.Poll)
	}
	return nil
}

// session opens the line once and serves until it breaks.
func (m *Modem) session(ctx context.Context) error {
	p, err := m.o.Open()
	if err != nil {
		return err
	}
	l, err := startLine(p)
	if err != nil {
		return err
	}
	m.mu.Lock()
	m.down = make(chan struct{})
	m.mu.Unlock()
	defer close(m.down)
	s := &session{m: m, chat: &chat{line: l, log: m.o.Log}}
	if err = s.greet(ctx); err == nil {
		err = s.serve(ctx)
	}
	return errors.Join(err, l.close())
}

// lost notes that the line broke, or could not be opened.
func (m *Modem) lost(err error) {
	m.mu.Lock()
	was := m.s.Present
	m.s.Present, m.s.Signal, m.s.Network, m.s.Operator = false, nil, "", ""
	if m.s.Since.IsZero() || was {
		m.s.Since = m.o.Now()
	}
	m.mu.Unlock()
	m.notReady("the modem is not reached: "+err.Error(), m.o.Pace.Absent)
}

// request is something that somebody wants of the session.
type request struct {
	ctx   context.Context
	run   func(context.Context, *session) error
	reply chan error
}

// ask has the session do something, when something can be done at all.
func (m *Modem) ask(ctx context.Context, run func(context.Context, *session) error) error {
	m.mu.Lock()
	why, down := m.why, m.down
	m.mu.Unlock()
	if why != "" {
		return fmt.Errorf("%w: %s", ErrNotReady, why)
	}
	r := request{ctx, run, make(chan error, 1)}
	select {
	case m.requests <- r:
		return <-r.reply // soon after ctx ends, too
	case <-down:
		return fmt.Errorf("%w: the line broke", ErrNotReady)
	case <-ctx.Done():
		return ctx.Err()
	}
}

// handle gives messages to who handles them.
func (m *Modem) handle(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case st := <-m.inbox:
			if err := m.o.Incoming(ctx, st.Message); err != nil {
				if ctx.Err() == nil {
					m.o.Log.Warn().Err(err).Msg("a text message could not be handled; it stays on the SIM and is tried again")
				}
				st.again = true
			}
			select {
			case m.handled <- st:
			case <-ctx.Done():
				return
			}
		}
	}
}
