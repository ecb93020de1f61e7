package words

import (
	"math"

	"telltale/alarms"
)

// Standing is how a value stands to its band, for the eye and in words.
type Standing struct {
	Mark  string // "well", "near", "beyond", "far-beyond", "old" or "none": one shape each
	Words string
}

// Stand says how p stands to its limits. The level is the core's; the page
// only adds how far it is to the nearest limit.
func (w Words) Stand(p alarms.PointPicture) Standing {
	switch {
	case !p.HasValue:
		return Standing{"none", "nothing heard yet"}
	case !p.Live:
		return Standing{"old", w.Band(p.Quantity, p.Limits)} // not judged: it is not of now
	case p.Level != alarms.Within:
		return w.beyond(p)
	case !AnyLimit(p.Limits):
		return Standing{"none", "no band set"}
	}
	in := "in " + w.Band(p.Quantity, p.Limits)
	if room, name, ok := nearest(p); ok && room <= p.Quantity.Facts().Near {
		if room <= 0 {
			return Standing{"near", in + ", on the " + name + " limit"}
		}
		verb := " below the "
		if name == "low" {
			verb = " above the "
		}
		return Standing{"near", in + ", only " + w.Difference(p.Quantity, room) + verb + name + " limit"}
	}
	return Standing{"well", in}
}

// beyond says how far past a limit p is.
func (w Words) beyond(p alarms.PointPicture) Standing {
	limit, name, mark := p.Limits.High, "high ", "beyond"
	if p.Side == alarms.LowSide {
		limit, name = p.Limits.Low, "low "
	}
	if p.Level == alarms.Inner {
		mark = "far-beyond"
		if limit, name = p.Limits.HighHigh, ""; p.Side == alarms.LowSide {
			limit = p.Limits.LowLow
		}
	}
	if !limit.Set {
		return Standing{mark, "beyond its " + name + "limit"}
	}
	past, verb := p.Value-limit.Value, " above the "
	if p.Side == alarms.LowSide {
		past, verb = -past, " below the "
	}
	said := name + "limit " + w.limit(p.Quantity, limit.Value) + w.Unit(p.Quantity)
	if past <= 0 {
		return Standing{mark, "just back inside the " + said + ", not settled yet"}
	}
	return Standing{mark, w.Difference(p.Quantity, past) + verb + said}
}

// Band writes the limits that a value should stay between.
func (w Words) Band(q alarms.Quantity, l alarms.Limits) string {
	if !AnyLimit(l) {
		return "no band set"
	}
	return "band " + w.bandRange(q, l)
}

func (w Words) bandRange(q alarms.Quantity, l alarms.Limits) string {
	low, high := BandEnds(l)
	switch {
	case low.Set && high.Set:
		return w.limit(q, low.Value) + " to " + w.limit(q, high.Value) + w.Unit(q)
	case low.Set:
		return "from " + w.limit(q, low.Value) + w.Unit(q)
	case high.Set:
		return "up to " + w.limit(q, high.Value) + w.Unit(q)
	default:
		return "not set"
	}
}

// BandEnds returns the limits between which all is well: low and high, or the
// further ones where those are not set.
func BandEnds(l alarms.Limits) (low, high alarms.Limit) {
	low, high = l.Low, l.High
	if !low.Set {
		low = l.LowLow
	}
	if !high.Set {
		high = l.HighHigh
	}
	return low, high
}

// AnyLimit reports whether a limit is set at all.
func AnyLimit(l alarms.Limits) bool {
	return l.LowLow.Set || l.Low.Set || l.High.Set || l.HighHigh.Set
}

// nearest returns the room left to the nearer end of the band.
func nearest(p alarms.PointPicture) (room float64, name string, ok bool) {
	low, high := BandEnds(p.Limits)
	room = math.Inf(1)
	if low.Set {
		room, name, ok = p.Value-low.Value, "low", true
	}
	if high.Set && high.Value-p.Value < room {
		room, name, ok = high.Value-p.Value, "high", true
	}
	return room, name, ok
}
