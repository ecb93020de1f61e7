package link

import (
	"bytes"
	"maps"
	"slices"
	"time"
)

// gapsKept is of how many gaps between messages the middle one is taken.
const gapsKept = 15

// arrival is one topic as it is remembered.
type arrival struct {
	count, live uint64
	last        time.Time // of any message
	lastLive    time.Time
	gaps        []time.Duration // the newest
	payloads    []Payload       // newest first
}

func (a *arrival) take(m Message) {
	a.count++
	if !m.Retained {
		if a.live++; a.live > 1 {
			a.gaps = append(a.gaps, m.Received.Sub(a.lastLive))
			a.gaps = a.gaps[max(0, len(a.gaps)-gapsKept):]
		}
		a.lastLive = m.Received
	}
	a.last = m.Received
	kept := Payload{At: m.Received, Data: bytes.Clone(m.Payload[:min(len(m.Payload), scoutPayload)]), Size: len(m.Payload), Retained: m.Retained}
	a.payloads = append([]Payload{kept}, a.payloads[:min(len(a.payloads), scoutPayloads-1)]...)
}

// every is the middle one of the gaps; 0 where there are too few to tell.
func (a *arrival) every() time.Duration {
	if len(a.gaps) < 2 {
		return 0
	}
	gaps := slices.Sorted(slices.Values(a.gaps))
	return gaps[len(gaps)/2]
}

// topics copies what has arrived; the payloads themselves never change.
func (s *Scout) topics() []Arrival {
	var out []Arrival
	for _, topic := range slices.Sorted(maps.Keys(s.arrived)) {
		a := s.arrived[topic]
		out = append(out, Arrival{Topic: topic, Count: a.count, Retained: a.live == 0, Last: a.last,
			Every: a.every(), Payloads: slices.Clone(a.payloads)})
	}
	return out
}
