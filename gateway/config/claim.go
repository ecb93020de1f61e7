package config

import (
	"strings"

	"telltale/alarms"
)

// placeProbes puts each probe at its place and tells places and circuits that
// do not exist.
func (r *reader) placeProbes(houses []*houseSite, probes []*probeSite) {
	for _, p := range probes {
		if !p.where.Set {
			continue
		}
		place, all := findPlace(houses, p.where.V)
		if place == nil {
			hint := meant(p.where.V, all)
			if hint == "" && len(all) > 0 {
				hint = "; the places are " + strings.Join(all, ", ")
			}
			r.problem(p.where.at, "must be house/place as named in this file (got %q)%s", p.where.V, hint)
			continue
		}
		if p.probe.Circuit != "" {
			r.checkCircuit(place.house, p.t.spot("circuit"), string(p.probe.Circuit))
		}
		place.probes = append(place.probes, p)
	}
	for _, h := range houses {
		for _, p := range h.places {
			if len(p.probes) == 0 {
				r.problem(p.t.at, "has no probe, so nothing watches it: give a probe place = \"%s/%s\"", h.house.ID, p.place.ID)
			}
		}
	}
}

func findPlace(houses []*houseSite, name string) (found *placeSite, all []string) {
	for _, h := range houses {
		for _, p := range h.places {
			full := string(h.house.ID) + "/" + string(p.place.ID)
			all = append(all, full)
			if full == name {
				found = p
			}
		}
	}
	return found, all
}

// checkCircuit reports whether h has a circuit, and tells it if not.
func (r *reader) checkCircuit(h *houseSite, at place, name string) bool {
	var known []string
	for _, c := range h.house.Circuits {
		if string(c.ID) == name {
			return true
		}
		known = append(known, string(c.ID))
	}
	hint := meant(name, known)
	if hint == "" {
		hint = "; it has " + listed(known)
	}
	r.problem(at, "is no circuit of house %s (got %q)%s", h.house.ID, name, hint)
	return false
}

func listed(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}

// claimed is one value of a payload that a probe takes.
type claimed struct {
	probe alarms.ProbeID
	read  readSite
}

// checkClaims tells values that two quantities or two probes take: a reading
// would then count twice.
func (r *reader) checkClaims(probes []*probeSite) {
	var before []claimed
	for _, p := range probes {
		for _, one := range p.reads {
			if !one.topic.Set || one.vague {
				continue
			}
			for _, b := range before {
				if b.read.form == one.form && sameSpot(b.read.read, one.read) && overlap(b.read.topic.V, one.topic.V) &&
					!(b.probe == p.probe.ID && one.form == "number") {
					r.claimedTwice(b, p, one)
					break
				}
			}
			before = append(before, claimed{p.probe.ID, one})
		}
	}
}

func (r *reader) claimedTwice(b claimed, p *probeSite, one readSite) {
	where := "the same value"
	if one.read.At != "" {
		where = "\"" + one.read.At + "\""
	}
	r.problem(one.t.at, "%s of topic %q is claimed by %s of probe %s already (line %d, topic %q): one reading would count twice",
		where, one.topic.V, b.read.read.Quantity, b.probe, b.read.t.at.line, b.read.topic.V)
}

// sameSpot reports whether two reads may take the same value of one payload.
func sameSpot(a, b Read) bool {
	if a.At != b.At || a.Measurement != "" && b.Measurement != "" && a.Measurement != b.Measurement {
		return false
	}
	for k, v := range a.Tags {
		if other, ok := b.Tags[k]; ok && other != v {
			return false
		}
	}
	return true
}
