package reach

import (
	"sync"
	"time"
)

// ChannelStats is how one channel is doing since the start.
type ChannelStats struct {
	Channel      string
	Delivered    uint64    // rows
	Rehearsed    uint64    // rows of which nothing was sent
	Failed       uint64    // attempts that will be repeated
	Refused      uint64    // rows lost because another try would not help
	GivenUp      uint64    // rows lost because they were tried for too long
	FailingSince time.Time // zero while the channel works
	LastError    string    // newest error sentence, kept until a delivery
}

type counters struct {
	mu sync.Mutex
	s  ChannelStats
}

func (c *counters) count(a Attempt) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch a.Outcome {
	case Delivered:
		c.s.Delivered++
		c.s.FailingSince, c.s.LastError = time.Time{}, ""
		return
	case Rehearsed:
		c.s.Rehearsed++
		return
	case Held, Broken:
		return
	case Failed:
		c.s.Failed++
	case Refused:
		c.s.Refused++
	case GivenUp:
		c.s.GivenUp++
	}
	c.s.LastError = a.Detail
	if c.s.FailingSince.IsZero() {
		c.s.FailingSince = a.Began
	}
}

func (c *counters) stats() ChannelStats {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.s
}
