package config

import "telltale/alarms"

// circuitSite is a circuit of a house with its place in the file.
type circuitSite struct {
	t       *table
	witness value[string]
}

func readCircuit(t *table, h *alarms.House) *circuitSite {
	defer t.done()
	site := &circuitSite{t: t, witness: t.text("witness")}
	h.Circuits = append(h.Circuits, alarms.Circuit{ID: alarms.CircuitID(t.name), Name: t.text("name").or(t.name),
		Priority: t.priority("silent-priority"), FedBy: alarms.CircuitID(t.text("fed-by").V), Witness: alarms.ProbeID(site.witness.V),
		Zero:       wordOf(t, "witness-zero", []alarms.Quantity{alarms.Voltage, alarms.Contact, alarms.Power, alarms.Current}).V,
		Directions: t.directions()})
	return site
}

// checkMissed warns of a probe whose silence would be told by nobody: it shows
// only what may be sent when it changes, and has no interval. The silence of a
// witness is told, but it may be no silence.
func (h *houseSite) checkMissed(p *probeSite) {
	changing := false
	for _, s := range p.probe.Streams {
		switch q := s.Quantity; {
		case q.Changes():
			changing = true
		case !q.Facts().Weak.Set:
			return
		}
	}
	if !changing || p.probe.Every > 0 || p.t.has("every") {
		return
	}
	switch by, witness := h.asksFor(p.t.name); {
	case by == nil:
		p.t.warn(p.t.at, "nobody would be told if it fell silent: give every = \"1m\", as often as it reports, or make it the witness of a circuit")
	case witness:
		p.t.warn(p.t.at, "%s goes by it (line %d), and if it reports only when something changes it would be taken for dead while all is well: let it report at intervals, and give every = \"1m\"",
			by.at.path, by.at.line)
	default:
		p.t.warn(p.t.at, "%s goes by it (line %d), and if it died nobody would be told and its last reading would go on to count: let it report at intervals, and give every = \"1m\"",
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
		if string(s.selector.Probe) == probe {
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
