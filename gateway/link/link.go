package link

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"telltale/gateway/loopback"
	"telltale/gateway/topic"
)

// Message is one message from the broker.
type Message struct {
	Topic     string
	Payload   []byte // the reader's own
	Retained  bool   // sent because of a new subscription: of unknown age
	Duplicate bool   // marked as a repeated delivery
	// Held is set when the message may have waited at the broker while the
	// link was down: it is at most as old as that outage.
	Held     bool
	Received time.Time // by Options.Now
}

// Change reports that the link came up or went down, or why it is still down.
type Change struct {
	Up  bool
	At  time.Time // by Options.Now
	Why string    // a sentence for people; with Up also what works in part only
}

// Stats are counts since New.
type Stats struct {
	Up            bool
	Server        string // connected to, host:port; empty when down
	Why           string // sentence of the newest change
	Received      uint64 // all messages
	Dropped       uint64 // lost because the reader was too slow
	TooLong       uint64 // left out because the payload was too long
	Flooded       uint64 // left out because their topic brought too many
	FloodedBy     string // topic of the newest of these
	BrokerDropped uint64 // for any client, as the broker says itself; 0 if it does not
	Connects      uint64 // connections made
	Failures      uint64 // attempts that failed
	Queued        int    // in the queue now
	QueuePeak     int
}

// ErrDown is returned by Publish while there is no connection.
var ErrDown = errors.New("no connection to the broker")

// Link is one connection to one of several brokers. Its methods may be called
// by any goroutine.
type Link struct {
	opt     Options
	filters []string // the fewest
	queue   *queue
	flood   *floodgate
	changes chan Change
	// pingTimeout is shorter in tests.
	pingTimeout time.Duration
	running     atomic.Bool

	mu   sync.Mutex
	cur  *session // nil when down
	told Change   // the newest change

	received, tooLong  atomic.Uint64
	connects, failures atomic.Uint64
	brokerDropped      dropReport
}

// New checks o and reads its files. It does not use the network. All problems
// are reported at once, joined.
func New(o Options) (*Link, error) {
	o, err := o.withDefaults().inProcess()
	if err = errors.Join(err, o.check()); err != nil {
		return nil, fmt.Errorf("link: %w", err)
	}
	l := &Link{
		opt:         o,
		filters:     topic.Fewest(o.Filters),
		queue:       newQueue(o.QueueSize, o.holdBack, o.Log),
		flood:       newFloodgate(o.Speed, o.Log),
		changes:     make(chan Change, 16),
		pingTimeout: pingTimeout,
	}
	if !o.silent {
		l.warnInClear()
	}
	return l, nil
}

// warnInClear logs once for each server that gets the password unencrypted.
func (l *Link) warnInClear() {
	for _, text := range l.opt.Servers {
		if s, err := parseServer(text); err == nil && !s.secure && !loopback.Host(s.host) && l.opt.Password != "" && l.opt.Broker == nil {
			l.opt.Log.Warn().Str("server", s.addr).Msg("the password for this broker crosses the network unencrypted; use mqtts:// where the broker can")
		}
	}
}

// Messages is the queue of what was received; its size and full-policy are in
// the package comment. It is never closed. What is still in it when Run
// returns was acknowledged to the broker: take it out.
func (l *Link) Messages() <-chan Message { return l.queue.ch }

// Changes holds up to 16 changes; when it is full the oldest is dropped, so
// that the newest is always there. It is never closed.
func (l *Link) Changes() <-chan Change { return l.changes }

// Stats returns the counts.
func (l *Link) Stats() Stats {
	s := Stats{
		Received: l.received.Load(),
		TooLong:  l.tooLong.Load(), Connects: l.connects.Load(), Failures: l.failures.Load(),
		Dropped: l.queue.dropped.Load(), BrokerDropped: l.brokerDropped.total(),
		Queued: len(l.queue.ch), QueuePeak: int(l.queue.peak.Load()),
	}
	s.Flooded, s.FloodedBy = l.flood.stats()
	l.mu.Lock()
	defer l.mu.Unlock()
	s.Why = l.told.Why
	if l.cur != nil {
		s.Up, s.Server = true, l.cur.server.addr
	}
	return s
}

// takesOver is how long another program with the same client ID may take to
// connect, on a slow machine.
const takesOver = 5 * time.Second

// Run connects, and connects again whenever the connection ends, until ctx
// ends; it then says goodbye to the broker and returns nil. It owns every
// goroutine it starts. It can run once.
func (l *Link) Run(ctx context.Context) error {
	if !l.running.CompareAndSwap(false, true) {
		return errors.New("link: Run was called twice")
	}
	pauses := &pace{least: l.opt.retryMin, most: l.opt.retryMax, random: l.opt.random}
	short := 0 // connections in a row that did not last
	for ctx.Err() == nil {
		s, why := l.connect(ctx)
		if s != nil {
			began := time.Now()
			why = s.serve(ctx)
			s.end()
			lasted := time.Since(began)
			if s.heard.Load() || lasted > l.opt.retryMax {
				pauses.step = 0
			}
			// Of two with one client ID each stays for as long as the other waits
			// and then takes to connect.
			if lasted > 2*l.opt.retryMax+takesOver {
				short = 0
			}
			if short++; short >= 3 {
				why += fmt.Sprintf(" It keeps happening soon after connecting, so most likely its session is taken over: check that no other program uses the client ID %q.", l.opt.ClientID)
			}
		}
		if ctx.Err() != nil {
			return nil
		}
		l.tell(false, why)
		sleep(ctx, pauses.next())
	}
	return nil
}

// connect tries every server once. It returns nil and why when none answers.
func (l *Link) connect(ctx context.Context) (*session, string) {
	var why []string
	for _, text := range l.opt.Servers {
		s, err := l.open(ctx, text)
		if err == nil {
			l.connects.Add(1)
			return s, ""
		}
		if ctx.Err() != nil {
			return nil, ""
		}
		l.failures.Add(1)
		why = append(why, err.Error())
	}
	return nil, strings.Join(why, " ")
}

// tell sends a change unless it says the same as the one before.
func (l *Link) tell(up bool, why string) {
	c := Change{Up: up, At: l.opt.Now(), Why: why}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.told.Up == c.Up && l.told.Why == c.Why {
		return
	}
	l.told = c
	if up {
		l.opt.Log.Info().Msg(why)
	} else {
		l.opt.Log.Warn().Msg(why)
	}
	for {
		select {
		case l.changes <- c:
			return
		default:
		}
		select {
		case <-l.changes:
		default:
		}
	}
}

func (l *Link) current() *session {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.cur
}

func (l *Link) setCurrent(s *session) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.cur = s
}

// Publish sends payload to the topic name and waits until the broker has it: at QoS 0
// until it is written, at QoS 1 until it is acknowledged. While there is no
// connection it returns ErrDown at once, and ErrDown too when the connection
// ends while it waits; the broker may then have the message all the same. It
// may outlast ctx by the write timeout of 10 s.
func (l *Link) Publish(ctx context.Context, name string, payload []byte, qos byte, retain bool) error {
	if err := topic.CheckName(name); err != nil {
		return fmt.Errorf("link: cannot publish: a topic %w", err)
	}
	if qos > 1 {
		return fmt.Errorf("link: cannot publish to %q with quality of service %d; want 0 or 1", name, qos)
	}
	s := l.current()
	if s == nil {
		return fmt.Errorf("link: cannot publish to %q: %w", name, ErrDown)
	}
	if err := s.publish(ctx, name, payload, qos, retain); err != nil {
		return fmt.Errorf("link: cannot publish to %q: %w", name, err)
	}
	return nil
}
