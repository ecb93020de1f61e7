package gateway

import (
	"testing"
	"time"

	"telltale/alarms"
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
	p.until("the first is heard", time.Minute, func() bool {
		why, known := p.second.accompanying().trouble(p.second.clock.Core())
		return why == "" && known
	})
	p.reads = "40"
	p.until("the first tells", time.Minute, func() bool { return p.first.heard("bench") > 0 })
	p.until("the companion has the alarm too", time.Minute, func() bool { return p.second.state() == alarms.Unacknowledged })
	for range 60 {
		p.pass()
	}
	if n := p.second.messages(); n > 0 {
		t.Errorf("the companion told %d messages while the first told", n)
	}
	ok(t, p.first.parts.watch.Do(t.Context(), alarms.Input{Kind: alarms.Acknowledge, Alarm: benchHigh, By: "Ada"}))
	p.until("the companion knows that Ada has it", time.Minute, func() bool { return p.second.state() == alarms.Acknowledged })
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
