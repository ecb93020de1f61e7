package engine

import (
	"cmp"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// silences are what may fall silent in a house, and what of its temperatures is lost.
type silences struct {
	h         *house
	nodes     []*node                    // what may fall silent, tops first
	feeds     map[alarms.CircuitID]*node // of a circuit: itself, or what is above it
	aired     []*place                   // where its temperature is measured
	silent    int                        // leaves in service that are
	dark      int                        // places of which something is unwatched
	witnessed []*node                    // that a witness may say are without power
	known     int                        // of them, those where it is not lost
	unserved  int                        // of them, those where nothing in service tells it
	newly     []*place                   // of them, those that are being lost in this instant
	lasts     []*place                   // of them, those that were the last to be known
}

func (sl *silences) buildNodes() {
	top := sl.buildHouseNode()
	sl.feeds = map[alarms.CircuitID]*node{"": top}
	for _, fed := range []bool{false, true} { // what feeds another first
		for i := range sl.h.plan.Circuits {
			if c := &sl.h.plan.Circuits[i]; (c.FedBy != "") == fed {
				sl.feeds[c.ID] = sl.buildCircuitNode(c, sl.feeds[c.FedBy])
			}
		}
	}
	for _, p := range sl.h.places {
		for _, pr := range p.probes {
			sl.buildProbeNodes(pr, sl.feeds[pr.plan.Circuit])
		}
	}
}

// buildHouseNode returns nil where one circuit or one probe is all there is:
// that is then the likelier cause.
func (sl *silences) buildHouseNode() *node {
	probes, circuits := 0, map[alarms.CircuitID]int{}
	for _, p := range sl.h.places {
		for _, pr := range p.probes {
			if leaves(pr.streams) != nil {
				probes++
				circuits[sl.h.plan.Root(pr.plan.Circuit)]++
			}
		}
	}
	_, loose := circuits[""]
	if probes < 2 || (len(circuits) == 1 && !loose) {
		return nil
	}
	n := &node{name: sl.h.plan.Name, leaves: leaves(sl.h.streams)}
	n.alarm = sl.h.e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: sl.h.id("silent"), Priority: lifecycle.Always(sl.h.plan.Priority),
	}, house: sl.h})
	return sl.addNode(n)
}

// buildCircuitNode returns above where c has too little on it to be told apart,
// or nothing but one circuit that it feeds.
func (sl *silences) buildCircuitNode(c *alarms.Circuit, above *node) *node {
	var streams []*stream
	probes := 0
	on := map[alarms.CircuitID]bool{}
	for _, st := range sl.h.streams {
		if by := st.probe.circuit; c.Powers(by) && st.leaf {
			if len(streams) == 0 || streams[len(streams)-1].probe != st.probe {
				probes++
			}
			on[by.ID] = true
			streams = append(streams, st)
		}
	}
	if probes < 2 && (c.Witness == "" || probes == 0) || len(on) == 1 && !on[c.ID] {
		return above
	}
	n := &node{name: c.Name, leaves: streams, parent: above, feeder: len(on) > 1 || !on[c.ID]}
	n.alarm = sl.h.e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: sl.h.id(alarms.PlaceID(c.ID), "silent"), Priority: lifecycle.Always(c.Priority),
	}, house: sl.h, circuit: c})
	if above != nil && above.feeder && c.FedBy != "" {
		above.fed = append(above.fed, n)
	}
	for _, st := range streams {
		if st.probe.circuit == c && st.probe.isWitness() && st.plan.Quantity == c.Zero {
			st.feed, n.shown = n, st
			sl.witnessed = append(sl.witnessed, n)
		}
	}
	return sl.addNode(n)
}

