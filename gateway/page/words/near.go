package words

import (
	"math"

	"telltale/alarms"
	"telltale/alarms/tongue"
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
		return Standing{"none", w.Say("nothing heard yet")}
	case !p.Live:
		return Standing{"old", w.Band(p.Quantity, p.Limits)} // not judged: it is not of now
	case p.Level != alarms.Within:
		return w.beyond(p)
	case !AnyLimit(p.Limits):
		return Standing{"none", w.Say("no band set")}
	}
	in := w.Say("in %s", w.Band(p.Quantity, p.Limits))
	if room, side, ok := nearest(p); ok && room <= p.Quantity.Facts().Near {
		said := nearWords[side]
		if room <= 0 {
			return Standing{"near", in + w.Say(said.on)}
		}
		return Standing{"near", in + w.Say(said.only, w.Difference(p.Quantity, room))}
	}
	return Standing{"well", in}
}

// nearWords say that a value is on a limit, or how near it is to it.
var nearWords = map[alarms.Side]struct{ on, only tongue.Text }{
	alarms.LowSide:  {", on the low limit", ", only %s above the low limit"},
	alarms.HighSide: {", on the high limit", ", only %s below the high limit"},
}

// pastWords say that a value is beyond a limit, how far, and that it is just back.
type pastWords struct{ beyond, by, back tongue.Text }

// beyond says how far past a limit p is.
func (w Words) beyond(p alarms.PointPicture) Standing {
	limit, mark := p.Limits.High, "beyond"
	said := pastWords{"beyond its high limit", "%s above the high limit %s", "just back inside the high limit %s, not settled yet"}
	if p.Side == alarms.LowSide {
		limit = p.Limits.Low
		said = pastWords{"beyond its low limit", "%s below the low limit %s", "just back inside the low limit %s, not settled yet"}
	}
	if p.Level == alarms.Inner {
		limit, mark = p.Limits.HighHigh, "far-beyond"
		said = pastWords{"beyond its limit", "%s above the limit %s", "just back inside the limit %s, not settled yet"}
		if p.Side == alarms.LowSide {
			limit, said.by = p.Limits.LowLow, "%s below the limit %s"
		}
	}
	if !limit.Set {
		return Standing{mark, w.Say(said.beyond)}
	}
	past := p.Value - limit.Value
	if p.Side == alarms.LowSide {
		past = -past
	}
	at := w.limit(p.Quantity, limit.Value) + w.Unit(p.Quantity)
	if past <= 0 {
		return Standing{mark, w.Say(said.back, at)}
	}
	return Standing{mark, w.Say(said.by, w.Difference(p.Quantity, past), at)}
}

// Band writes the limits that a value should stay between.
func (w Words) Band(q alarms.Quantity, l alarms.Limits) string {
	if !AnyLimit(l) {
		return w.Say("no band set")
	}
	return w.Say("band %s", w.bandRange(q, l))
}

func (w Words) bandRange(q alarms.Quantity, l alarms.Limits) string {
	low, high := BandEnds(l)
	switch {
	case low.Set && high.Set:
		return w.Say("%s to %s", w.limit(q, low.Value), w.limit(q, high.Value)+w.Unit(q))
	case low.Set:
		return w.Say("from %s", w.limit(q, low.Value)+w.Unit(q))
	case high.Set:
		return w.Say("up to %s", w.limit(q, high.Value)+w.Unit(q))
	default:
		return w.Say("not set")
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
func nearest(p alarms.PointPicture) (room float64, side alarms.Side, ok bool) {
	low, high := BandEnds(p.Limits)
	room = math.Inf(1)
	if low.Set {
		room, side, ok = p.Value-low.Value, alarms.LowSide, true
	}
	if high.Set && high.Value-p.Value < room {
		room, side, ok = high.Value-p.Value, alarms.HighSide, true
	}
	return room, side, ok
}
