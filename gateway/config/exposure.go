package config

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/crop"
)

// exposureSite is one table of an exposure.
type exposureSite struct {
	t        *table
	off      bool
	own      *alarms.Exposure // that the crop has of this name; nil: none
	quantity value[alarms.Quantity]
	plan     alarms.Exposure // what the file says, in the core's unit
	bound    bool            // the file gives a limit
	given    bool            // it gives a time or degree-hours
	resets   bool            // it gives a window, a gap, days or nights
}

// readExposures reads the tables of a place. What they leave out may come from the
// crop, so they are checked later.
func readExposures(t *table, site *placeSite) []*exposureSite {
	var out []*exposureSite
	crops := cropExposures(site)
	for _, one := range t.children("exposure") {
		x := &exposureSite{t: one}
		for i := range crops {
			if string(crops[i].ID) == one.name {
				x.own = &crops[i]
			}
		}
		x.read()
		out = append(out, x)
	}
	return out
}

func (x *exposureSite) read() {
	t := x.t
	defer t.done()
	off := t.flag("off")
	if x.off = off.V; x.off && len(t.keys) > 1 {
		t.problem(off.at, "leaves nothing for the other keys of this table to do: take them out, or off")
	}
	p := &x.plan
	p.ID, p.Says = alarms.ExposureID(t.name), t.text("harm").V
	x.quantity = wordOf(t, "quantity", alarms.Exposed)
	p.Quantity = alarms.Temperature // only to read limits by where it is missing, which is told
	switch {
	case x.quantity.Set:
		p.Quantity = x.quantity.V
	case x.own != nil:
		p.Quantity = x.own.Quantity
	}
	p.When = t.daypart()
	if s := t.texts("seasons"); s.Set {
		p.Seasons = t.seasonsNamed(s)
	}
	readAmount(t, x)
	x.readLimits(p.Quantity)
	p.Morning = t.flag("by-day-only").V
	p.Hold, p.Priority, p.Source = t.span("hold", alarms.LeastExposure, day).V, t.priority("priority"), t.text("source").V
}

func (t *table) daypart() alarms.Daypart {
	var part alarms.Daypart
	if v := t.oneOf("when", "always", "day", "night"); v.Set {
		_ = part.UnmarshalText([]byte(v.V)) // oneOf has checked it
	}
	return part
}

func (t *table) seasonsNamed(names value[[]string]) []alarms.Season {
	var out []alarms.Season
	for _, n := range names.V {
		if !slices.Contains(alarms.Seasons, alarms.Season(n)) {
			t.problem(names.at, "must name seasons, %s (got %q)", alarms.Either(alarms.Seasons), n)
			continue
		}
		out = append(out, alarms.Season(n))
	}
	return out
}

// readAmount reads how much is too much and what begins again.
func readAmount(t *table, x *exposureSite) {
	p := &x.plan
	long := t.span("for", alarms.LeastExposure, alarms.MostExposure)
	dose := t.number("degree-hours", t.r.scale.stepFrom(alarms.Temperature, alarms.LeastDose), t.r.scale.stepFrom(alarms.Temperature, alarms.MostDose),
		t.r.scale.stepUnit(alarms.Temperature)+" h")
	x.given = long.Seen || dose.Seen
	p.Time, p.DegreeHours = long.V, t.r.scale.stepInto(alarms.Temperature, dose.V)
	within, gap := t.span("within", alarms.LeastExposure, alarms.MostExposure), t.span("gap", alarms.LeastExposure, alarms.MostExposure)
	days, nights := t.count("days-running", 1, alarms.MostInRow), t.count("nights-running", 1, alarms.MostInRow)
	p.Window, p.Gap, p.Days, p.Nights = within.V, gap.V, days.V, nights.V
	x.resets = within.Seen || gap.Seen || days.Seen || nights.Seen
}

// readLimits reads the limit of q and what must hold too.
func (x *exposureSite) readLimits(q alarms.Quantity) {
	t, p, f := x.t, &x.plan, q.Facts()
	for _, one := range []struct {
		key  string
		into *alarms.Limit
	}{{"above", &p.Above}, {"below", &p.Below}, {"at-least", &p.AtLeast}, {"at-most", &p.AtMost}} {
		v := t.amount(one.key, q, f.Lowest, f.Highest)
		x.bound = x.bound || v.Seen
		*one.into = limit(v)
	}
	readWhile(t, p)
}

func readWhile(t *table, p *alarms.Exposure) {
	w := t.table("while")
	if !w.seen {
		return
	}
	defer w.done()
	other := need(w, wordOf(w, "quantity", alarms.Exposed), "say what must hold too, for example quantity = \"temperature\"")
	p.While = other.V
	f := p.While.Facts()
	p.WhileLow, p.WhileHigh = limit(w.amount("from", p.While, f.Lowest, f.Highest)), limit(w.amount("to", p.While, f.Lowest, f.Highest))
}

// cropExposure is x as a plan wants it.
func cropExposure(x crop.Exposure) alarms.Exposure {
	p := alarms.Exposure{ID: alarms.ExposureID(x.Name), Says: string(x.Says), Quantity: alarms.Quantity(x.Quantity),
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
