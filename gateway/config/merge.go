package config

import (
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// origin is one limit in force and where it comes from.
type origin struct {
	v      float64 // core unit
	set    bool
	inner  string // path in the file; empty when the crop gives it
	crop   string // the crop that gives it, as said in a sentence
	source string // of the crop's figure
}

// cell is the band of one part of the day and season.
type cell struct {
	when   when
	limits [4]origin
	band   alarms.Band
	from   *bandTable
}

// cells merges the crop's bands with the file's tables. What the file says
// goes before what the crop says: a limit given for all day replaces the
// crop's by day and by night.
func (b *bandSite) cells(crop []cropBand) []*cell {
	base := b.tables[0]
	out := []*cell{newCell(base, when{})}
	for _, c := range crop {
		one := cellAt(&out, base, when{part: c.part})
		one.limits = c.limits
	}
	for _, c := range out {
		c.lay(base)
	}
	for _, t := range b.tables[1:] {
		c := cellAt(&out, t, t.when)
		c.from, c.band = t, t.band
		c.lay(t)
	}
	return out
}

func newCell(t *bandTable, w when) *cell {
	c := &cell{when: w, band: t.band, from: t}
	c.band.When = w.part
	return c
}

// cellAt finds or adds the cell of w.
func cellAt(cells *[]*cell, t *bandTable, w when) *cell {
	if c := find(*cells, w); c != nil {
		return c
	}
	c := newCell(t, w)
	*cells = append(*cells, c)
	return c
}

func find(cells []*cell, w when) *cell {
	for _, c := range cells {
		if c.when == w {
			return c
		}
	}
	return nil
}

// lay puts the limits of a table over those of c.
func (c *cell) lay(t *bandTable) {
	for i, l := range t.limits {
		if l.Set {
			c.limits[i] = origin{v: l.V, set: true, inner: inner(t.t.inner, limitKeys[i])}
		}
	}
}

// plan returns the band of c as the core wants it; ok is false when it sets no
// limit.
func (c *cell) plan() (band alarms.Band, ok bool) {
	band = c.band
	for i, into := range []*alarms.Limit{&band.LowLow, &band.Low, &band.High, &band.HighHigh} {
		o := c.limits[i]
		*into = alarms.Limit{Value: o.v, Set: o.set}
		ok = ok || o.set
	}
	band.Source = c.source()
	return band, ok
}

// source says where the figures of c come from.
func (c *cell) source() string {
	var parts []string
	add := func(s string) {
		if !slices.Contains(parts, s) {
			parts = append(parts, s)
		}
	}
	for _, l := range c.limits {
		switch {
		case l.set && l.crop == "" && c.from.outside.Set:
			add("set in the configuration, outside the crop's band: " + c.from.outside.V)
		case l.set && l.crop == "":
			add("set in the configuration")
		case l.set:
			add(l.crop + ": " + l.source)
		}
	}
	return strings.Join(parts, "; ")
}

// moves notes where in the file stands what the band of c says.
func (p *placeSite) moves(c *cell) {
	at := inner(p.t.inner, string(c.band.Quantity))
	if c.when.season != "" {
		at = inner(at, string(c.when.season))
	}
	if c.when.part != alarms.Always {
		at = inner(at, c.when.part.String())
	}
	for i, l := range c.limits {
		to := moved{inner: l.inner}
		if l.crop != "" {
			to = moved{inner(p.t.inner, "crop"), tongue.Put(map[alarms.Daypart]tongue.Text{alarms.Day: "by day for %s", alarms.Night: "by night for %s"}[c.when.part], l.crop)}
		}
		p.t.r.moved[inner(at, limitKeys[i])] = to
	}
	p.t.r.moved[inner(at, "deadband")] = moved{inner: inner(c.from.t.inner, "deadband")}
	for _, key := range []string{"delay", "quick-delay"} {
		from := c.from
		for from.parent != nil && !from.t.has(key) {
			from = from.parent
		}
		if !from.t.has(key) {
			from = c.from
		}
		p.t.r.moved[inner(at, key)] = moved{inner: inner(from.t.inner, key)}
	}
}

// finishBands merges, checks and hands over the bands and rates of a place.
func (p *placeSite) finishBands() {
	crops := p.cropBands()
	for _, q := range alarms.Quantities {
		site := p.site(q)
		own := cropOf(crops, q)
		switch {
		case site == nil && (len(own) == 0 || !p.place.Sees(q)):
			continue
		case site == nil:
			site = &bandSite{q: q, t: p.t, tables: []*bandTable{{t: p.t, band: alarms.Band{Quantity: q}}}}
		}
		site.checkCrop(own)
		for _, c := range site.cells(own) {
			if band, ok := c.plan(); ok {
				p.moves(c)
				p.place.Bands = append(p.place.Bands, band)
			}
		}
		if site.rate.seen {
			p.place.Rates = append(p.place.Rates, site.rate.limit)
		}
	}
	if turns := func(b alarms.Band) bool { return b.When != alarms.Always }; !p.house.knowsDay() && slices.ContainsFunc(p.place.Bands, turns) {
		p.t.problem(p.house.t.at, "cannot tell day from night, yet has limits for them: give latitude and longitude, or day-from and day-to")
	}
}

func (p *placeSite) site(q alarms.Quantity) *bandSite {
	for _, b := range p.bands {
		if b.q == q {
			return b
		}
	}
	return nil
}
