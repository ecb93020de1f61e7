package config

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// openingSite is a door, a window or a lid.
type openingSite struct {
	t            *table
	opening      alarms.HandOpening
	place, probe value[string]
	shutBy       value[time.Duration]
}

func readOpening(t *table) *openingSite {
	defer t.done()
	kind := need(t, wordOf(t, "kind", alarms.OpeningKinds), "say what it is: %s", alarms.Either(alarms.OpeningKinds))
	s := &openingSite{t: t,
		place: need(t, t.text("place"), "name the place that it lets the air of outside in to, for example \"bench\""),
		probe: need(t, t.text("probe"), "name the probe whose contact shows whether it is shut")}
	s.shutBy = t.shutBy("shut-by")
	falls := t.step("fall-per-hour", alarms.Temperature, alarms.LeastFalls, alarms.MostFalls, "%s an hour")
	s.opening = alarms.HandOpening{ID: alarms.OpeningID(t.name), Name: t.text("name").V, Kind: kind.V,
		Place: alarms.PlaceID(s.place.V), Probe: alarms.ProbeID(s.probe.V), Inverted: t.flag("inverted").V, ShutBy: s.shutBy.V,
		Falls: falls.V, Priority: t.priority("priority")}
	return s
}

// shutBy reads by when something should be shut: "sunset", "never" or a time from noon on.
func (t *table) shutBy(key string) value[time.Duration] {
	return read(t, key, func(raw any) (time.Duration, error) {
		switch raw {
		case "sunset":
			return 0, nil
		case "never":
			return -1, nil
		}
		s, _ := raw.(string)
		by, ok := clockTime(s)
		if !ok || by < alarms.EarliestShutBy || by == day {
			return 0, tongue.Put("must be \"sunset\", \"never\" or a time from \"12:00\" to \"23:59\" (got %s)", got(raw))
		}
		return by, nil
	})
}

// checkOpening tells an opening of which nobody could say when it should be shut, and
// warns of one that is judged by little.
func (h *houseSite) checkOpening(s *openingSite) {
	for _, p := range h.places {
		limits := slices.ContainsFunc(p.bands, func(b *bandSite) bool { return b.q == alarms.Temperature })
		if s.place.Set && p.t.name == s.place.V && p.place.Sees(alarms.Temperature) && !limits && !p.crop.Seen {
			s.t.warn(s.place.at, "has no limits for temperature, so 5 °C is taken for its low limit, and how fast it cools is not judged (got %q)", s.place.V)
		}
	}
	if s.shutBy.V == 0 && s.shutBy.Seen == s.shutBy.Set && !h.knowsDay() {
		s.t.problem(s.t.at, "should be shut by sunset, but the house has neither latitude and longitude nor day-from and day-to: give them, or shut-by = \"19:00\" or \"never\"")
	}
}
