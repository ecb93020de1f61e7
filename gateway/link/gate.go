package link

import (
	"bytes"
	"net"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
	"github.com/rs/zerolog"
)

// gate is the hook by which the embedded broker asks who may do what.
type gate struct {
	mochi.HookBase
	book    *book
	clients *mochi.Clients
	log     zerolog.Logger
	told    once
	user    string   // the watch's own
	ids     []string // client IDs that are its own
	flood   *floodgate
	watch   atomic.Pointer[string] // client ID of the watch's link; nil: it is not known yet

	refusedLogins, refusedTopics atomic.Uint64
	dropped                      atomic.Uint64 // messages for clients whose bounds are reached
	guesses                      guesses
	hellos                       *hellos
	bounds                       *bounds
	lost                         atomic.Uint64 // on the way to the watch
}

func (g *gate) ID() string { return "accounts" }

func (g *gate) Provides(b byte) bool {
	switch b {
	case mochi.OnConnectAuthenticate, mochi.OnACLCheck, mochi.OnPublish, mochi.OnPublishDropped, mochi.OnPacketIDExhausted:
		return true
	}
	return false
}

// OnConnectAuthenticate checks the password, and three things more by which an
// account would reach further than its rights: the topic of its will, which
// the library does not check, the session of another account, which it would
// take over with the same client ID, and the place of the watch, which could not
// come back to it.
func (g *gate) OnConnectAuthenticate(cl *mochi.Client, pk packets.Packet) bool {
	user := string(pk.Connect.Username)
	host, _, _ := net.SplitHostPort(cl.Net.Remote)
	why := ""
	var r *rights
	tries := g.guesses.mayTry(user, host, time.Now())
	if tries {
		r = g.book.login(user, pk.Connect.Password)
		g.guesses.note(user, host, r != nil)
	}
	switch old, ok := g.clients.Get(cl.ID); {
	case !tries:
		why = "too many wrong passwords from there; it must wait a minute"
	case r == nil:
		why = "wrong user name or password"
	case !r.all && r != g.book.nobody && !ok && g.sessions(pk.Connect.Username, false, "") >= connectionsOfEach:
		why = "its account has as many connections as it may"
	case user != g.user && slices.Contains(g.ids, cl.ID):
		why = "this client ID is the watch's own"
	case ok && !bytes.Equal(old.Properties.Username, pk.Connect.Username):
		why = "another account uses this client ID"
	case pk.Connect.WillFlag && !r.mayPublish(pk.Connect.WillTopic):
		why = "its will goes to a topic that it may not publish to"
	default:
		g.hellos.know(host)
		return true
	}
	g.refusedLogins.Add(1)
	if g.told.first(user + " " + host + " " + why) {
		g.log.Warn().Str("user", user).Str("client", cl.ID).Str("from", host).Str("why", why).Msg("the embedded broker refused a client; further ones of this kind are only counted")
	}
	return false
}

// OnACLCheck is asked for every publication, subscription and delivery; topic
// is a filter when a client subscribes.
func (g *gate) OnACLCheck(cl *mochi.Client, topic string, write bool) bool {
	r := g.book.of(cl.Properties.Username)
	if r != nil && !write && !r.all && !g.bounds.room(cl) {
		g.dropped.Add(1)
		g.OnPublishDropped(cl, packets.Packet{TopicName: topic})
		return false
	}
	if r != nil && (write && r.mayPublish(topic) || !write && r.maySubscribe(topic)) {
		return true
	}
	g.refusedTopics.Add(1)
	user := string(cl.Properties.Username)
	if g.told.first(user + " topic") {
		g.log.Warn().Str("user", user).Str("topic", topic).Bool("publish", write).Msg("the embedded broker refused a topic to this account; further ones are only counted")
	}
	return false
}

// OnPublish takes what is too much for one topic off the client's hands, and
// passes it on to nobody: it would delay what others send. The watch itself is
// trusted.
func (g *gate) OnPublish(cl *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	if cl.Net.Inline || string(cl.Properties.Username) == g.user || g.flood.pass(pk.TopicName, time.Now()) {
		return pk, nil
	}
	return pk, packets.CodeSuccessIgnore
}

// OnPublishDropped tells once a client when it does not take its messages.
func (g *gate) OnPublishDropped(cl *mochi.Client, pk packets.Packet) {
	if id := g.watch.Load(); id != nil && *id == cl.ID {
		g.lost.Add(1)
	}
	if g.told.first(cl.ID + " drop") {
		g.log.Warn().Str("client", cl.ID).Str("topic", pk.TopicName).Msg("the embedded broker drops messages for a client that does not take them; they are only counted from now on")
	}
}

// over tells once an account what one of its clients does beyond bounds.
func (g *gate) over(cl *mochi.Client, what string) {
	user := string(cl.Properties.Username)
	if g.told.first(user + " over " + what) {
		g.log.Warn().Str("user", user).Str("client", cl.ID).Msg("a client of the embedded broker " + what)
	}
}

// OnPacketIDExhausted is a drop of another kind.
func (g *gate) OnPacketIDExhausted(cl *mochi.Client, pk packets.Packet) { g.OnPublishDropped(cl, pk) }

// once remembers which causes were logged, at most 256 of them; after that
// nothing more is logged.
type once struct {
	mu   sync.Mutex
	seen map[string]bool
}

func (o *once) first(cause string) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.seen[cause] || len(o.seen) >= 256 {
		return false
	}
	if o.seen == nil {
		o.seen = make(map[string]bool)
	}
	o.seen[strings.Clone(cause)] = true
	return true
}
