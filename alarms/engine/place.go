package engine

import (
	"math"

	"telltale/alarms"
	"telltale/alarms/air"
	"telltale/alarms/ground"
	"telltale/alarms/lifecycle"
	"telltale/alarms/localtime"
	"telltale/alarms/loop"
	"telltale/alarms/timing"
)

// What a ground loop asks of its house.

// seen reports whether st has a value of the present that may be used.
func (st *stream) seen(e *Engine) bool {
	return st != nil && st.usable() && e.link.up() && st.ValueAt >= e.link.Since
}

// Live returns the value of the present that st has, ok where it may be used.
func (st *stream) Live() (v float64, ok bool) {
	if !st.seen(st.probe.place.house.e) {
		return 0, false
	}
	return st.Value, true
}

// Air returns the air at p: of one probe where one has temperature and
// humidity, else of the first that has each.
func (p *place) Air() ground.Air {
	found := ground.Dry(math.NaN())
	for _, pr := range p.probes {
		own := ground.Dry(math.NaN())
		for _, st := range pr.streams {
			switch {
			case !st.seen(p.house.e):
			case st.plan.Quantity == alarms.Temperature:
				own.Temperature = st.Value
			case st.plan.Quantity == alarms.Humidity:
				own.Humidity = st.Value
			}
		}
		if !math.IsNaN(own.Temperature + own.Humidity) {
			return own
		}
		if math.IsNaN(found.Temperature) {
			found.Temperature = own.Temperature
		}
		if math.IsNaN(found.Humidity) {
			found.Humidity = own.Humidity
		}
	}
	return found
}

// Stale reports whether no temperature of p is new enough to judge by.
func (p *place) Stale(now timing.Instant) bool {
	for _, pr := range p.probes {
		for _, st := range pr.streams {
			if st.plan.Quantity == alarms.Temperature && st.usable() && now.Since(st.ValueAt) <= st.memory() {
				return false
			}
		}
	}
	return true
}

// Name is what p is called.
func (p *place) Name() string { return p.plan.Name }

// loopHost is a house, as its loop sees it.
type loopHost struct{ *house }

// loopPart is the ground loop of a house, where it has one.
type loopPart struct{ *loop.Loop }

func (l loopPart) start(now timing.Instant) { l.Start(now) }

func (l loopPart) blind(now timing.Instant) { l.Count(now) }

func (l loopPart) save(s *snapshot) { s.Loops[l.House()] = l.Save() }

func (l loopPart) recall(*snapshot) {}

func (l loopPart) load(s *snapshot, replanned bool) {
	if ls, ok := s.Loops[l.House()]; ok {
		l.Load(ls, replanned)
	}
}

func (l loopPart) replan(due timing.Instant) { l.Replan(due) }

func (l loopPart) draw(p *alarms.HousePicture) { p.Loop = l.Picture() }

func (h loopHost) Plan() *alarms.House { return h.plan }

func (h loopHost) Position(i int) *alarms.Position { return h.position(i) }

func (h loopHost) Midnight(after timing.Instant) timing.Instant { return h.midnightAfter(after) }

func (h loopHost) Leap(due timing.Instant) timing.Instant { return h.leap(due) }

func (h loopHost) Alarm(a lifecycle.Alarm, of lifecycle.Rule, at alarms.PlaceID) *lifecycle.Alarm {
	return &h.e.newAlarm(&alarm{Alarm: a, house: h.house, place: h.place(at), of: of}).Alarm
}

// countLoop counts what the loop of h brought up to now.
func (h *house) countLoop(now timing.Instant) {
	if h.loop != nil {
		h.loop.Count(now)
	}
}

// Place is one that the loop rests on.
func (h loopHost) Place(id alarms.PlaceID, piped bool) loop.Place {
	p := h.place(id)
	for _, pr := range p.probes {
		for _, st := range pr.streams {
			if q := st.plan.Quantity; q == alarms.Temperature || q == alarms.Humidity {
				st.loop = true
			}
			st.piped = st.piped || piped
		}
	}
	return p
}

