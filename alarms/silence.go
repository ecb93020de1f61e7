package alarms

import (
	"slices"
	"time"
)

// node is something that falls silent as one: a stream of a probe with
// several, a probe, a circuit of several probes, a house. The topmost node
// that is wholly silent is the one cause that is told.
type node struct {
	nodeState
	alarm  *alarm
	parent *node
	name   string
	leaves []*stream
}

// nodeState is what a snapshot keeps of a node.
type nodeState struct {
	Told bool `json:"told,omitempty"`
}

func (e *Engine) buildNodes(h *house) {
	top := e.buildHouseNode(h)
	circuits := map[CircuitID]*node{}
	for i := range h.plan.Circuits {
		c := &h.plan.Circuits[i]
		if n := e.buildCircuitNode(h, c, top); n != nil {
			circuits[c.ID] = n
		}
	}
	for _, p := range h.places {
		for _, pr := range p.probes {
			parent := circuits[pr.plan.Circuit]
			if parent == nil {
				parent = top
			}
			e.buildProbeNodes(h, pr, parent)
		}
	}
}

// buildHouseNode returns nil where one circuit or one probe is all there is:
// that is then the likelier cause.
func (e *Engine) buildHouseNode(h *house) *node {
	probes, circuits := 0, map[CircuitID]int{}
	for _, p := range h.places {
		for _, pr := range p.probes {
			if leaves(pr.streams) != nil {
				probes++
				circuits[pr.plan.Circuit]++
			}
		}
	}
	_, loose := circuits[""]
	if probes < 2 || (len(circuits) == 1 && !loose) {
		return nil
	}
	n := &node{name: h.plan.Name, leaves: leaves(h.streams)}
	n.alarm = e.newAlarm(&alarm{id: h.id("silent"), house: h, priority: always(h.plan.Priority)})
	return e.addNode(h, n)
}

func (e *Engine) buildCircuitNode(h *house, c *Circuit, top *node) *node {
	var streams []*stream
	probes := 0
	for _, st := range h.streams {
		if st.probe.circuit == c && st.leaf {
			if len(streams) == 0 || streams[len(streams)-1].probe != st.probe {
				probes++
			}
			streams = append(streams, st)
		}
	}
	if probes < 2 {
		return nil
	}
	n := &node{name: c.Name, leaves: streams, parent: top}
	n.alarm = e.newAlarm(&alarm{id: h.id(PlaceID(c.ID), "silent"), house: h, circuit: c, priority: always(c.Priority)})
	return e.addNode(h, n)
}

func (e *Engine) buildProbeNodes(h *house, pr *probe, parent *node) {
	low := orPriority(pr.plan.Priority, Medium)
	n := &node{name: pr.plan.Name, leaves: leaves(pr.streams), parent: parent}
	id := h.id(pr.place.plan.ID, string(pr.plan.ID))
	n.alarm = e.newAlarm(&alarm{id: id + "/silent", house: h, place: pr.place, probe: pr, circuit: pr.circuit, priority: always(low)})
	pr.node = e.addNode(h, n)
	for _, st := range n.leaves {
		st.node = n
	}
	if len(n.leaves) < 2 {
		return
	}
	for _, st := range n.leaves {
		q := st.plan.Quantity
		leaf := &node{name: pr.plan.Name, leaves: []*stream{st}, parent: n}
		leaf.alarm = e.newAlarm(&alarm{id: id + "/" + AlarmID(q) + "-silent", house: h, place: pr.place, probe: pr,
			circuit: pr.circuit, quantity: q, priority: always(low)})
		st.node = e.addNode(h, leaf)
	}
}

func (e *Engine) addNode(h *house, n *node) *node {
	n.alarm.rule = RuleSilent
	n.alarm.why = func(Move, instant) Reason {
		r := n.why()
		r.Includes = e.speaksFor(n)
		return r
	}
	h.nodes = append(h.nodes, n)
	return n
}

func leaves(streams []*stream) []*stream {
	var some []*stream
	for _, st := range streams {
		if st.leaf {
			some = append(some, st)
		}
	}
	return some
}

// silent reports whether all of n that is in service is silent.
func (n *node) silent() bool {
	any := false
	for _, st := range n.leaves {
		if st.probe.Out {
			continue
		}
		if !st.Silent {
			return false
		}
		any = true
	}
	return any
}

