package engine

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// A mains-fed probe is witness enough for what feeds it: the circuit that names
// it is told as lost when it falls silent, even if nothing else hangs there, or
// when it says so itself, by readings of zero.

// zeroTold is how many readings of zero in a row mean that the power is gone.
// Common practice, no source: as many as missed reports make a probe silent.
const zeroTold = 3

// noVoltage is below what a supply gives, V; a meter on a dead line does not
// always read 0. From memory.
const noVoltage = 1.0

// isWitness reports whether p tells of the power of its circuit.
func (p *probe) isWitness() bool { return p.circuit != nil && p.circuit.Witness == p.plan.ID }

// counts reports whether the silence of a probe's quantity q is told. What may be
// sent when it changes only needs a given interval, or a circuit that it is
// witness of.
func (p *probe) counts(q alarms.Quantity) bool {
	switch {
	case q.Facts().Of == alarms.OfPlants:
		return true
	case q == alarms.Voltage: // of its battery, where it measures something else
		return p.isWitness() || p.plan.Every > 0 && !slices.ContainsFunc(p.plan.Streams, func(st alarms.Stream) bool {
			return st.Quantity != alarms.Voltage && p.counts(st.Quantity)
		})
	}
	return q.Changes() && (p.plan.Every > 0 || p.isWitness())
}

// attend takes a live reading of st for whether the circuits above it have power.
func (e *Engine) attend(st *stream, v float64, now timing.Instant) {
	if st.probe.Out {
		return
	}
	if st.feed != nil {
		none := 0.0
		if st.plan.Quantity == alarms.Voltage {
			none = noVoltage
		}
		switch {
		case v > none:
			st.Zeros, st.ZeroFrom, st.Denied = 0, 0, false
		case st.Zeros == 0:
			st.Zeros, st.ZeroFrom = 1, now
		default:
			st.Zeros = min(st.Zeros+1, zeroTold)
		}
		st.feed.weigh(e, now)
	}
	e.deny(st, now)
}

// deny lets st, which is heard, speak against the witnesses that say of a circuit
// above it that the power is gone. A first reading of zero may have overtaken
// what was sent before.
func (e *Engine) deny(st *stream, now timing.Instant) {
	if !st.leaf || slices.ContainsFunc(st.probe.streams, func(o *stream) bool { return o.Zeros > 0 }) {
		return
	}
	for n := st.node; n != nil; n = n.parent {
		if w := n.shown; w != nil && w.Zeros >= zeroTold-1 && !w.Denied {
			w.Denied = true
			n.weigh(e, now)
		}
	}
}

// weigh finds whether the witness of n says that the power is gone, and whether
// it is to be believed: not if something else there was heard since, until all of
// that is silent.
func (n *node) weigh(e *Engine, now timing.Instant) {
	st := n.shown
	if st == nil {
		n.setDead(e, false, now)
		return
	}
	says := st.Zeros == zeroTold
	dead := says && !(st.Denied && n.othersHeard()) && !n.awaitsAbove()
	if doubted := says && st.Denied && !dead; doubted != st.Faults.has(faultWitness) {
		st.fault(faultWitness, doubted)
		st.probe.place.reviewPlace(e)
	}
	n.setDead(e, dead, now)
	for _, m := range n.fed {
		m.weigh(e, now)
	}
}

// othersHeard reports whether something on n is heard beside its witness.
func (n *node) othersHeard() bool {
	others := n.serving - n.quiet
	for _, st := range n.shown.probe.streams {
		if c := st.counted; c.serving && !n.isQuiet(c) {
			others--
		}
	}
	return others > 0
}

// awaitsAbove reports whether the witness of what feeds n is about to say the
// same: then one alarm will do.
func (n *node) awaitsAbove() bool {
	if n.parent == nil || n.parent.shown == nil {
		return false
	}
	w := n.parent.shown
	return w.Zeros == zeroTold-1 && !w.Silent && !w.probe.Out && w.interval() <= 2*n.shown.interval()
}

// heardBeside lists the names of the probes on n that are heard, but for w and
// the witnesses of circuits without power.
func (n *node) heardBeside(w *probe) (names []string) {
	for _, st := range n.leaves {
		if p := st.probe; p != w && !st.Silent && !p.Out && st.Heard != 0 && !p.gone() && !slices.Contains(names, p.plan.Name) {
			names = append(names, p.plan.Name)
		}
	}
	return names
}

// contradicted reports whether p says that its circuit has no power and something
// there was heard since.
func (p *probe) contradicted() bool {
	return slices.ContainsFunc(p.streams, func(st *stream) bool { return st.feed != nil && st.Denied })
}

// denied lists what is heard on a circuit of which p says that it has no power.
func (p *probe) denied() []string {
	if !p.contradicted() || p.gone() {
		return nil
	}
	return p.node.circuitNode().heardBeside(p)
}

// gone reports whether p is heard and says that its circuit has no power: of
// what feeds that circuit it counts as silent.
func (p *probe) gone() bool {
	return slices.ContainsFunc(p.streams, func(st *stream) bool { return st.feed != nil && st.feed.Dead })
}

// dismiss forgets what a witness taken out of service said.
func (p *probe) dismiss(e *Engine, now timing.Instant) {
	for _, st := range p.streams {
		if st.feed != nil {
			st.Zeros, st.ZeroFrom, st.Denied = 0, 0, false
			st.feed.weigh(e, now)
		}
	}
}

// setDead notes whether the witness of n says that the power is gone.
func (n *node) setDead(e *Engine, dead bool, now timing.Instant) {
	if n.Dead == dead {
		return
	}
	if n.Dead = dead; !dead && !n.Told {
		n.spare(now)
	}
	if n.shown != nil {
		for _, st := range n.shown.probe.streams {
			e.recount(st, now)
		}
	}
	n.reviewBelow(e)
}

// teller returns the stream that says that the power of n is gone, nil for none.
func (n *node) teller() *stream {
	if n.Dead {
		return n.shown
	}
	return nil
}

// heardElsewhere reports whether some probe that is not of n is heard.
func (n *node) heardElsewhere(e *Engine) bool {
	for _, h := range e.houses {
		for _, st := range h.streams {
			if st.leaf && !st.Silent && st.Heard != 0 && !st.probe.Out && !slices.Contains(n.leaves, st) {
				return true
			}
		}
	}
	return false
}

// circuitNode is the circuit right above n, nil for none.
func (n *node) circuitNode() *node {
	for n != nil && !n.isCircuit() {
		n = n.parent
	}
	return n
}

func (n *node) isCircuit() bool { return n.alarm.circuit != nil && n.alarm.probe == nil }

// feeding returns the circuit that feeds that of n, nil for none.
func (n *node) feeding() *node {
	if n.parent != nil && n.parent.feeder {
		return n.parent
	}
	return nil
}

// feed returns the node of d's circuit, or of what feeds that; nil for none.
func (sl *silences) feed(d *alarms.Drive) *node {
	if d.Circuit == "" {
		return nil
	}
	if n := sl.feeds[d.Circuit]; n != nil && n.alarm.circuit != nil {
		return n
	}
	return nil
}

// lostFeed returns the circuit that is told as lost and that d rests on, nil for
// none or where that alarm is put aside.
func (sl *silences) lostFeed(d *alarms.Drive) *node {
	if n := sl.feed(d); n != nil {
		for _, by := range []*node{n.speaker(), n.sparer()} {
			if by != nil && by.alarm.circuit != nil {
				return by
			}
		}
	}
	return nil
}
