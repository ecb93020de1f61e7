package link

import (
	"strings"
	"sync"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
)

// Bounds on what one account makes the embedded broker keep. The library has
// none of its own for these, or one for all clients and the watch together. A
// garden has some ten probes and a few readers: these are far above it, and
// keep what strangers and broken clients cost within some megabytes.
const (
	connectionsOfEach   = 256     // of one account
	sessionsOfEach      = 4       // kept while their clients are away
	subscriptionsOfEach = 256     // of one client
	pendingOfEach       = 1024    // messages not yet written to a client
	unackedOfEach       = 1024    // messages of QoS 1 and 2 that a client has not acknowledged
	bytesOfEach         = 1 << 20 // in each of the two
	retainedMost        = 2000    // messages kept for topics, of all accounts together
	retainedBytesMost   = 4 << 20
)

// bounds is the hook that keeps to them. The watch itself is not bound: what it
// takes is bounded where it is taken, see queue. The library's strings are views
// of the packet that they came in: to keep a topic is to keep a payload of up to
// maxPacket bytes, unless it is cloned.
type bounds struct {
	mochi.HookBase
	gate *gate

	mu       sync.Mutex
	waiting  map[string]*backlog // by client ID
	retained map[string]int      // bytes by topic
	bytes    int                 // of all that is retained
}

// backlog is what was sent to one client, or kept for it, and is not
// acknowledged.
type backlog struct {
	unacked map[uint16]int // bytes by packet ID
	held    int            // their sum
}

func (b *bounds) ID() string { return "bounds" }

func (b *bounds) Provides(hook byte) bool {
	switch hook {
	case mochi.OnSessionEstablish, mochi.OnSubscribe, mochi.OnPublish, mochi.OnQosPublish,
		mochi.OnQosComplete, mochi.OnQosDropped, mochi.OnDisconnect, mochi.OnClientExpired:
		return true
	}
	return false
}

// sessions counts those of an account but for one client's: of clients that are
// connected, or that are away and have theirs kept.
func (g *gate) sessions(user []byte, away bool, but string) (n int) {
	for id, c := range g.clients.GetAll() {
		if id != but && c.Closed() == away && string(c.Properties.Username) == string(user) {
			n++
		}
	}
	return n
}

// OnSessionEstablish lets no session be kept for an account that may read
// nothing, nor more than a handful for one that may.
func (b *bounds) OnSessionEstablish(cl *mochi.Client, _ packets.Packet) {
	r := b.gate.book.of(cl.Properties.Username)
	if r == nil || r.all {
		return
	}
	if len(r.subscribe) == 0 || b.gate.sessions(cl.Properties.Username, true, cl.ID) >= sessionsOfEach {
		cl.Properties.Clean = true
		cl.Properties.Props.SessionExpiryInterval = 0
	}
}

// OnSubscribe ends a client that asks for more than any use has.
func (b *bounds) OnSubscribe(cl *mochi.Client, pk packets.Packet) packets.Packet {
	if !b.watches(cl) && cl.State.Subscriptions.Len()+len(pk.Filters) > subscriptionsOfEach {
		b.gate.over(cl, "subscribes to more than any use has, and was disconnected")
		pk.Filters = nil
		cl.Stop(packets.ErrQuotaExceeded)
	}
	for i := range pk.Filters {
		pk.Filters[i].Filter = strings.Clone(pk.Filters[i].Filter)
	}
	return pk
}

func (b *bounds) watches(cl *mochi.Client) bool {
	r := b.gate.book.of(cl.Properties.Username)
	return r != nil && r.all
}

// OnPublish passes a message on without keeping it for its topic where too
// many are kept already.
func (b *bounds) OnPublish(cl *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	if !pk.FixedHeader.Retain || b.watches(cl) {
		return pk, nil
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	was, there := b.retained[pk.TopicName]
	size := len(pk.TopicName) + len(pk.Payload)
	switch {
	case len(pk.Payload) == 0:
		delete(b.retained, pk.TopicName)
		b.bytes -= was
	case !there && len(b.retained) >= retainedMost || b.bytes-was+size > retainedBytesMost:
		b.gate.over(cl, "wants more retained messages kept than there is room for; they are passed on and not kept")
		pk.FixedHeader.Retain = false
	default:
		b.retained[strings.Clone(pk.TopicName)] = size
		b.bytes += size - was
	}
	return pk, nil
}

// room reports whether one more message may go to cl, which is not the watch.
func (b *bounds) room(cl *mochi.Client) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	l := b.waiting[cl.ID]
	if l == nil {
		return true
	}
	if l.full() {
		b.reconcile(l, cl)
	}
	return !l.full()
}

func (l *backlog) full() bool { return l.held >= bytesOfEach || len(l.unacked) >= unackedOfEach }

// reconcile forgets messages that the library has dropped without a word.
func (b *bounds) reconcile(l *backlog, cl *mochi.Client) {
	for id, size := range l.unacked {
		if _, there := cl.State.Inflight.Get(id); !there {
			l.held -= size
			delete(l.unacked, id)
		}
	}
}

// of is called with mu held.
func (b *bounds) of(cl *mochi.Client) *backlog {
	l := b.waiting[cl.ID]
	if l == nil {
		l = &backlog{unacked: map[uint16]int{}}
		b.waiting[cl.ID] = l
	}
	return l
}

func (b *bounds) OnQosPublish(cl *mochi.Client, pk packets.Packet, _ int64, _ int) {
	if b.watches(cl) {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	l := b.of(cl)
	l.held += len(pk.Payload) - l.unacked[pk.PacketID]
	l.unacked[pk.PacketID] = len(pk.Payload)
}

func (b *bounds) OnQosComplete(cl *mochi.Client, pk packets.Packet) {
	if b.watches(cl) {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	l := b.of(cl)
	l.held -= l.unacked[pk.PacketID]
	delete(l.unacked, pk.PacketID)
}

func (b *bounds) OnQosDropped(cl *mochi.Client, pk packets.Packet) { b.OnQosComplete(cl, pk) }

// OnDisconnect forgets what waits, unless the session is kept.
func (b *bounds) OnDisconnect(cl *mochi.Client, _ error, expire bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if l := b.waiting[cl.ID]; expire || l != nil && len(l.unacked) == 0 {
		delete(b.waiting, cl.ID)
	}
}

func (b *bounds) OnClientExpired(cl *mochi.Client) { b.OnDisconnect(cl, nil, true) }
