package alarms

import "slices"

// Near is a limit of a temperature that a thermostat keeps too little away from: by its
// tolerance it may switch on only when the limit is reached. Then the house reaches it
// while all works as it should, and no warning can come in time.
type Near struct {
	Control ControlID
	Stage   string
	Side    Side
	Latest  float64 // °C, at which it may still switch on
	Limit   float64 // °C
}

// Near is what of p, a place of h, is so near in a season, by day or by night. Of several
// stages the one counts that helps first. h must be filled, see Plan.Filled.
func (h *House) Near(p *Place, season Season, part Daypart) (all []Near) {
	band, _ := p.InForce(Temperature, season, part)
	for _, side := range []Side{LowSide, HighSide} {
		limit := band.First(side)
		if near, ok := h.switchesOn(p, side, season, part); ok && limit.Set && side.Sign()*near.Latest >= side.Sign()*limit.Value {
			near.Limit = limit.Value
			all = append(all, near)
		}
	}
	return all
}

// switchesOn is what switches on first at p against a side, and when at the latest.
func (h *House) switchesOn(p *Place, side Side, season Season, part Daypart) (first Near, ok bool) {
	against := Heating
	if side == HighSide {
		against = Cooling
	}
	for i := range h.Controls {
		for k := range h.Controls[i].Stages {
			s := &h.Controls[i].Stages[k]
			if h.Controls[i].Place != p.ID || s.Mode != against || len(s.Seasons) > 0 && !slices.Contains(s.Seasons, season) {
				continue
			}
			latest := s.At(part == Night) + side.Sign()*s.Tolerance
			if !ok || side.Sign()*latest < side.Sign()*first.Latest {
				first, ok = Near{Control: h.Controls[i].ID, Stage: s.Name, Side: side, Latest: latest}, true
			}
		}
	}
	return first, ok
}

// At is the limit of l on a side that raises its alarm to a level.
func (l Limits) At(side Side, level Level) Limit {
	switch {
	case side == LowSide && level == Inner:
		return l.LowLow
	case side == LowSide:
		return l.Low
	case level == Inner:
		return l.HighHigh
	}
	return l.High
}

// First is the limit of l on a side that a value passes first.
func (l Limits) First(side Side) Limit {
	if first := l.At(side, Outer); first.Set {
		return first
	}
	return l.At(side, Inner)
}
