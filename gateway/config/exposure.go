package config

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/crop"
)

// exposureSite is one table of an exposure.
type exposureSite struct {
	t        *table
	off      bool
	own      *alarms.Exposure // that the crop has of this name; nil: none
	quantity value[string]
	plan     alarms.Exposure // what the file says, in the core's unit
	bound    value[float64]  // the one limit given
	given    bool            // the file gives a time or degree-hours
	reset    place           // of the window, gap, days or nights
	resets   int             // how many of them the file gives
	hold     value[time.Duration]
}

// Bounds of every length of time of an exposure.
const leastExposure, mostExposure = time.Minute, 7 * day

// exposures reads the tables of a place. What they leave out may come from the
// crop, so they are checked later.
func (r *reader) exposures(t *table, site *placeSite) []*exposureSite {
	var out []*exposureSite
	crops := cropExposures(site)
	for _, one := range t.children("exposure") {
		x := &exposureSite{t: one}
		for i := range crops {
			if string(crops[i].ID) == one.name {
				x.own = &crops[i]
			}
		}
		r.exposure(x)
		out = append(out, x)
	}
	return out
}

func (r *reader) exposure(x *exposureSite) {
	t := x.t
	defer t.done()
	if !wordsAndHyphens(t.name) {
		r.problem(t.at, "the name of an exposure must be lower-case words joined by hyphens, such as \"fruit-set\" (got %q)", t.name)
	}
	off := t.flag("off")
	if x.off = off.V; x.off && len(t.keys) > 1 {
		r.problem(off.at, "leaves nothing for the other keys of this table to do: take them out, or off")
	}
	p := &x.plan
	p.ID, p.Says = alarms.ExposureID(t.name), t.text("harm").V
	x.quantity = t.oneOf("quantity", exposable...)
	p.Quantity = alarms.Temperature // only to read limits by where it is missing, which is told
	switch {
	case x.quantity.Set:
		p.Quantity = alarms.Quantity(x.quantity.V)
	case x.own != nil:
		p.Quantity = x.own.Quantity
	}
	p.When = r.whenKey(t)
	if s := t.texts("seasons"); s.Set {
		p.Seasons = r.seasonsOf(s)
	}
	r.exposureAmount(t, x)
	r.exposureLimits(x, p.Quantity)
	x.hold = t.span("hold", leastExposure, day)
	p.Morning = t.flag("by-day-only").V
	p.Hold, p.Priority, p.Source = x.hold.V, t.priority("priority"), t.text("source").V
}

// exposable are the quantities that a plant can be exposed to.
var exposable = []string{"temperature", "humidity", "surface", "soil", "vpd", "dew-margin"}

func (r *reader) whenKey(t *table) alarms.Daypart {
	var part alarms.Daypart
	if v := t.oneOf("when", "always", "day", "night"); v.Set {
		_ = part.UnmarshalText([]byte(v.V)) // oneOf has checked it
	}
	return part
}

func (r *reader) seasonsOf(names value[[]string]) []alarms.Season {
	var out []alarms.Season
	for _, n := range names.V {
		if !slices.Contains(seasonNames(), n) {
			r.problem(names.at, "must name seasons, %s (got %q)", either(seasonNames()), n)
			continue
		}
		out = append(out, alarms.Season(n))
	}
	return out
}

// exposureAmount reads how much is too much and what begins anew.
func (r *reader) exposureAmount(t *table, x *exposureSite) {
	p := &x.plan
	long := t.span("for", leastExposure, mostExposure)
	dose := t.number("degree-hours", r.scale.stepFrom(alarms.Temperature, 0.1), r.scale.stepFrom(alarms.Temperature, 16000),
		r.scale.stepUnit(alarms.Temperature)+" h")
	x.given = long.Seen || dose.Seen
	p.Time, p.DegreeHours = long.V, r.scale.stepInto(alarms.Temperature, dose.V)
	if long.Seen && dose.Seen {
		r.problem(dose.at, "give a time or degree-hours, not both (\"for\" is in line %d)", long.at.line)
	}
	within, gap := t.span("within", leastExposure, mostExposure), t.span("gap", leastExposure, mostExposure)
	days, nights := t.count("days-running", 1, 30), t.count("nights-running", 1, 30)
	p.Window, p.Gap, p.Days, p.Nights = within.V, gap.V, days.V, nights.V
	x.reset = t.at
	for _, one := range []struct {
		seen bool
		at   place
	}{{within.Seen, within.at}, {gap.Seen, gap.at}, {days.Seen, days.at}, {nights.Seen, nights.at}} {
		if one.seen {
			x.resets++
			x.reset = one.at
		}
	}
	if x.resets > 1 {
		r.problem(x.reset, "give one of within, gap, days-running and nights-running, not several")
	}
}

