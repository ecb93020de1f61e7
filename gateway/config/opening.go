package config

import (
	"slices"
	"time"

	"telltale/alarms"
)

// openingSite is a door, a window or a lid.
type openingSite struct {
	t                  *table
	opening            alarms.HandOpening
	kind, place, probe value[string]
	shutBy             value[time.Duration]
}

func (r *reader) opening(t *table) *openingSite {
	defer t.done()
	r.checkID(t, "opening", "season")
	var kinds []string
	for _, k := range alarms.OpeningKinds {
		kinds = append(kinds, string(k))
	}
	s := &openingSite{t: t, kind: need(t, t.oneOf("kind", kinds...), "say what it is: "+either(kinds)),
		place: need(t, t.text("place"), "name the place that it lets the air of outside in to, for example \"bench\""),
		probe: need(t, t.text("probe"), "name the probe whose contact shows whether it is shut")}
	s.shutBy = t.shutBy("shut-by")
	falls := r.step(t, "fall-per-hour", alarms.Temperature, 0.5, 100, " an hour")
	s.opening = alarms.HandOpening{ID: alarms.OpeningID(t.name), Name: t.text("name").V, Kind: alarms.OpeningKind(s.kind.V),
		Place: alarms.PlaceID(s.place.V), Probe: alarms.ProbeID(s.probe.V), Inverted: t.flag("inverted").V, ShutBy: s.shutBy.V,
		Falls: falls.V, Priority: t.priority("priority")}
	return s
}

// shutBy reads by when something should be shut: "sunset", "never" or a time from noon on.
func (t *table) shutBy(key string) value[time.Duration] {
	return read(t, key, func(raw any) (time.Duration, string) {
		switch raw {
		case "sunset":
			return 0, ""
		case "never":
			return -1, ""
		}
		s, _ := raw.(string)
		by, ok := clockTime(s)
		if !ok || by < 12*time.Hour || by == day {
			return 0, "must be \"sunset\", \"never\" or a time from \"12:00\" to \"23:59\" (got " + got(raw) + ")"
		}
		return by, ""
	})
}

// checkOpening holds an opening against the places and probes of its house.
func (r *reader) checkOpening(h *houseSite, s *openingSite) {
	if s.place.Set {
		r.checkAired(h, s.place)
	}
	if s.probe.Set {
		if p := r.probeOf(h, s.probe); p != nil {
			if _, ok := p.stream(alarms.Contact); !ok {
				r.problem(s.probe.at, "must measure a contact, which shows whether it is shut (got %q)", s.probe.V)
			}
		}
	}
	for _, before := range h.openings[:slices.Index(h.openings, s)] {
		if s.probe.Set && before.probe.V == s.probe.V {
			r.problem(s.probe.at, "shows opening %s already (line %d): each needs a contact of its own (got %q)", before.t.name, before.t.at.line, s.probe.V)
		}
	}
	if s.shutBy.V == 0 && s.shutBy.Seen == s.shutBy.Set && !h.knowsDay() {
		r.problem(s.t.at, "should be shut by sunset, but the house has neither latitude and longitude nor day-from and day-to: give them, or shut-by = \"19:00\" or \"never\"")
	}
}

// checkAired tells a place that is not there, or at which nobody could tell what
// an open door does.
func (r *reader) checkAired(h *houseSite, name value[string]) {
	p := r.placeOf(h, name.at, name.V)
	if p == nil {
		return
	}
	limits := slices.ContainsFunc(p.bands, func(b *bandSite) bool { return b.q == alarms.Temperature })
	switch {
	case !p.measures(alarms.Temperature):
		r.problem(name.at, "needs a probe that measures temperature there (got %q)", name.V)
	case !limits && !p.crop.Seen:
		r.warn(name.at, "has no limits for temperature, so 5 °C is taken for its low limit, and how fast it cools is not judged (got %q)", name.V)
	}
}
