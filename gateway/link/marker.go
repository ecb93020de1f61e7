package link

import (
	"context"
	"crypto/rand"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

const (
	// markTopic brings the link's own marks back; below Options.Below.
	markTopic = "watch/mark"
	markEvery = 10 * time.Second
	markTries = 6
)

func (l *Link) markTopic() string { return l.opt.Below + markTopic }

// marker finds the end of what the broker held while the link was down. MQTT
// 3.1.1 does not mark such messages, but a broker delivers to one client in
// the order in which it took in; so when a mark that was published after
// connecting comes back, all that was held has come.
type marker struct {
	open  atomic.Bool // messages may still be held ones
	text  string      // of this connection's marks
	tries int         // touched by serve alone
}

func (k *marker) begin(kept bool) {
	k.text = rand.Text()
	k.open.Store(kept)
}

func (k *marker) end() { k.open.Store(false) }

// saw ends the held part if payload is this connection's mark, not one of an
// earlier connection that the broker had held too.
func (k *marker) saw(payload []byte) {
	if string(payload) == k.text {
		k.end()
	}
}

// again publishes a mark while it is needed, at most markTries times.
func (k *marker) again(s *session) {
	if !k.open.Load() {
		return
	}
	if k.tries++; k.tries > markTries {
		k.end()
		s.link.opt.Log.Warn().Str("topic", s.link.markTopic()).
			Msg("the broker did not return the mark; which messages it had held is not known. Check that the account may publish and subscribe below telltale/")
		return
	}
	// Not waited for: the mark itself is the answer.
	s.client.Publish(s.link.markTopic(), 1, false, k.text)
}

// listenToBroker subscribes to what the link itself wants to hear: its marks,
// what is said in its place, and how many messages the broker has dropped. That the broker refuses is
// nothing to trouble people with.
func (s *session) listenToBroker(ctx context.Context) {
	want := map[string]byte{s.link.markTopic(): 1}
	for _, t := range dropTopics {
		want[t] = 0
	}
	for _, t := range s.link.opt.Own {
		want[t] = 1
	}
	token := s.client.SubscribeMultiple(want, nil).(*mqtt.SubscribeToken)
	ctx, cancel := context.WithTimeout(ctx, subscribeTimeout)
	defer cancel()
	if err := s.await(ctx, token); err != nil {
		return
	}
	for topic, code := range token.Result() {
		if code > 2 {
			s.link.opt.Log.Debug().Str("topic", topic).Msg("the broker does not let the watch hear this")
		}
	}
	s.mark.again(s)
}

// dropTopics are where brokers say how many messages they have dropped.
var dropTopics = [...]string{"$SYS/broker/publish/messages/dropped", "$SYS/broker/messages/dropped"}

// dropReport adds up what a broker says over its restarts.
type dropReport struct {
	mu    sync.Mutex
	known bool
	last  uint64
	sum   uint64
}

func (r *dropReport) total() uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.sum
}

// note takes the broker's newest count and returns how many are new. The
// first count is where counting begins; a smaller one is a restart.
func (r *dropReport) note(n uint64) uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	more := uint64(0)
	switch {
	case r.known && n >= r.last:
		more = n - r.last
	case r.known:
		more = n
	}
	r.known, r.last = true, n
	r.sum += more
	return more
}

func (l *Link) noteBrokerDrops(s *session, payload []byte) {
	n, err := strconv.ParseUint(string(payload), 10, 64)
	if err != nil {
		return
	}
	if more := l.brokerDropped.note(n); more > 0 {
		l.opt.Log.Warn().Uint64("dropped", more).Str("server", s.server.addr).
			Msg("the broker has dropped messages, perhaps not this watch's; raise its queue limits")
	}
}