func (sl *silences) buildProbeNodes(pr *probe, parent *node) {
	low := cmp.Or(pr.plan.Priority, alarms.Medium)
	n := &node{name: pr.plan.Name, leaves: leaves(pr.streams), parent: parent}
	id := sl.h.id(pr.place.plan.ID, string(pr.plan.ID))
	n.alarm = sl.h.e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: id + "/silent", Priority: lifecycle.Always(low),
	}, house: sl.h, place: pr.place, probe: pr, circuit: pr.circuit})
	pr.node = sl.addNode(n)
	for _, st := range n.leaves {
		st.node = n
	}
	if len(n.leaves) < 2 {
		return
	}
	for _, st := range n.leaves {
		q := st.plan.Quantity
		leaf := &node{name: pr.plan.Name, leaves: []*stream{st}, parent: n}
		leaf.alarm = sl.h.e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
			ID: id + "/" + alarms.AlarmID(q) + "-silent", Quantity: q, Priority: lifecycle.Always(low),
		}, house: sl.h, place: pr.place, probe: pr, circuit: pr.circuit})
		st.node = sl.addNode(leaf)
	}
}

func (sl *silences) addNode(n *node) *node {
	if n.alarm.probe != nil {
		n.alarm.probe.nodes = append(n.alarm.probe.nodes, n)
	}
	n.alarm.Kind, n.alarm.of, n.e = alarms.RuleSilent, n, sl.h.e
	n.order = sl.h.e.panel.Timers.Reserve(nodeTimerCount)
	if n.parent != nil {
		n.parent.children = append(n.parent.children, n)
		if n.parent.alive == nil {
			n.parent.alive = new([intervalClasses]int32)
		}
	}
	n.alarm.Because = func(alarms.Move, timing.Instant) alarms.Reason {
		r := n.why()
		r.Includes = n.speaksFor(sl.h.e)
		return r
	}
	sl.nodes = append(sl.nodes, n)
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

// speaksFor lists the alarms that n's silence makes needless.
func (n *node) speaksFor(e *Engine) []alarms.AlarmID {
	all := n.silentBelow(nil)
	var last *place
	for _, st := range n.leaves {
		if p := st.probe.place; p != last {
			if last = p; p.darkLevel() != alarms.Within && p.causeOfDark(e) == n.alarm {
				all = append(all, p.unwatched.ID)
			}
		}
	}
	if !n.isCircuit() {
		return all
	}
	for _, m := range n.alarm.house.thermostats {
		all = append(all, m.Unpowered(func(d *alarms.Drive) bool { return n.alarm.house.lostFeed(d) == n })...)
	}
	return all
}

// silentBelow adds to all the circuits and probes below n that are silent.
func (n *node) silentBelow(all []alarms.AlarmID) []alarms.AlarmID {
	for _, m := range n.children {
		if m.alarm.Quantity == "" && m.silent() {
			all = append(all, m.alarm.ID)
		}
		all = m.silentBelow(all)
	}
	return all
}

// why says how n fell silent.
func (n *node) why() alarms.Reason {
	if st := n.teller(); st != nil {
		v := st.Raw
		return alarms.Reason{Since: n.alarm.house.wall.At(st.ZeroFrom), Quantity: st.plan.Quantity, Value: &v, Affected: []string{st.probe.plan.Name}}
	}
	r := alarms.Reason{}
	var first, last timing.Instant
	var listed *probe // those of a probe follow each other
	for _, st := range n.leaves {
		if st.probe.Out || n.feeder && st.probe.gone() {
			continue
		}
		heard := st.Heard
		if heard != 0 && (first == 0 || heard < first) {
			first = heard
		}
		last = max(last, heard)
		r.Interval = max(r.Interval, st.interval())
		if listed != st.probe {
			listed = st.probe
			r.Affected = append(r.Affected, st.probe.plan.Name)
		}
	}
	r.Since = n.alarm.house.wall.At(last)
	if spread := last.Since(first); len(r.Affected) > 1 && spread > 2*max(r.Interval, firstAllowed) {
		r.Note = "one after another"
	}
	return r
}
