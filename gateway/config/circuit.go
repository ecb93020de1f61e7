package config

import "telltale/alarms"

// circuitSite is a circuit of a house with its place in the file.
type circuitSite struct {
	t       *table
	id      alarms.CircuitID
	fedBy   value[string]
	witness value[string]
	zero    value[string]
}

func (r *reader) circuit(t *table, h *alarms.House) *circuitSite {
	defer t.done()
	r.checkID(t, "circuit")
	site := &circuitSite{t: t, id: alarms.CircuitID(t.name), fedBy: t.text("fed-by"), witness: t.text("witness"),
		zero: t.oneOf("witness-zero", string(alarms.Voltage), string(alarms.Contact), string(alarms.Power), string(alarms.Current))}
	h.Circuits = append(h.Circuits, alarms.Circuit{ID: site.id, Name: t.text("name").or(t.name),
		Priority: t.priority("silent-priority"), FedBy: alarms.CircuitID(site.fedBy.V), Witness: alarms.ProbeID(site.witness.V), Zero: alarms.Quantity(site.zero.V),
		Directions: t.directions()})
	return site
}

// checkFeeds looks at what tells of the power of a house.
func (r *reader) checkFeeds(h *houseSite) {
	for _, c := range h.circuits {
		r.checkFedBy(h, c)
		r.checkWitness(h, c)
	}
	for _, p := range h.places {
		for _, one := range p.probes {
			r.checkMissed(h, one)
		}
	}
}

// checkFedBy tells a circuit that is fed by itself, by one that the house does
// not have, or by one that is fed by a third.
func (r *reader) checkFedBy(h *houseSite, c *circuitSite) {
	if !c.fedBy.Set || !r.checkCircuit(h, c.fedBy.at, c.fedBy.V) {
		return
	}
	if c.fedBy.V == c.t.name {
		r.problem(c.fedBy.at, "must name another circuit (got %q, which is this one)", c.fedBy.V)
		return
	}
	for _, by := range h.circuits {
		if by.t.name == c.fedBy.V && by.fedBy.Set {
			r.problem(c.fedBy.at, "must name a circuit that is itself fed by none (got %q, which is fed by %q, line %d): name what feeds both, or leave one out",
				c.fedBy.V, by.fedBy.V, by.fedBy.at.line)
		}
	}
}

// checkWitness tells a witness that the house does not have, that hangs on
// another circuit, or that does not measure what should show a lost feed.
func (r *reader) checkWitness(h *houseSite, c *circuitSite) {
	if !c.witness.Set {
		if c.zero.Set {
			r.problem(c.zero.at, "needs a witness: name the probe, witness = \"plug-1\"")
		}
		return
	}
	p := r.probeOf(h, c.witness)
	switch {
	case p == nil:
	case p.probe.Circuit != "" && p.probe.Circuit != c.id:
		r.problem(c.witness.at, "must hang on this circuit (got %q, which is on %s, line %d)", c.witness.V, p.probe.Circuit, p.t.spot("circuit").line)
	case c.zero.Set:
		if _, ok := p.stream(alarms.Quantity(c.zero.V)); !ok {
			r.problem(c.zero.at, "is not measured by probe %s (got %q)", p.probe.ID, c.zero.V)
		}
	}
}

// checkMissed warns of a probe whose silence would be told by nobody: it shows
// only what may be sent when it changes, and has no interval. The silence of a
// witness is told, but it may be no silence.
func (r *reader) checkMissed(h *houseSite, p *probeSite) {
	changing := false
	for _, s := range p.probe.Streams {
		switch q := s.Quantity; {
		case q.Changes():
			changing = true
		case q != alarms.Battery && q != alarms.Signal:
			return
		}
	}
	if !changing || p.probe.Every > 0 || p.t.has("every") {
		return
	}
	switch by, witness := h.asksFor(p.t.name); {
	case by == nil:
		r.warn(p.t.at, "nobody would be told if it fell silent: give every = \"1m\", as often as it reports, or make it the witness of a circuit")
	case witness:
		r.warn(p.t.at, "%s goes by it (line %d), and if it reports only when something changes it would be taken for dead while all is well: let it report at intervals, and give every = \"1m\"",
			by.at.path, by.at.line)
	default:
		r.warn(p.t.at, "%s goes by it (line %d), and if it died nobody would be told and its last reading would go on to count: let it report at intervals, and give every = \"1m\"",
			by.at.path, by.at.line)
	}
}

// asksFor returns what goes by a probe: a circuit, whose witness it is, a drive, a
// selector, a door or the ground loop; nil for nothing.
func (h *houseSite) asksFor(probe string) (by *table, witness bool) {
	for _, c := range h.circuits {
		if c.witness.V == probe {
			return c.t, true
		}
	}
	for _, d := range h.drives {
		for _, e := range d.evidence {
			if e.probe.V == probe {
				return d.t, false
			}
		}
	}
	for _, s := range h.selectors {
		if s.probe.V == probe {
			return s.t, false
		}
	}
	for _, o := range h.openings {
		if o.probe.V == probe {
			return o.t, false
		}
	}
	if h.loop != nil && h.loop.asksFor(probe) {
		return h.loop.t, false
	}
	return nil, false
}
