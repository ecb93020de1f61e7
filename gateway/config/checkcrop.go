package config

import (
	"telltale/alarms"
)

// checkCrop tells limits of the file that lie outside what the crop stands,
// unless the table gives the reason under outside-crop.
func (r *reader) checkCrop(site *bandSite, crop []cropBand) {
	for _, t := range site.tables {
		if t.outside.Set {
			continue
		}
		for i, l := range t.limits {
			if l.Set {
				r.checkCropLimit(site, t, i, l, crop)
			}
		}
	}
}

func (r *reader) checkCropLimit(site *bandSite, t *bandTable, i int, l value[float64], crop []cropBand) {
	for _, c := range crop {
		if !t.holdsIn(site, c.part, i) {
			continue
		}
		lo, hi := c.limits[0], c.limits[3]
		switch {
		case lo.set && l.V < lo.v:
			r.outsideCrop(site.q, l, "below", c, lo, limitKeys[0])
		case hi.set && l.V > hi.v:
			r.outsideCrop(site.q, l, "above", c, hi, limitKeys[3])
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
	for _, other := range site.tables {
		if other.when == (when{t.when.season, part}) && other.limits[i].Set {
			return false
		}
	}
	return true
}

func (r *reader) outsideCrop(q alarms.Quantity, l value[float64], side string, c cropBand, bound origin, name string) {
	by := ""
	if c.part != alarms.Always {
		by = " by " + c.part.String()
	}
	r.problem(l.at, "is %s what %s stands%s (got %s, its %s is %s); if you mean it, say why with outside-crop = \"...\"",
		side, bound.crop, by, r.sayUnit(q, l.V), name, r.sayUnit(q, bound.v))
}
