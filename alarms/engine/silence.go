package engine

import (
	"time"

	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// node is something that falls silent as one: a stream of a probe with
// several, a probe, a circuit of several probes, a house. The topmost node
// that is wholly silent is the one cause that is told.
//
// A node counts what is below it, so that a message costs the height of the
// tree and not the house. A wholly silent node that may yet be part of a wider
// silence is held: it is told when something beside it is heard, or when its
// hold is over. When something is heard again of what was told, the rest is
// spared: it has a time to be heard before it is told by itself.
type node struct {
	lifecycle.Plain
	nodeState
	e        *Engine
	alarm    *alarm
	parent   *node
	children []*node
	name     string
	leaves   []*stream
	shown    *stream // of a circuit: what of its witness shows its power; nil: nothing
	feeder   bool    // a circuit that feeds others
	fed      []*node // of them, those that can be told apart

	serving int                     // leaves of probes in service
	quiet   int                     // of them, silent ones
	alive   *[intervalClasses]int32 // the others by how often they report; nil where nothing is below

	held     []*node       // below: those that wait for what is decided
	order    int           // of its timers among those that are due together
	hold     *timing.Timer // both made when first needed
	spared   *timing.Timer
	queued   bool // to be decided in this instant
	reviewed bool // to be reviewed in this instant
}

const nodeTimerCount = 2

// nodeState is what a snapshot keeps of a node.
type nodeState struct {
	Told     bool           `json:"told,omitempty"`
	Dead     bool           `json:"dead,omitempty"`   // the witness says that the power is gone
	Quiet    timing.Wait    `json:"quiet,omitzero"`   // since it is wholly silent
	Slowest  time.Duration  `json:"slowest,omitzero"` // the longest interval below, then
	Patient  time.Duration  `json:"patient,omitzero"` // the longest silence allowed below, then
	Held     bool           `json:"held,omitempty"`
	HoldDue  timing.Instant `json:"hold_due,omitempty"`
	Spare    timing.Wait    `json:"spare,omitzero"` // since what stays silent below is spared
	SpareDue timing.Instant `json:"spare_due,omitempty"`
	Back     timing.Instant `json:"back,omitempty"`    // of a circuit: when its power came back last
	Mute     bool           `json:"mute,omitempty"`    // its alarm was put aside in that time, and speaks for none of it
	OnTime   timing.Instant `json:"on_time,omitempty"` // until then something below is on time
}

// Intervals by size, 0 for not yet known: doubling from 4 s to 18 h.
const intervalClasses = 16

func intervalClass(every time.Duration) int8 {
	if every == 0 {
		return 0
	}
	class := int8(1)
	for d := 4 * time.Second; every >= d && class < intervalClasses-1; d *= 2 {
		class++
	}
	return class
}

// leafCount is how a leaf was counted.
type leafCount struct {
	serving, silent bool
	gone            bool // the witness of a circuit without power
	class           int8
}

// missed is 1 for a leaf that is missed, else 0.
func (c leafCount) missed() int {
	if c.serving && c.silent {
		return 1
	}
	return 0
}

func (n *node) add(c leafCount, d int) {
	switch {
	case !c.serving:
		return
	case n.isQuiet(c):
		n.quiet += d
	case n.alive != nil:
		n.alive[c.class] += int32(d)
	}
	n.serving += d
}

// isQuiet reports whether n counts a leaf as silent: for what feeds a circuit
// without power, also the witness that says so.
func (n *node) isQuiet(c leafCount) bool { return c.silent || c.gone && n.feeder }

// silent reports whether all of n that is in service is silent.
func (n *node) silent() bool { return n.serving > 0 && n.quiet == n.serving }

// recount brings the nodes above st to what st is now.
func (e *Engine) recount(st *stream, now timing.Instant) {
	is := leafCount{!st.probe.Out, st.Silent, st.leaf && st.probe.gone(), intervalClass(st.usual.every)}
	if !st.leaf || is == st.counted {
		return
	}
	was := st.counted
	st.counted = is
	st.probe.place.house.silent += is.missed() - was.missed()
	changed := was.silent != is.silent || was.serving != is.serving || was.gone != is.gone
	for n := st.node; n != nil; n = n.parent {
		before := n.silent()
		n.add(was, -1)
		n.add(is, +1)
		switch after := n.silent(); {
		case after && !before:
			n.fallSilent(now)
		case before && !after:
			n.wake(now)
		}
		if changed {
			n.reviewNode(e)
		}
	}
	if !changed {
		return
	}
	st.probe.place.reviewPlace(e)
	for n := st.node; n != nil; n = n.parent {
		if n.shown != nil && n.shown.Zeros > 0 && !e.loading {
			n.weigh(e, now)
		}
	}
}

// fallSilent notes how n, now wholly silent, reported before.
func (n *node) fallSilent(now timing.Instant) {
	n.Quiet, n.Slowest, n.Patient = n.e.panel.Timers.Hearing.Await(now), 0, 0
	for _, st := range n.leaves {
		n.Slowest, n.Patient = max(n.Slowest, st.usual.every), max(n.Patient, st.usual.allowed)
	}
	n.decideOn(n.e)
}

// wake is when something of n, so far wholly silent, is heard or put out of
// service.
func (n *node) wake(now timing.Instant) {
	if n.Told {
		n.Told = false
		n.spare(now)
	}
}

// told returns the topmost node from n up that has been told, nil for none.
func (n *node) told() *node {
	var top *node
	for ; n != nil; n = n.parent {
		if n.Told || n.Dead {
			top = n
		}
	}
	return top
}

// speaker returns the node whose alarm tells that n is silent: the topmost, from
// n up to what has been told, whose alarm is not put aside; nil for none.
func (n *node) speaker() *node {
	var by *node
	for m, top := n, n.told(); top != nil; m = m.parent {
		if !m.alarm.State.Aside() && (m.silent() || m.Dead) {
			by = m
		}
		if m == top {
			break
		}
	}
	return by
}

// lost reports whether the circuit of n, or what feeds it, is told as lost.
func (n *node) lost() bool {
	return n != nil && (n.Told || n.Dead || n.feeding().lost())
}

// sparedBy returns the topmost node from n up, told before, that spares all of
// n, nil for none.
func (n *node) sparedBy() *node { return n.spares(false) }

// sparer is sparedBy among those whose alarm was not put aside: it still speaks
// for all of n.
func (n *node) sparer() *node { return n.spares(true) }

func (n *node) spares(speaking bool) *node {
	from := n.Quiet.From
	switch {
	case n.silent():
	case n.Dead: // its witness may not have reported again yet
		from = n.shown.ZeroFrom
	default:
		return nil
	}
	var by *node
	for m := n; m != nil; m = m.parent {
		if m.Spare.From != 0 && from <= m.Spare.From && !(speaking && m.Mute) {
			by = m
		}
	}
	return by
}

// owned reports whether st's silence has been told, at whatever height.
func (st *stream) owned() bool {
	return st.Silent && st.leaf && (st.node.told() != nil || st.node.sparedBy() != nil)
}

func (n *node) onTimeUntil(t timing.Instant) {
	for ; n != nil; n = n.parent {
		n.OnTime = max(n.OnTime, t)
	}
}
