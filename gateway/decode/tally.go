package decode

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// quietFor is for how long a cause must not come to count as new again.
const quietFor = 24 * time.Hour

// Stats is what has been read so far, for one probe.
type Stats struct {
	Probe    alarms.ProbeID
	Values   uint64
	Problems []CauseStats // by cause
}

// CauseStats counts one cause of one probe.
type CauseStats struct {
	Cause Cause
	Count uint64
	last  time.Time
}

// tally is the memory behind Stats; its size is bounded by the sources.
type tally struct {
	probes    map[alarms.ProbeID]*probeTally
	unclaimed uint64
	empty     uint64
}

type probeTally struct {
	values uint64
	causes map[Cause]*CauseStats
}

// newTally has a place for each probe, and one for problems of none alone.
func newTally(sources []*source) tally {
	t := tally{probes: map[alarms.ProbeID]*probeTally{"": {causes: map[Cause]*CauseStats{}}}}
	for _, s := range sources {
		t.probes[s.Probe] = &probeTally{causes: map[Cause]*CauseStats{}}
	}
	return t
}

func (t *tally) values(vs []Value) {
	for _, v := range vs {
		t.probes[v.Probe].values++
	}
}

// problem counts p and reports whether it is new, or new again.
func (t *tally) problem(p Problem, at time.Time) bool {
	of := t.probes[p.Probe]
	c := of.causes[p.Cause]
	if c == nil {
		c = &CauseStats{Cause: p.Cause}
		of.causes[p.Cause] = c
	}
	fresh := c.Count == 0 || at.Sub(c.last) >= quietFor
	c.Count++
	c.last = at
	return fresh
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

// Unclaimed returns how many messages came in under topics that no source claims.
func (t *Table) Unclaimed() uint64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.tally.unclaimed
}

// Emptied returns how many empty payloads came in: retained messages deleted.
func (t *Table) Emptied() uint64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.tally.empty
}
