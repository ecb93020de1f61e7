package config

import (
	"strings"

	"telltale/alarms"
	"telltale/alarms/crop"
)

// cropBand is what a crop asks for by day, by night or always.
type cropBand struct {
	q      alarms.Quantity
	part   alarms.Daypart
	limits [4]origin // low-low, low, high, high-high
}

// cropBands looks up the crop of a place.
func (r *reader) cropBands(p *placeSite) []cropBand {
	if !p.crop.Set {
		return nil
	}
	c, ok := crop.Lookup(p.crop.V)
	if !ok {
		hint := meant(p.crop.V, crop.Names())
		if hint == "" {
			hint = "; known are " + strings.Join(crop.Names(), ", ")
		}
		r.problem(p.crop.at, "is no crop with known limits (got %q)%s", p.crop.V, hint)
		return nil
	}
	if !p.measures(alarms.Temperature) && len(p.probes) > 0 {
		r.problem(p.crop.at, "has limits for temperature, but no probe of this place measures it")
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
