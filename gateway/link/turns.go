package link

import (
	"sync"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
)

// turns keeps two things apart that the library does side by side without a
// lock: it notes the topic of a message that is to be retained, and reads
// those notes to answer a new subscription. A subscription is answered between
// OnSubscribe and OnPacketProcessed; a message is noted between OnPublish or
// OnWill and OnRetainMessage. None of these waits for a client (see ahead).
//
// It is added after the other hooks, for they say whether a message is to be
// retained at all. A will that is to come later (MQTT 5) is not held apart.
type turns struct {
	mochi.HookBase
	noting sync.RWMutex
}

func (t *turns) ID() string { return "turns" }

func (t *turns) Provides(hook byte) bool {
	switch hook {
	case mochi.OnSubscribe, mochi.OnPacketProcessed, mochi.OnPublish, mochi.OnWill, mochi.OnRetainMessage:
		return true
	}
	return false
}

func (t *turns) OnSubscribe(_ *mochi.Client, pk packets.Packet) packets.Packet {
	t.noting.RLock()
	return pk
}

func (t *turns) OnPacketProcessed(_ *mochi.Client, pk packets.Packet, _ error) {
	if pk.FixedHeader.Type == packets.Subscribe {
		t.noting.RUnlock()
	}
}

func (t *turns) OnPublish(_ *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	if pk.FixedHeader.Retain {
		t.noting.Lock()
	}
	return pk, nil
}

func (t *turns) OnWill(cl *mochi.Client, will mochi.Will) (mochi.Will, error) {
	if will.Retain && cl.Properties.Will.WillDelayInterval == 0 {
		t.noting.Lock()
	}
	return will, nil
}

func (t *turns) OnRetainMessage(cl *mochi.Client, pk packets.Packet, _ int64) {
	if pk.Connect.WillProperties.WillDelayInterval == 0 {
		t.noting.Unlock()
	}
}
