package page

import (
	"math"

	"telltale/alarms"
)

// standing is how a value stands to its band, for the eye and in words.
type standing struct {
	Mark  string // "well", "near", "beyond", "far-beyond", "old" or "none": one shape each
	Words string
}

// stand says how p stands to its limits. The level is the core's; the page
// only adds how far it is to the nearest limit.
func (w words) stand(p alarms.PointPicture) standing {
	switch {
	case !p.HasValue:
		return standing{"none", "nothing heard yet"}
	case !p.Live:
		return standing{"old", w.band(p.Quantity, p.Limits)} // not judged: it is not of now
	case p.Level != alarms.Within:
		return w.beyond(p)
	case !anyLimit(p.Limits):
		return standing{"none", "no band set"}
	}
	in := "in " + w.band(p.Quantity, p.Limits)
	if room, name, ok := nearest(p); ok && room <= closeBy[p.Quantity] {
		if room <= 0 {
			return standing{"near", in + ", on the " + name + " limit"}
		}
		verb := " below the "
		if name == "low" {
			verb = " above the "
		}
		return standing{"near", in + ", only " + w.difference(p.Quantity, room) + verb + name + " limit"}
	}
	return standing{"well", in}
}

// beyond says how far past a limit p is.
func (w words) beyond(p alarms.PointPicture) standing {
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
		return standing{mark, "beyond its " + name + "limit"}
	}
	past, verb := p.Value-limit.Value, " above the "
	if p.Side == alarms.LowSide {
		past, verb = -past, " below the "
	}
	said := name + "limit " + w.limit(p.Quantity, limit.Value) + w.unit(p.Quantity)
	if past <= 0 {
		return standing{mark, "just back inside the " + said + ", not settled yet"}
	}
	return standing{mark, w.difference(p.Quantity, past) + verb + said}
}

// band writes the limits that a value should stay between.
func (w words) band(q alarms.Quantity, l alarms.Limits) string {
	if !anyLimit(l) {
		return "no band set"
	}
	return "band " + w.bandRange(q, l)
}

func (w words) bandRange(q alarms.Quantity, l alarms.Limits) string {
	low, high := bandEnds(l)
	switch {
	case low.Set && high.Set:
		return w.limit(q, low.Value) + " to " + w.limit(q, high.Value) + w.unit(q)
	case low.Set:
		return "from " + w.limit(q, low.Value) + w.unit(q)
	case high.Set:
		return "up to " + w.limit(q, high.Value) + w.unit(q)
	default:
		return "not set"
	}
}

// bandEnds returns the limits between which all is well: low and high, or the
// further ones where those are not set.
func bandEnds(l alarms.Limits) (low, high alarms.Limit) {
	low, high = l.Low, l.High
	if !low.Set {
		low = l.LowLow
	}
	if !high.Set {
		high = l.HighHigh
	}
	return low, high
}

func anyLimit(l alarms.Limits) bool {
	return l.LowLow.Set || l.Low.Set || l.High.Set || l.HighHigh.Set
}

// nearest returns the room left to the nearer end of the band.
func nearest(p alarms.PointPicture) (room float64, name string, ok bool) {
	low, high := bandEnds(p.Limits)
	room = math.Inf(1)
	if low.Set {
		room, name, ok = p.Value-low.Value, "low", true
	}
	if high.Set && high.Value-p.Value < room {
		room, name, ok = high.Value-p.Value, "high", true
	}
	return room, name, ok
}
