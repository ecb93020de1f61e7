package decode

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

const (
	quietFor      = 24 * time.Hour // after this long without, a cause counts as new
	exampleBytes  = 120            // of a payload that is kept to be shown
	maxUnclaimed  = 64             // topics listed by name
	maxTopicShown = 200            // bytes of a topic that are kept
)

// Stats is what has been read so far, for one probe.
type Stats struct {
	Probe    alarms.ProbeID
	Values   uint64
	Problems []CauseStats // by cause
}

// CauseStats counts one cause of one probe and keeps its first example.
type CauseStats struct {
	Cause   Cause
	Count   uint64
	First   time.Time // received
	Last    time.Time
	Topic   string // of the example
	Example string // start of the payload, printable
	Detail  string // what was wrong with the example
}

// TopicStats counts the messages of one topic that no source claims.
type TopicStats struct {
	Topic string
	Count uint64
	Last  time.Time
}

// Unclaimed is what came in under topics that no source claims.
type Unclaimed struct {
	Messages uint64
	Topics   []TopicStats // the first ones met, sorted by name
	Unlisted uint64       // messages under further topics
}

// tally is the memory behind Stats; its size is bounded by the sources.
type tally struct {
	probes    map[alarms.ProbeID]*probeTally
	unclaimed unclaimed
	empty     uint64
}

type probeTally struct {
	values uint64
	causes map[Cause]*CauseStats
}

type unclaimed struct {
	total, unlisted uint64
	topics          map[string]*TopicStats
}

// newTally has a place for each probe, and one for problems of none alone.
func newTally(sources []*source) tally {
	t := tally{probes: map[alarms.ProbeID]*probeTally{"": {causes: map[Cause]*CauseStats{}}}}
	for _, s := range sources {
		t.probes[s.Probe] = &probeTally{causes: map[Cause]*CauseStats{}}
	}
	t.unclaimed.topics = map[string]*TopicStats{}
	return t
}

func (t *tally) values(vs []Value) {
	for _, v := range vs {
		t.probes[v.Probe].values++
	}
}

// problem counts p and reports whether it is new, or new again.
func (t *tally) problem(p Problem, topic string, payload []byte, at time.Time) bool {
	of := t.probes[p.Probe]
	c := of.causes[p.Cause]
	if c == nil {
		c = &CauseStats{Cause: p.Cause, First: at, Topic: clip(topic, maxTopicShown),
			Example: printable(payload), Detail: p.Detail}
		of.causes[p.Cause] = c
	}
	fresh := c.Count == 0 || at.Sub(c.Last) >= quietFor
	c.Count++
	c.Last = at
	return fresh
}

func (u *unclaimed) count(topic string, at time.Time) {
	u.total++
	topic = clip(topic, maxTopicShown)
	s := u.topics[topic]
	if s == nil {
		if len(u.topics) >= maxUnclaimed {
			u.unlisted++
			return
		}
		s = &TopicStats{Topic: topic}
		u.topics[topic] = s
	}
	s.Count++
	s.Last = at
}

// Stats returns the counts of every probe that has any, sorted by probe; the
// empty name stands for payloads of shared topics in which nothing is claimed.
func (t *Table) Stats() []Stats {
	t.mu.Lock()
	defer t.mu.Unlock()
	var all []Stats
	for id, p := range t.tally.probes {
		if p.values == 0 && len(p.causes) == 0 {
			continue
		}
		s := Stats{Probe: id, Values: p.values}
		for _, c := range p.causes {
			s.Problems = append(s.Problems, *c)
		}
		slices.SortFunc(s.Problems, func(a, b CauseStats) int { return strings.Compare(string(a.Cause), string(b.Cause)) })
		all = append(all, s)
	}
	slices.SortFunc(all, func(a, b Stats) int { return strings.Compare(string(a.Probe), string(b.Probe)) })
	return all
}

// Unclaimed returns the counts of topics that no source claims.
func (t *Table) Unclaimed() Unclaimed {
	t.mu.Lock()
	defer t.mu.Unlock()
	u := Unclaimed{Messages: t.tally.unclaimed.total, Unlisted: t.tally.unclaimed.unlisted}
	for _, s := range t.tally.unclaimed.topics {
		u.Topics = append(u.Topics, *s)
	}
	slices.SortFunc(u.Topics, func(a, b TopicStats) int { return strings.Compare(a.Topic, b.Topic) })
	return u
}

// Emptied returns how many empty payloads came in: retained messages deleted.
func (t *Table) Emptied() uint64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.tally.empty
}

func clip(s string, most int) string {
	if len(s) > most {
		return strings.ToValidUTF8(s[:most], "") + "..."
	}
	return s
}

// printable returns the start of a payload with everything that is not
// printable ASCII as a dot.
func printable(b []byte) string {
	more := len(b) > exampleBytes
	if more {
		b = b[:exampleBytes]
	}
	s := strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '.'
		}
		return r
	}, string(b))
	if more {
		s += "..."
	}
	return s
}

func tooLarge(n int) fault {
	return fault{TooLarge, fmt.Sprintf("the payload has %d bytes, at most %d are read", n, MaxPayload)}
}
