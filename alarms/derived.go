package alarms

import (
	"math"

	"telltale/alarms/air"
)

// derive computes p's derived quantities anew from what is usable now, and
// reports whether there are any.
func (e *Engine) derive(p *place) bool {
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
	case VPD:
		return air.VPD(t, h) / 1000
	case DewMargin:
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
			case Temperature:
				pt = st
			case Humidity:
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
	if pt := p.point(Surface); pt != nil {
		for _, st := range pt.streams {
			if st.usable() && (coldest == nil || st.Value < coldest.Value) {
				coldest = st
			}
		}
	}
	return coldest
}
