package config

import (
	"slices"
	"strings"

	"telltale/alarms"
)

// origin is one limit in force and where it comes from.
type origin struct {
	v      float64 // core unit
	set    bool
	at     place  // zero when the crop gives it
	crop   string // the crop that gives it, as said in a sentence
	source string // of the crop's figure
}

// cell is the band of one part of the day and season.
type cell struct {
	when    when
	limits  [4]origin
	band    alarms.Band
	outside value[string]
	t       *table
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
		c.t, c.band, c.outside = t.t, t.band, t.outside
		c.lay(t)
	}
	return out
}

func newCell(t *bandTable, w when) *cell {
	c := &cell{when: w, band: t.band, outside: t.outside, t: t.t}
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
			c.limits[i] = origin{v: l.V, set: true, at: l.at}
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
		case l.set && l.crop == "" && c.outside.Set:
			add("set in the configuration, outside the crop's band: " + c.outside.V)
		case l.set && l.crop == "":
			add("set in the configuration")
		case l.set:
			add(l.crop + ": " + l.source)
		}
	}
	return strings.Join(parts, "; ")
}

// inForce returns the four limits at one time of one season, each from the
// most specific cell that sets it: season and daypart, season, daypart.
func inForce(cells []*cell, w when) [4]origin {
	var out [4]origin
	for _, at := range []when{w, {season: w.season}, {part: w.part}, {}} {
		c := find(cells, at)
		if c == nil {
			continue
		}
		for i, l := range c.limits {
			if l.set && !out[i].set {
				out[i] = l
			}
		}
	}
	return out
}
