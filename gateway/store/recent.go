package store

import (
	"bytes"
	"math"
	"sync"
	"time"

	"telltale/alarms"
)

// How far from the time it was received a probe's own time is believed.
const (
	believedAhead  = 2 * time.Minute
	believedBehind = 7 * 24 * time.Hour
)

// historyTime is the time under which a reading is kept.
func historyTime(in alarms.Input) time.Time {
	m := in.Measured
	if m.IsZero() || m.After(in.At.Add(believedAhead)) || m.Before(in.At.Add(-believedBehind)) {
		return in.At
	}
	return m
}

// stream is one quantity of one probe.
type stream struct {
	name
	guess  int     // decimals of the newest value; the owner's
	sealed []block // full ones since the last checkpoint
	open   packer
}

// recent holds the readings that no checkpoint has put into the database yet,
// packed. The owner alone changes it; others read it under the lock.
type recent struct {
	mu      sync.RWMutex
	streams map[name]*stream
	epoch   int64 // the checkpoint that will take them
	held    int   // readings
	max     int
	dropped uint64        // readings that found no room
	ahead   time.Duration // of the wall clock, by the steps appended so far; the owner's
}

// stream returns the stream of n, made if need be. Owner only.
func (r *recent) stream(n name) *stream {
	if st, ok := r.streams[n]; ok {
		return st
	}
	st := &stream{name: n}
	r.mu.Lock()
	r.streams[n] = st
	r.mu.Unlock()
	return st
}

// take keeps in if it is a reading, and returns its stream; nil if it is not.
// Owner only.
func (r *recent) take(in alarms.Input) *stream {
	r.ahead += in.Shift
	if !plainReading(in) {
		return nil
	}
	st := r.stream(name{in.Probe, in.Quantity})
	r.add(in, st)
	return st
}

// add keeps in for the history, which goes by the wall clock, if it belongs
// there. Owner only.
func (r *recent) add(in alarms.Input, st *stream) {
	in.At = in.At.Add(r.ahead)
	if in.Retained || math.IsNaN(in.Value) || math.IsInf(in.Value, 0) {
		return
	}
	pt := point{ms: historyTime(in).UnixMilli(), value: in.Value}
	r.mu.Lock()
	defer r.mu.Unlock()
	switch {
	case st.open.n > 0 && st.open.prev == pt:
		return // delivered twice
	case r.held >= r.max:
		r.dropped++
		return
	case st.open.n >= maxBlock && len(st.sealed) < maxParts-1:
		full := st.open.block
		full.data = bytes.Clone(full.data)
		st.sealed = append(st.sealed, full)
		st.open.reset()
	}
	st.open.add(pt)
	r.held++
}

// blocks lists what st holds; the data is st's own.
func (st *stream) blocks() []block {
	if st.open.n == 0 {
		return st.sealed
	}
	return append(st.sealed[:len(st.sealed):len(st.sealed)], st.open.block)
}

// copyOf returns copies of the blocks of n that touch from..to (ms), and the
// epoch of which they are part.
func (r *recent) copyOf(n name, from, to int64) (all []block, epoch int64) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	st := r.streams[n]
	if st == nil {
		return nil, r.epoch
	}
	for _, b := range st.blocks() {
		if b.last >= from && b.first < to {
			b.data = bytes.Clone(b.data)
			all = append(all, b)
		}
	}
	return all, r.epoch
}

// clear empties r once a checkpoint has taken everything.
func (r *recent) clear() {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, st := range r.streams {
		st.sealed = nil
		st.open.reset()
	}
	r.held = 0
	r.epoch++
}

// oldest is the smallest history time held, ms; ok is false when none is.
func (r *recent) oldest() (ms int64, ok bool) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	for _, st := range r.streams {
		for _, b := range st.blocks() {
			if !ok || b.first < ms {
				ms, ok = b.first, true
			}
		}
	}
	return ms, ok
}

func (r *recent) counts() (held int, dropped uint64, streams int) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	return r.held, r.dropped, len(r.streams)
}