// exposureLimits reads the limit of q and what must hold too.
func (r *reader) exposureLimits(x *exposureSite, q alarms.Quantity) {
	t, p, f := x.t, &x.plan, quantityFacts[q]
	for _, one := range []struct {
		key  string
		into *alarms.Limit
	}{{"above", &p.Above}, {"below", &p.Below}, {"at-least", &p.AtLeast}, {"at-most", &p.AtMost}} {
		v := t.number(one.key, r.scale.from(q, f.lo), r.scale.from(q, f.hi), r.scale.unit(q))
		switch {
		case v.Seen && x.bound.Seen:
			r.problem(v.at, "give one of above, below, at-least and at-most, not several (another is in line %d)", x.bound.at.line)
			continue
		case v.Seen:
			x.bound = v
		}
		*one.into = limit(v)
		one.into.Value = r.scale.into(q, v.V)
	}
	r.exposureWhile(t, p, q)
}

func (r *reader) exposureWhile(t *table, p *alarms.Exposure, q alarms.Quantity) {
	w := t.table("while")
	if !w.seen {
		return
	}
	defer w.done()
	other := need(w, w.oneOf("quantity", exposable...), "say what must hold too, for example quantity = \"temperature\"")
	p.While = alarms.Quantity(other.V)
	f := quantityFacts[p.While]
	from := w.number("from", r.scale.from(p.While, f.lo), r.scale.from(p.While, f.hi), r.scale.unit(p.While))
	to := w.number("to", r.scale.from(p.While, f.lo), r.scale.from(p.While, f.hi), r.scale.unit(p.While))
	p.WhileLow, p.WhileHigh = limit(from), limit(to)
	p.WhileLow.Value, p.WhileHigh.Value = r.scale.into(p.While, from.V), r.scale.into(p.While, to.V)
	switch {
	case other.Set && p.While == q:
		r.problem(other.at, "must be another quantity than that of the exposure (got %q twice)", other.V)
	case !from.Seen && !to.Seen:
		r.problem(w.at, "sets no bounds: give from, to or both")
	case from.Set && to.Set && from.V > to.V:
		r.problem(to.at, "must not be below from (got %s, from is %s)", figure(to.V), figure(from.V))
	}
}

// cropExposure is x as a plan wants it.
func cropExposure(x crop.Exposure) alarms.Exposure {
	p := alarms.Exposure{ID: alarms.ExposureID(x.Name), Says: x.Says, Quantity: alarms.Quantity(x.Quantity),
		Time: x.Lasting.Value, Window: x.Window.Value, Gap: x.Gap.Value, Days: x.Days.Value, Nights: x.Nights.Value,
		Priority: map[crop.Urgency]alarms.Priority{crop.Mild: alarms.Low, crop.Serious: alarms.Medium, crop.Grave: alarms.High}[x.Urgency],
		Source:   citeExposure(x)}
	*map[crop.Bound]*alarms.Limit{crop.Above: &p.Above, crop.Below: &p.Below, crop.AtLeast: &p.AtLeast, crop.AtMost: &p.AtMost}[x.Bound] = alarms.At(x.Limit.Value)
	p.Morning = x.Morning
	if x.Night {
		p.When = alarms.Night
	}
	if x.WhileLow.Known() || x.WhileHigh.Known() {
		p.While = alarms.Temperature
		p.WhileLow = alarms.Limit{Value: x.WhileLow.Value, Set: x.WhileLow.Known()}
		p.WhileHigh = alarms.Limit{Value: x.WhileHigh.Value, Set: x.WhileHigh.Known()}
	}
	return p
}

// citeExposure names the sources of an exposure, each with what is from it.
func citeExposure(x crop.Exposure) string {
	s := "limit: " + cite(x.Limit)
	for _, one := range []struct {
		what, source string
		mark         crop.Mark
		set          bool
	}{{"time", x.Lasting.Source, x.Lasting.Mark, true}, {"window", x.Window.Source, x.Window.Mark, x.Window.Value > 0},
		{"gap", x.Gap.Source, x.Gap.Mark, x.Gap.Value > 0}, {"days", x.Days.Source, x.Days.Mark, x.Days.Value > 0},
		{"nights", x.Nights.Source, x.Nights.Mark, x.Nights.Value > 0}} {
		if one.set {
			s += "; " + one.what + ": "
			if one.mark == crop.Derived {
				s += "worked out from "
			}
			s += cite(crop.Figure{Source: one.source, Mark: one.mark})
		}
	}
	return s
}
