package engine

import (
	"math"

	"telltale/alarms"
)

// What a probe says is in one of three zones. What its sensor cannot give, or
// gives when it fails, is no value at all: st is blind. What is doubted counts
// beyond a limit, once a second reading or a sibling agrees, and is held back
// within them. The rest is believed.

// sightings are the newest readings of a stream, believed or not.
type sightings struct {
	Seen   float64      `json:"seen,omitempty"`        // the newest
	Before float64      `json:"seen_before,omitempty"` // the one before it
	SeenN  int          `json:"seen_n,omitempty"`      // how many of the two there are
	Odd    alarms.Fault `json:"odd,omitempty"`         // why the newest is doubted by itself: a step, or its time
}

// see takes a reading that is no sign of blindness, and why it is doubted.
func (s *sightings) see(v float64, odd alarms.Fault) {
	s.Before, s.Seen, s.Odd = s.Seen, v, odd
	s.SeenN = min(s.SeenN+1, 2)
}

// unsee drops the newest reading, which turned out to be of the past.
func (s *sightings) unsee() { *s = sightings{} }

// blinding are the faults by which a stream gives no value.
const blindFaults = faultSet(1<<faultRange | 1<<faultValue | 1<<faultGarbled)

func (s faultSet) blind() bool { return s&blindFaults != 0 }

// doubt returns why what st gives is doubted for longer than one reading, ""
// for not.
func (s faultSet) doubt() alarms.Fault {
	if doubts := s &^ blindFaults; doubts.sick() {
		return doubts.names()[0]
	}
	return ""
}

// present reports whether st gives values now, believed or not.
func (st *stream) present() bool {
	st.catchUp()
	return !st.Silent && !st.probe.Out && !st.Faults.blind()
}

// voice is what one stream says of a point, or for a derived quantity the
// streams of one pair.
type voice struct {
	of     [3]*stream // the rest nil
	now    float64
	before float64 // by the reading before, where twice
	twice  bool
	doubt  alarms.Fault // "": believed
	course *course      // of a rate: what it was taken from
}

// voices adds to buf all that is said of pt now.
func (pt *point) voices(buf []voice) []voice {
	if pt.quantity.Derived() {
		return pt.derivedVoices(buf)
	}
	for _, st := range pt.streams {
		if !st.present() {
			continue
		}
		doubt := st.Faults.doubt()
		if st.Fresh {
			v := voice{of: [3]*stream{st}, now: st.Value, before: st.Value, twice: st.Odd != "", doubt: doubt}
			if st.Odd == "" {
				v.before, v.twice = st.Before, st.SeenN == 2
			}
			buf = append(buf, v)
		}
		if st.Odd != "" && st.SeenN > 0 {
			buf = append(buf, voice{of: [3]*stream{st}, now: st.Seen, before: st.Before, twice: st.SeenN == 2, doubt: st.Odd})
		}
	}
	return buf
}

// derivedVoices takes each probe that has both temperature and humidity for a
// voice; where none of them is believed, also what other probes give together.
func (pt *point) derivedVoices(buf []voice) []voice {
	believed := false
	for _, pr := range pt.place.probes {
		var t, h *stream
		for _, st := range pr.streams {
			switch {
			case !st.present() || !st.Fresh:
			case st.plan.Quantity == alarms.Temperature:
				t = st
			case st.plan.Quantity == alarms.Humidity:
				h = st
			}
		}
		if t == nil || h == nil {
			continue
		}
		if v, ok := pt.pairVoice(t, h); ok {
			believed = believed || v.doubt == ""
			buf = append(buf, v)
		}
	}
	if t, h := pt.place.pair(); t != nil && !believed {
		if v, ok := pt.pairVoice(t, h); ok {
			buf = append(buf, v)
		}
	}
	return buf
}

func (pt *point) pairVoice(t, h *stream) (voice, bool) {
	v := voice{of: [3]*stream{t, h, pt.place.surfaceStream()}, doubt: t.Faults.doubt()}
	if v.doubt == "" {
		v.doubt = h.Faults.doubt()
	}
	v.now = pt.derived(t.Value, h.Value)
	if v.doubt != "" && t.SeenN == 2 && h.SeenN == 2 {
		v.before, v.twice = pt.derived(t.Before, h.Before), true
	}
	return v, !math.IsNaN(v.now) && !math.IsNaN(v.before)
}

// weigh reports whether one of vs at least is beyond the limit l of s, and
// whether that is sure: by one that is believed, or two readings that are not.
func (s *side) weigh(vs []voice, l alarms.Limit) (beyond, sure bool) {
	for i := range vs {
		beyond = beyond || s.over(vs[i].now, l)
		sure = sure || s.counts(vs, i, l)
	}
	return beyond, sure
}

// counts reports whether the i-th of vs is beyond l and is not a doubted
// reading that stands alone.
func (s *side) counts(vs []voice, i int, l alarms.Limit) bool {
	return counts(vs, i, func(v float64) bool { return s.over(v, l) })
}

// counts reports whether the i-th of vs is so, and is not a doubted reading that
// stands alone.
func counts(vs []voice, i int, so func(v float64) bool) bool {
	v := &vs[i]
	if !so(v.now) {
		return false
	}
	agreed := v.doubt == "" || v.twice && so(v.before)
	for j := range vs {
		agreed = agreed || vs[j].of[0] != v.of[0] && so(vs[j].now)
	}
	return agreed
}

// outermost returns the first limit of s that a value passes.
func (s *side) outermost() alarms.Limit {
	outer, inner := s.limits()
	if outer.Set {
		return outer
	}
	return inner
}

// limits returns the two limits of s in force.
func (s *side) limits() (outer, inner alarms.Limit) {
	if s.sign < 0 {
		return s.point.inForce().Low, s.point.inForce().LowLow
	}
	return s.point.inForce().High, s.point.inForce().HighHigh
}

// furthest returns the voice that s goes by, -1 for none: the furthest of those
// that count beyond the limit, else of those that are believed.
func (s *side) furthest(vs []voice) int {
	best, beyond := -1, false
	l := s.outermost()
	for i := range vs {
		counts := s.counts(vs, i, l)
		if !counts && vs[i].doubt != "" {
			continue
		}
		if best < 0 || counts && !beyond || counts == beyond && s.sign*vs[i].now > s.sign*vs[best].now {
			best, beyond = i, counts
		}
	}
	return best
}