// told returns the topmost node from n up that has been told, nil for none.
func (n *node) told() *node {
	var top *node
	for ; n != nil; n = n.parent {
		if n.Told {
			top = n
		}
	}
	return top
}

// owned reports whether st's silence has been told, at whatever height.
func (h *house) owned(st *stream) bool {
	return st.Silent && (st.Grace != 0 || st.node.told() != nil)
}

// decide finds which nodes of h are to be told silent, and which no longer.
func (e *Engine) decide(h *house, now instant) {
	for _, n := range h.nodes {
		if n.Told && !n.silent() {
			n.Told = false
			e.spare(n, now)
		}
	}
	var held instant
	for _, st := range h.streams {
		if !st.Silent || st.probe.Out || h.owned(st) {
			continue
		}
		top := st.node
		for n := top; n != nil; n = n.parent {
			if n.silent() {
				top = n
			}
		}
		if !top.undecided(now) {
			top.Told = true
		} else if until := top.heldUntil(); held == 0 || until < held {
			held = until
		}
	}
	e.timers.set(h.held, held)
	h.findWaiting()
}

// findWaiting notes whether a silence of h is not yet told.
func (h *house) findWaiting() {
	h.waiting = false
	for _, st := range h.streams {
		h.waiting = h.waiting || (st.Silent && !st.probe.Out && !h.owned(st))
	}
}

// spare gives what stays silent under n, of which something was heard again,
// one more allowance before it is told by itself.
func (e *Engine) spare(n *node, now instant) {
	for _, st := range n.leaves {
		if st.Silent && !st.probe.Out && st.Grace == 0 {
			st.Grace, st.GraceFor = now.add(max(st.allowed(), firstAllowed)), n.alarm.id
			if e.link.up() {
				e.timers.set(st.grace, st.Grace)
			}
		}
	}
}

// undecided reports whether n, silent, may yet turn out to be part of a wider
// silence: nothing else under the next node is on time. It is decided when
// something there is heard, or falls silent too, or after two intervals.
func (n *node) undecided(now instant) bool {
	if n.parent == nil || now >= n.heldUntil() {
		return false
	}
	slowest := n.slowest()
	others := 0
	for _, st := range n.parent.leaves {
		if st.Silent || st.probe.Out || slices.Contains(n.leaves, st) {
			continue
		}
		every := st.interval()
		if every == 0 || every > 4*slowest || now.since(max(st.Heard, st.Base)) <= every*3/2 {
			return false
		}
		others++
	}
	return others > 0
}

// slowest returns the longest interval of n.
func (n *node) slowest() time.Duration {
	var d time.Duration
	for _, st := range n.leaves {
		d = max(d, st.interval())
	}
	return d
}

// heldUntil returns when n, silent, is told whatever the others do.
func (n *node) heldUntil() instant {
	var last instant
	for _, st := range n.leaves {
		last = max(last, st.SilentAt)
	}
	return last.add(2 * n.slowest())
}

// speaksFor lists the alarms that n's silence makes needless.
func (e *Engine) speaksFor(n *node) []AlarmID {
	h := n.alarm.house
	var all []AlarmID
	for _, m := range h.nodes {
		if m != n && m.under(n) && m.alarm.quantity == "" && m.silent() {
			all = append(all, m.alarm.id)
		}
	}
	for _, p := range h.places {
		if p.darkLevel() != Within && e.causeOfDark(p) == n.alarm {
			all = append(all, p.unwatched.id)
		}
	}
	return all
}

func (n *node) under(top *node) bool {
	for ; n != nil; n = n.parent {
		if n == top {
			return true
		}
	}
	return false
}

// why says how n fell silent.
func (n *node) why() Reason {
	r := Reason{}
	var first, last instant
	seen := map[*probe]bool{}
	for _, st := range n.leaves {
		if st.probe.Out {
			continue
		}
		heard := st.Heard
		if first == 0 || heard < first {
			first = heard
		}
		last = max(last, heard)
		r.Interval = max(r.Interval, st.interval())
		if !seen[st.probe] {
			seen[st.probe] = true
			r.Affected = append(r.Affected, st.probe.plan.Name)
		}
	}
	r.Since = last.time()
	if spread := last.since(first); len(r.Affected) > 1 && spread > 2*max(r.Interval, firstAllowed) {
		r.Note = "one after another"
	}
	return r
}
