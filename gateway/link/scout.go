package link

import (
	"cmp"
	"context"
	"strings"
	"sync"
	"time"

	"telltale/gateway/topic"
)

// Bounds of what a Scout remembers.
const (
	scoutTopics   = 500
	scoutPayloads = 3       // the newest of each topic
	scoutPayload  = 4 << 10 // bytes of each
	scoutTopic    = 512     // bytes of a topic's name; longer ones are only counted
	scoutKeep     = 10 * time.Minute
)

// Scout listens to everything at the broker while somebody looks for topics to
// set up, and for ten minutes after the last look; else it has no connection.
// It has one of its own, as a client of its own, and leaves nothing behind. It
// never hears topics that begin with $ or those of the watch itself.
type Scout struct {
	opt    Options
	except []string // prefixes of topics
	keep   time.Duration
	wake   chan struct{}

	mu      sync.Mutex
	looked  time.Time // real time of the newest look
	sight   Sight     // without Topics
	arrived map[string]*arrival
}

// Sight is what a Scout has seen.
type Sight struct {
	Up      bool
	Why     string    // a sentence on the connection; empty: not tried yet
	Since   time.Time // when it began to listen, by Options.Now; zero: not yet
	Topics  []Arrival // by name
	Further uint64    // messages on more topics than are remembered
	TooLong uint64    // messages too long to look at
}

// Arrival is one topic.
type Arrival struct {
	Topic    string
	Count    uint64        // messages, retained ones too
	Retained bool          // all that came was retained by the broker
	Last     time.Time     // of the newest message
	Every    time.Duration // between two live messages, usually; 0: not known yet
	Payloads []Payload     // newest first
}

// Payload is one message of a topic.
type Payload struct {
	At       time.Time
	Data     []byte // at most 4 kB of it
	Size     int    // bytes it had
	Retained bool
}

// scoutSuffix makes the scout's client ID of the watch's.
const scoutSuffix = "-look"

// NewScout makes a scout for the broker that o names; of o only what concerns
// the connection counts. Topics that begin with one of except are not told.
func NewScout(o Options, except ...string) (*Scout, error) {
	o.ClientID = cmp.Or(o.ClientID, defaultClientID) + scoutSuffix
	o.Filters, o.PublishOnly, o.QoS, o.CleanSession = []string{"#"}, false, 0, true
	o.Will, o.silent = nil, true
	o.maxPayload, o.QueueSize = maxPacket, 1024
	if _, err := New(o); err != nil {
		return nil, err
	}
	return &Scout{opt: o, except: append([]string{topic.Own, "$"}, except...), keep: scoutKeep,
		wake: make(chan struct{}, 1), arrived: map[string]*arrival{}}, nil
}

// Look returns what has come so far, and makes the scout listen on.
func (s *Scout) Look() Sight {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.looked = time.Now()
	select {
	case s.wake <- struct{}{}:
	default:
	}
	out := s.sight
	out.Topics = s.topics()
	return out
}

// Run listens whenever somebody looks, until ctx ends.
func (s *Scout) Run(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-s.wake:
		}
		s.listen(ctx)
	}
}

// listen is one time of listening, from the first look to some time after the
// last one.
func (s *Scout) listen(ctx context.Context) {
	l, err := New(s.opt) // files may have changed since NewScout
	if err != nil {
		s.tell(Change{Why: err.Error()})
		return // the next look tries again
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var running sync.WaitGroup
	running.Go(func() { _ = l.Run(ctx) }) // it ends with ctx alone
	defer running.Wait()
	defer stop()
	s.begin(l.opt.Now())
	tick := time.Tick(max(s.keep/600, 10*time.Millisecond))
	for {
		select {
		case <-ctx.Done():
			return
		case c := <-l.Changes():
			s.tell(c)
		case m := <-l.Messages():
			s.take(m)
		case <-tick:
			if s.over(l.Stats().TooLong) {
				return
			}
		}
	}
}

func (s *Scout) begin(now time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.sight = Sight{Since: now}
	clear(s.arrived)
}

func (s *Scout) tell(c Change) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.sight.Up, s.sight.Why = c.Up, c.Why
}

// over reports whether nobody has looked for long, and then forgets all.
func (s *Scout) over(tooLong uint64) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.sight.TooLong = tooLong
	if time.Since(s.looked) < s.keep {
		return false
	}
	select {
	case <-s.wake: // of a look that has been served
	default:
	}
	s.sight = Sight{}
	clear(s.arrived)
	return true
}

// take remembers one message.
func (s *Scout) take(m Message) {
	if len(m.Payload) == 0 { // it deletes a retained one
		return
	}
	for _, p := range s.except {
		if strings.HasPrefix(m.Topic, p) {
			return
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	a := s.arrived[m.Topic]
	if a == nil {
		if len(s.arrived) >= scoutTopics || len(m.Topic) > scoutTopic {
			s.sight.Further++
			return
		}
		a = &arrival{}
		s.arrived[m.Topic] = a
	}
	a.take(m)
}
