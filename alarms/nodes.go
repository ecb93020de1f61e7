package alarms

func (e *Engine) buildNodes(h *house) {
	top := e.buildHouseNode(h)
	h.feeds = map[CircuitID]*node{"": top}
	for _, fed := range []bool{false, true} { // what feeds another first
		for i := range h.plan.Circuits {
			if c := &h.plan.Circuits[i]; (c.FedBy != "") == fed {
				h.feeds[c.ID] = e.buildCircuitNode(h, c, h.feeds[c.FedBy])
			}
		}
	}
	for _, p := range h.places {
		for _, pr := range p.probes {
			e.buildProbeNodes(h, pr, h.feeds[pr.plan.Circuit])
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
				circuits[h.plan.root(pr.plan.Circuit)]++
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

// buildCircuitNode returns above where c has too little on it to be told apart,
// or nothing but one circuit that it feeds.
func (e *Engine) buildCircuitNode(h *house, c *Circuit, above *node) *node {
	var streams []*stream
	probes := 0
	on := map[CircuitID]bool{}
	for _, st := range h.streams {
		if by := st.probe.circuit; c.powers(by) && st.leaf {
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
	n.alarm = e.newAlarm(&alarm{id: h.id(PlaceID(c.ID), "silent"), house: h, circuit: c, priority: always(c.Priority)})
	if above != nil && above.feeder && c.FedBy != "" {
		above.fed = append(above.fed, n)
	}
	for _, st := range streams {
		if st.probe.circuit == c && st.probe.isWitness() && st.plan.Quantity == c.Zero {
			st.feed, n.shown = n, st
			h.witnessed = append(h.witnessed, n)
		}
	}
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
	if n.alarm.probe != nil {
		n.alarm.probe.nodes = append(n.alarm.probe.nodes, n)
	}
	n.alarm.rule, n.alarm.silence, n.e = RuleSilent, n, e
	n.order = e.timers.reserve(nodeTimerCount)
	if n.parent != nil {
		n.parent.children = append(n.parent.children, n)
		if n.parent.alive == nil {
			n.parent.alive = new([paceClasses]int32)
		}
	}
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

// speaksFor lists the alarms that n's silence makes needless.
func (e *Engine) speaksFor(n *node) []AlarmID {
	all := n.silentBelow(nil)
	var last *place
	for _, st := range n.leaves {
		if p := st.probe.place; p != last {
			if last = p; p.darkLevel() != Within && e.causeOfDark(p) == n.alarm {
				all = append(all, p.unwatched.id)
			}
		}
	}
	if !n.isCircuit() {
		return all
	}
	for _, m := range n.alarm.house.mechanisms {
		for _, v := range m.order {
			if m.needsPower(v) && m.house.lostFeed(m.drives[v.key.drive]) == n {
				all = append(all, v.alarm.id)
			}
		}
	}
	return all
}

// silentBelow adds to all the circuits and probes below n that are silent.
func (n *node) silentBelow(all []AlarmID) []AlarmID {
	for _, m := range n.children {
		if m.alarm.quantity == "" && m.silent() {
			all = append(all, m.alarm.id)
		}
		all = m.silentBelow(all)
	}
	return all
}

// why says how n fell silent.
func (n *node) why() Reason {
	if st := n.teller(); st != nil {
		v := st.Raw
		return Reason{Since: n.alarm.house.wall.at(st.ZeroFrom), Quantity: st.plan.Quantity, Value: &v, Affected: []string{st.probe.plan.Name}}
	}
	r := Reason{}
	var first, last instant
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
	r.Since = n.alarm.house.wall.at(last)
	if spread := last.since(first); len(r.Affected) > 1 && spread > 2*max(r.Interval, firstAllowed) {
		r.Note = "one after another"
	}
	return r
}
