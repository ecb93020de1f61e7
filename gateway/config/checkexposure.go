package config

import (
	"telltale/alarms"
	"telltale/alarms/crop"
)

// finishExposures merges what the file says with what the crop says, checks it
// and hands it over.
func (r *reader) finishExposures(p *placeSite) {
	given := map[alarms.ExposureID]bool{}
	for _, x := range p.exposures {
		given[x.plan.ID] = true
	}
	for _, own := range cropExposures(p) {
		if !given[own.ID] && p.sees(own.Quantity) && (own.While == "" || p.sees(own.While)) {
			p.place.Exposures = append(p.place.Exposures, own)
		}
	}
	for _, x := range p.exposures {
		r.finishExposure(p, x)
	}
}

func cropExposures(p *placeSite) []alarms.Exposure {
	c, ok := crop.Lookup(p.crop.V)
	if !p.crop.Set || !ok {
		return nil
	}
	var out []alarms.Exposure
	for _, x := range c.Exposures() {
		out = append(out, cropExposure(x))
	}
	return out
}

// finishExposure lays x over what the crop has of that name.
func (r *reader) finishExposure(p *placeSite, x *exposureSite) {
	if x.off {
		if x.own == nil {
			r.problem(x.t.at, "is switched off, but the crop of this place has no exposure of that name%s", meant(x.t.name, namesOf(cropExposures(p))))
		}
		return
	}
	merged := x.merged()
	if x.own == nil {
		r.checkWhole(p, x)
	}
	r.checkExposure(p, x, merged)
	if l := x.bound; l.Set {
		l.V = r.scale.into(merged.Quantity, l.V)
		r.unreachable(p, merged.Quantity, l, func(lo, hi float64) bool {
			return merged.Above.Set && hi <= l.V || merged.AtLeast.Set && hi < l.V ||
				merged.Below.Set && lo >= l.V || merged.AtMost.Set && lo > l.V
		})
	}
	p.place.Exposures = append(p.place.Exposures, merged)
}

func namesOf(all []alarms.Exposure) []string {
	var out []string
	for _, x := range all {
		out = append(out, string(x.ID))
	}
	return out
}

// merged lays what the file says over what the crop says.
func (x *exposureSite) merged() alarms.Exposure {
	p, base := x.plan, alarms.Exposure{ID: x.plan.ID}
	if x.own != nil {
		base = *x.own
	}
	base.Quantity = p.Quantity
	if p.Says != "" {
		base.Says = p.Says
	}
	if x.bound.Seen {
		base.Above, base.Below, base.AtLeast, base.AtMost = p.Above, p.Below, p.AtLeast, p.AtMost
	}
	if x.t.has("when") {
		base.When = p.When
	}
	if x.t.has("by-day-only") {
		base.Morning = p.Morning
	}
	if p.Seasons != nil {
		base.Seasons = p.Seasons
	}
	if p.While != "" {
		base.While, base.WhileLow, base.WhileHigh = p.While, p.WhileLow, p.WhileHigh
	}
	if x.given {
		base.Time, base.DegreeHours = p.Time, p.DegreeHours
	}
	if x.resets > 0 {
		base.Window, base.Gap, base.Days, base.Nights = p.Window, p.Gap, p.Days, p.Nights
	}
	if p.Hold > 0 {
		base.Hold = p.Hold
	}
	if p.Priority != alarms.NoPriority {
		base.Priority = p.Priority
	}
	switch {
	case p.Source != "":
		base.Source = p.Source
	case base.Source == "":
		base.Source = "set in the configuration"
	case x.bound.Seen || x.given || x.resets > 0 || p.While != "":
		base.Source = "changed in the configuration; before that, " + base.Source
	}
	return base
}

// checkWhole tells what an exposure that no crop brings still needs.
func (r *reader) checkWhole(p *placeSite, x *exposureSite) {
	hint := meant(x.t.name, namesOf(cropExposures(p)))
	if !x.quantity.Seen {
		r.problem(x.t.spot("quantity"), "is missing: say what the plants are exposed to, for example quantity = \"temperature\"%s", hint)
	}
	if !x.bound.Seen {
		r.problem(x.t.at, "has no limit: give above, below, at-least or at-most%s", hint)
	}
	if !x.given {
		r.problem(x.t.spot("for"), "is missing: say how long does harm, for example for = \"3h\", or give degree-hours%s", hint)
	}
	if x.resets == 0 {
		r.problem(x.t.at, "never begins anew: give within, gap, days-running or nights-running%s", hint)
	}
	if !x.t.has("harm") {
		r.problem(x.t.spot("harm"), "is missing: say what it does, for example harm = \"tomato fruit set is failing\"%s", hint)
	}
}

// checkExposure tells what cannot be counted.
func (r *reader) checkExposure(p *placeSite, x *exposureSite, m alarms.Exposure) {
	if m.Window > 0 && m.Time > m.Window {
		r.problem(x.reset, "must not be shorter than the time that does harm (got %s, that is %s)", span(m.Window), span(m.Time))
	}
	if m.DegreeHours > 0 && !absolute(m.Quantity) {
		r.problem(x.t.spot("degree-hours"), "are for temperature, surface and soil (the quantity is %s)", m.Quantity)
	}
	if m.Nights > 0 && m.When == alarms.Day {
		r.problem(x.reset, "cannot be reached by what counts by day only: leave out when, or give days-running")
	}
	if (m.Nights > 0 || m.When != alarms.Always || x.t.has("by-day-only") && m.Morning) && !p.house.knowsDay() {
		r.problem(x.t.at, "counts by day or night, but the house cannot tell them apart: give it latitude and longitude, or day-from and day-to")
	}
	for _, q := range []alarms.Quantity{m.Quantity, m.While} {
		if q != "" && !p.sees(q) {
			r.problem(x.t.at, "rests on %s, which no probe of this place gives%s", q, p.derivedFrom(q))
		}
	}
	for _, probe := range p.probes {
		if every := probe.probe.Every; m.Hold > 0 && every > m.Hold {
			r.problem(x.hold.at, "must not be shorter than the interval of probe %s, or most of the time would count as unknown (got %s, the interval is %s)",
				probe.probe.ID, span(m.Hold), span(every))
		}
	}
}

// derivedFrom says what q is worked out from.
func (p *placeSite) derivedFrom(q alarms.Quantity) string {
	if q.Derived() {
		return "; it is worked out from temperature and humidity"
	}
	return ""
}
