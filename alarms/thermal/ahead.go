package thermal

import (
	"math"
	"time"
)

// Side of a limit.
type Side uint8

// Sides.
const (
	High Side = iota
	Low
)

const (
	farHigh = 4 * 3600.0  // s that is looked ahead for the high side
	farLow  = 16 * 3600.0 // s, for the low side, until the sun is up
	tick    = 60.0        // s, of a step ahead, at first
	stroll  = 240.0       // s, of one later on
	nearBy  = 1200.0      // s, until then
	few     = 5           // errors from which something is known so far ahead, and stops of a drive
	days    = 48          // h that a house must have been heard
	hours   = 1           // in which a drive must have run, and stood
)

// Hand is the time in hand.
type Hand struct {
	Known bool // else nothing is known yet
	Holds bool // it is likely not reached within the time that is looked ahead
	// If it is reached: one in ten is sooner than Soon, one in ten later than Late. 0: so
	// much of the likelihood lies beyond what is looked ahead, or behind.
	Soon, Middle, Late time.Duration
}

// Known says whether something can be said of a drive at a time. Where the house is
// warmest when the sun is not, or the sun was found to warm hardly anything, the house or
// its clock is elsewhere than the sun is taken to be: then it would be said for sure that no limit is reached, and wrongly. Common
// practice, no source: the leanest glass takes in ten times as much.
func (h *House) Known(d Drive, at time.Time) bool {
	age := at.Unix() - h.at
	return h.at != 0 && age >= 0 && age <= stale && h.learned >= days && !h.astray() &&
		h.ran[d] >= hours && h.stood[d] >= hours && h.stops[d] >= few &&
		(d != ExhaustFan || h.figure(&h.f, Warming) >= sunless)
}

// InHand says how long the house has until a limit in °C if a drive fails now: on the
// high side within the next hours, on the low side until the sun is up. The other
// drives go on as they did over the last half hour.
func (h *House) InHand(d Drive, side Side, limit float64, at time.Time) (out Hand) {
	if out.Known = h.Known(d, at); !out.Known {
		return out
	}
	far := farHigh
	if side == Low {
		far = farLow
	}
	start, sign := h.f.x[probeNode], 1.0
	if side == Low {
		sign = -1
	}
	spans := [quantiles]*time.Duration{&out.Late, &out.Middle, &out.Soon} // the higher the air, the sooner
	if side == Low {
		spans[0], spans[2] = spans[2], spans[0]
	}
	var last [quantiles]float64
	h.run(d, h.view(), far, side == Low, func(passed, step, told float64) bool {
		all, q, size := true, h.quantiles(d, passed), math.Abs(told)+slight*min(1, passed/markAt[0])
		for i, span := range spans {
			left := sign * (limit - start - told - q[i]*size)
			if *span == 0 && left <= 0 {
				part := 1.0
				if last[i] > 0 {
					part = last[i] / (last[i] - left)
				}
				*span = time.Duration((passed - step*(1-part)) * float64(time.Second))
			}
			last[i] = left
			all = all && *span != 0
		}
		return !all
	})
	out.Holds = out.Middle == 0
	return out
}

// view is from where is looked ahead.
type view struct {
	node
	wall int64 // Unix s
	sun  float64
}

func (h *House) view() view { return view{h.f.node(), h.wall, h.sun} }

// run goes ahead with a drive standing, and says after each step how far the reading
// has gone from where it is, until that returns false, or the sun is up.
func (h *House) run(d Drive, v view, far float64, night bool, say func(passed, step, told float64) bool) {
	r, n := h.f.rates(), v.node
	share := h.usual
	share[d] = 0
	from, light, dark, looked := h.curve(v.wall), v.sun, v.sun == 0, 0.0
	for passed := 0.0; passed < far; {
		step := tick
		if passed >= nearBy {
			step = stroll
		}
		passed += step
		then := v.wall + int64(passed)
		if passed-looked >= lightEvery {
			light, looked = h.light(then), passed
		}
		if night && dark && light > 0 {
			return
		}
		dark = light == 0
		to := h.curve(then)
		n = r.move(n, step/3600, light, &share)
		n.cloud = float64(h.f.usual) + (n.cloud-float64(h.f.usual))*math.Exp(-step/3600/cloudTime)
		n.outside = to + (n.outside-from)*math.Exp(-step/3600/airTime)
		from = to
		if !say(passed, step, n.probe-v.probe) {
			return
		}
	}
}

const lightEvery = 600 // s between looks at the sun on the way ahead

// tell notes what will come if a drive goes on standing.
func (h *House) tell(d Drive, t *trial, from view) {
	next := 0
	h.run(d, from, markAt[marks-1], false, func(passed, _, told float64) bool {
		for next < marks && passed >= markAt[next] {
			t.told[next] = float32(told)
			next++
		}
		return next < marks
	})
}