// Stream is one that the loop rests on, nil for none.
func (h loopHost) Stream(id alarms.ProbeID, q alarms.Quantity) loop.Stream {
	st := h.e.streams[streamKey{id, q}]
	if st == nil {
		return nil
	}
	st.loop = true
	return st
}

// midnightAfter returns the next midnight of h's days after a moment.
func (h *house) midnightAfter(now timing.Instant) timing.Instant {
	return h.wall.Core(localtime.MidnightIn(h.wall.At(now), h.plan.Day.Zone))
}

// derive computes p's derived quantities again from what is usable now, and
// reports whether there are any.
func (p *place) derive(e *Engine) bool {
	any := false
	for _, pt := range p.points {
		if pt.quantity.Derived() {
			any = true
			pt.has = false
		}
	}
	if !any {
		return false
	}
	t, h := p.pair()
	if t == nil {
		return true
	}
	for _, pt := range p.points {
		if pt.quantity.Derived() {
			pt.set(pt.derived(t.Value, h.Value))
		}
	}
	return true
}

// derived computes pt's quantity from a temperature and a humidity, NaN where
// that is not possible.
func (pt *point) derived(t, h float64) float64 {
	switch pt.quantity {
	case alarms.VPD:
		return air.VPD(t, h) / 1000
	case alarms.DewMargin:
		return pt.place.surface(t) - air.DepositPoint(t, h)
	}
	return math.NaN()
}

// set takes a derived value; what cannot be derived is no number and not had.
func (pt *point) set(v float64) {
	if pt.has = !math.IsNaN(v); pt.has {
		pt.value = v
	}
}

// pair returns the temperature and humidity to derive from: of one probe
// where one has both, else the first usable of each; nil where one is missing.
func (p *place) pair() (t, h *stream) {
	for _, pr := range p.probes {
		var pt, ph *stream
		for _, st := range pr.streams {
			if !st.usable() {
				continue
			}
			switch st.plan.Quantity {
			case alarms.Temperature:
				pt = st
			case alarms.Humidity:
				ph = st
			}
		}
		if pt != nil && ph != nil {
			return pt, ph
		}
		if t == nil {
			t = pt
		}
		if h == nil {
			h = ph
		}
	}
	if t == nil || h == nil {
		return nil, nil
	}
	return t, h
}

// surface returns the surface temperature at which dew forms first: measured,
// or the leaf estimate of the plan.
func (p *place) surface(t float64) float64 {
	if st := p.surfaceStream(); st != nil {
		return st.Value
	}
	return air.LeafEstimate(t, p.plan.LeafBelowAir.Value)
}

// surfaceStream returns the one that measures the coldest surface, nil for none.
func (p *place) surfaceStream() *stream {
	var coldest *stream
	if pt := p.point(alarms.Surface); pt != nil {
		for _, st := range pt.streams {
			if st.usable() && (coldest == nil || st.Value < coldest.Value) {
				coldest = st
			}
		}
	}
	return coldest
}

// Bounds are the low and the high limit of q at p now, NaN for none.
func (p *place) Bounds(q alarms.Quantity) (low, high float64) {
	low, high = math.NaN(), math.NaN()
	if pt := p.point(q); pt != nil && pt.banded {
		if pt.inForce().Low.Set {
			low = pt.inForce().Low.Value
		}
		if pt.inForce().High.Set {
			high = pt.inForce().High.Value
		}
	}
	return low, high
}

// outsideNow is the temperature outside, NaN where it is not known.
func (h *house) outsideNow() float64 {
	if h.outside == nil {
		return math.NaN()
	}
	return h.outside.temperature()
}

// temperature is the mean of what p's usable probes say, NaN for none.
func (p *place) temperature() float64 { return p.Mean(alarms.Temperature) }

// Mean is the mean of what p's usable probes say of q, NaN for none.
func (p *place) Mean(q alarms.Quantity) float64 {
	pt := p.point(q)
	if pt == nil {
		return math.NaN()
	}
	sum, n := 0.0, 0
	for _, st := range pt.streams {
		if st.usable() {
			sum += st.Value
			n++
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return sum / float64(n)
}
