package gateway

import (
	"testing"
	"time"

	"telltale/gateway/link"
)

// Where the first's page is out of reach, both speak over the broker that they share; and
// what that keeps of a watch that is gone is told.
func TestCompanionAsksOverTheirBroker(t *testing.T) {
	b, err := link.StartBroker(link.BrokerOptions{Address: "127.0.0.1:0"})
	ok(t, err)
	defer func() { ok(t, b.Close()) }()
	p := newPair(t)
	p.broker = b
	p.startFirst()
	p.at.Store(nil) // there is no way to its page
	p.startSecond()
	defer func() { p.second.stop() }()
	p.firstTells()
	if why, known := p.first.parts.accompanied.trouble(p.first.clock.Core()); why != "" || !known {
		t.Errorf("the first misses its companion: %q", why)
	}

	p.stopFirst()
	p.reads = "0"
	p.until("the companion tells", 3*time.Minute, func() bool {
		return p.second.heard("The companion tells you this, because the first watch has not been heard since") > 0
	})
	p.until("it tells that the first was stopped", 3*time.Minute, func() bool { return p.second.heard("and by its broker it was stopped") > 0 })
}
