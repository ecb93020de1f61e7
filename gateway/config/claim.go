package config

import (
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/decode"
	"telltale/gateway/topic"
)

// placeProbes puts each probe at its place and tells places and circuits that
// do not exist.
func placeProbes(houses []*houseSite, probes []*probeSite) {
	places, all := map[string]*placeSite{}, []string(nil)
	for _, h := range houses {
		for _, p := range h.places {
			full := string(h.house.ID) + "/" + string(p.place.ID)
			places[full], all = p, append(all, full)
		}
	}
	for _, p := range probes {
		if !p.where.Set {
			continue
		}
		place := places[p.where.V]
		if place == nil {
			hint := Meant(p.where.V, all)
			if hint.Empty() && len(all) > 0 {
				hint = tongue.Put("; the places are %s", strings.Join(all, ", "))
			}
			p.t.problem(p.where.at, "must be house/place as named in this file (got %q)%s", p.where.V, hint)
			continue
		}
		place.probes = append(place.probes, p)
	}
	for _, h := range houses {
		for _, p := range h.places {
			if len(p.probes) == 0 {
				p.t.warn(p.t.at, "has no probe, so nothing watches it: give a probe place = \"%s/%s\"", h.house.ID, p.place.ID)
			}
		}
	}
}

func listed(names []string) tongue.Saying {
	if len(names) == 0 {
		return tongue.Put("none|a list")
	}
	return tongue.Bare(strings.Join(names, ", "))
}

// claimed is one value of a payload that a probe takes.
type claimed struct {
	probe alarms.ProbeID
	read  readSite
}

// checkClaims tells values that two quantities or two probes take: a reading
// would then count twice.
func checkClaims(probes []*probeSite) {
	var before []claimed
	for _, p := range probes {
		for _, one := range p.reads {
			if !one.topic.Set || one.vague {
				continue
			}
			for _, b := range before {
				if b.read.form == one.form && sameSpot(b.read.read, one.read) && topic.Overlap(b.read.topic.V, one.topic.V) &&
					!(b.probe == p.probe.ID && one.form == decode.Number) {
					b.twice(one)
					break
				}
			}
			before = append(before, claimed{p.probe.ID, one})
		}
	}
}

func (b claimed) twice(one readSite) {
	where := tongue.Put("the same value")
	if one.read.At != "" {
		where = tongue.Bare("\"" + one.read.At + "\"")
	}
	one.t.problem(one.t.at, "%s of topic %q is claimed by %s of probe %s already (line %d, topic %q): one reading would count twice",
		where, one.topic.V, b.read.read.Quantity, b.probe, b.read.t.at.line, b.read.topic.V)
}

// sameSpot reports whether two reads may take the same value of one payload.
func sameSpot(a, b decode.Read) bool {
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
