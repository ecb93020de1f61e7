package config

import (
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/crop"
	"telltale/alarms/tongue"
)

// cropBand is what a crop asks for by day, by night or always.
type cropBand struct {
	q      alarms.Quantity
	part   alarms.Daypart
	limits [4]origin // low-low, low, high, high-high
}

// cropBands looks up the crop of a place.
func (p *placeSite) cropBands() []cropBand {
	if !p.crop.Set {
		return nil
	}
	c, ok := crop.Lookup(p.crop.V)
	if !ok {
		hint := Meant(p.crop.V, crop.Names())
		if hint.Empty() {
			hint = tongue.Put("; known are %s", strings.Join(crop.Names(), ", "))
		}
		p.t.problem(p.crop.at, "is no crop with known limits (got %q)%s", p.crop.V, hint)
		return nil
	}
	if !p.place.Sees(alarms.Temperature) && len(p.probes) > 0 {
		p.t.problem(p.crop.at, "has limits for temperature, but no probe of this place measures it")
	}
	return []cropBand{
		cropBandOf(c, alarms.Temperature, alarms.Day, c.Day),
		cropBandOf(c, alarms.Temperature, alarms.Night, c.Night),
	}
}

func cropBandOf(c crop.Crop, q alarms.Quantity, part alarms.Daypart, l crop.Limits) cropBand {
	out := cropBand{q: q, part: part}
	for i, f := range [4]crop.Figure{l.LowLow, l.Low, l.High, l.HighHigh} {
		if f.Known() {
			out.limits[i] = origin{v: f.Value, set: true, crop: c.Plain, source: cite(f)}
		}
	}
	return out
}

// cite names the source of a figure and how far it can be trusted.
func cite(f crop.Figure) string {
	if f.Mark == crop.Memory && !strings.Contains(strings.ToLower(f.Source), "memory") {
		return f.Source + " (from memory)"
	}
	return f.Source
}

// cropOf picks the bands of one quantity that have limits.
func cropOf(all []cropBand, q alarms.Quantity) []cropBand {
	var out []cropBand
	for _, c := range all {
		if c.q == q && c.limits != [4]origin{} {
			out = append(out, c)
		}
	}
	return out
}

// checkCrop tells limits of the file that lie outside what the crop stands,
// unless the table gives the reason under outside-crop.
func (site *bandSite) checkCrop(crop []cropBand) {
	for _, t := range site.tables {
		if t.outside.Set {
			continue
		}
		for i, l := range t.limits {
			if l.Set {
				site.checkCropLimit(t, i, l, crop)
			}
		}
	}
}

func (site *bandSite) checkCropLimit(t *bandTable, i int, l value[float64], crop []cropBand) {
	for _, c := range crop {
		if !t.holdsIn(site, c.part, i) {
			continue
		}
		lo, hi := c.limits[0], c.limits[3]
		switch {
		case lo.set && l.V < lo.v:
			site.outsideCrop("is below what %s (got %s, its %s is %s); if you mean it, say why with outside-crop = \"...\"", l, c, lo, limitKeys[0])
		case hi.set && l.V > hi.v:
			site.outsideCrop("is above what %s (got %s, its %s is %s); if you mean it, say why with outside-crop = \"...\"", l, c, hi, limitKeys[3])
		default:
			continue
		}
		return
	}
}

// holdsIn reports whether limit i of t holds in part: it does not when the
// season's own table for that part gives the limit itself.
func (t *bandTable) holdsIn(site *bandSite, part alarms.Daypart, i int) bool {
	if part == alarms.Always || t.when.part != alarms.Always {
		return part == alarms.Always || t.when.part == part
	}
	return !slices.ContainsFunc(site.tables, func(other *bandTable) bool {
		return other.when == when{t.when.season, part} && other.limits[i].Set
	})
}

func (site *bandSite) outsideCrop(text tongue.Text, l value[float64], c cropBand, bound origin, name string) {
	stands := tongue.Put(map[alarms.Daypart]tongue.Text{alarms.Always: "%s stands", alarms.Day: "%s stands by day", alarms.Night: "%s stands by night"}[c.part], bound.crop)
	site.t.problem(l.at, text, stands, site.t.r.sayUnit(site.q, l.V), name, site.t.r.sayUnit(site.q, bound.v))
}
