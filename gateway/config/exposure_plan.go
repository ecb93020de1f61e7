package config

import (
	"telltale/alarms"
	"telltale/alarms/crop"
	"telltale/alarms/walk"
)

// finishExposures merges what the file says with what the crop says, checks it
// and hands it over.
func (p *placeSite) finishExposures() {
	given := map[alarms.ExposureID]bool{}
	for _, x := range p.exposures {
		given[x.plan.ID] = true
	}
	for _, own := range cropExposures(p) {
		if !given[own.ID] && p.place.Sees(own.Quantity) && (own.While == "" || p.place.Sees(own.While)) {
			p.place.Exposures = append(p.place.Exposures, own)
		}
	}
	for _, x := range p.exposures {
		p.finishExposure(x)
	}
}

func cropExposures(p *placeSite) []alarms.Exposure {
	if !p.crop.Set {
		return nil
	}
	c, ok := crop.Lookup(p.crop.V)
	if !ok {
		return nil
	}
	return walk.Each(c.Exposures(), cropExposure)
}

// finishExposure lays x over what the crop has of that name.
func (p *placeSite) finishExposure(x *exposureSite) {
	if x.off {
		if x.own == nil {
			p.t.problem(x.t.at, "is switched off, but the crop of this place has no exposure of that name%s", Meant(x.t.name, namesOf(cropExposures(p))))
		}
		return
	}
	merged := x.merged()
	if hint := Meant(x.t.name, namesOf(cropExposures(p))); x.own == nil && !hint.Empty() && !(x.bound && x.given) {
		p.t.problem(x.t.at, "is no exposure of the crop of this place%s", hint)
	}
	if (merged.Nights > 0 || merged.When != alarms.Always || x.t.has("by-day-only") && merged.Morning) && !p.house.knowsDay() {
		p.t.problem(x.t.at, "counts by day or night, but the house cannot tell them apart: give it latitude and longitude, or day-from and day-to")
	}
	p.place.Exposures = append(p.place.Exposures, merged)
}

func namesOf(all []alarms.Exposure) []string {
	return walk.Each(all, func(x alarms.Exposure) string { return string(x.ID) })
}

// merged lays what the file says over what the crop says.
func (x *exposureSite) merged() alarms.Exposure {
	p, base := x.plan, alarms.Exposure{ID: x.plan.ID}
	if x.own != nil {
		base = *x.own
	}
	if base.Quantity = p.Quantity; x.own == nil && !x.quantity.Seen {
		base.Quantity = "" // which the core tells
	}
	if p.Says != "" {
		base.Says = p.Says
	}
	if x.bound {
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
	if x.resets {
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
	case x.bound || x.given || x.resets || p.While != "":
		base.Source = "changed in the configuration; before that, " + base.Source
	}
	return base
}
