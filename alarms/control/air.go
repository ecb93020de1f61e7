package control

import (
	"math"
	"time"

	"telltale/alarms/timing"
)

// Frosty is how cold it must be outside, °C, that an open shutter is told in
// any case.
const Frosty = 5.0

const (
	recent = 5                // readings a median is taken of
	fresh  = 10 * time.Minute // older readings count in no median
	usable = 20 * time.Minute // an older reading says nothing of now
	apart  = 30 * time.Second // closer readings show no pace
	dense  = 2 * time.Minute  // between readings that follow a house whose fan switches
	swift  = 0.5              // K a minute, of a house in the sun (common practice, no source)
)

// series is the last readings of a temperature.
type series struct {
	Known bool                   `json:"known,omitempty"`
	Value float64                `json:"value,omitempty"` // °C, the last
	N     int                    `json:"n,omitempty"`
	When  [recent]timing.Instant `json:"when"`
	Last  [recent]float64        `json:"last"`
}

func (s *series) take(now timing.Instant, v float64) {
	if !finite(v) {
		*s = series{}
		return
	}
	if s.N == recent {
		copy(s.When[:], s.When[1:])
		copy(s.Last[:], s.Last[1:])
		s.N--
	}
	s.When[s.N], s.Last[s.N] = now, v
	s.N++
	s.Known, s.Value = true, v
}

// at returns the last reading if it is usable.
func (s *series) at(now timing.Instant) (float64, bool) {
	return s.Value, s.Known && now.Since(s.When[s.N-1]) <= usable
}

// follows reports whether the last reading tells the temperature now to so many
// kelvin, at the greatest pace between the last ones. Readings far apart do
// not: a swing of a house whose fan switches fits between two. Readings of two
// probes that come together say how far these differ, not how fast it warms, so
// the last of them must come as often in the mean.
func (s *series) follows(now timing.Instant, kelvin float64) bool {
	pace := 0.0 // K/ns
	for i := 1; i < s.N; i++ {
		between := max(s.When[i].Since(s.When[i-1]), apart)
		pace = max(pace, math.Abs(s.Last[i]-s.Last[i-1])/float64(between))
	}
	age, few := now-s.When[s.N-1], min(s.N-1, 3)
	return s.N > 1 && age.Since(0) <= dense && s.When[s.N-1].Since(s.When[s.N-2]) <= dense &&
		s.When[s.N-1].Since(s.When[s.N-1-few]) <= time.Duration(few)*dense && pace*float64(age) <= kelvin
}

// kept reports whether the air stayed below edge between the last two readings,
// both times sign. Where these are far apart a house can have gone there and
// come back.
func (s *series) kept(sign, edge float64) bool {
	if s.N < 2 {
		return false
	}
	between := s.When[s.N-1].Since(s.When[s.N-2])
	return cannot(between, 2*edge-sign*(s.Last[s.N-1]+s.Last[s.N-2]))
}

// stays reports the same of the time from the last reading to a moment.
func (s *series) stays(at timing.Instant, sign, edge float64) bool {
	return s.N > 0 && cannot(at.Since(s.last()), edge-sign*s.Value)
}

// cannot reports whether a time is short, or the air cannot go so many kelvin in it.
func cannot(in time.Duration, way float64) bool {
	return in <= dense || way > swift*in.Minutes()
}

// mildest returns the median of the last fresh readings, at most of most; where these are not dense,
// the lowest, or the highest, of it and the last two.
func (s *series) mildest(now timing.Instant, most int, highest bool) (float64, bool) {
	t, ok := s.median(now, most)
	if !ok || s.follows(now, math.Inf(1)) {
		return t, ok
	}
	for i := max(s.N-2, 0); i < s.N; i++ {
		if v := s.Last[i]; now.Since(s.When[i]) <= usable && (v > t) == highest {
			t = v
		}
	}
	return t, true
}

// last is when the last reading came, 0 for never.
func (s *series) last() timing.Instant {
	if s.N == 0 {
		return 0
	}
	return s.When[s.N-1]
}

// median returns the median of the last fresh readings, at most of most.
func (s *series) median(now timing.Instant, most int) (float64, bool) {
	var v [recent]float64
	n := 0
	for i := s.N - 1; i >= 0 && n < most && now.Since(s.When[i]) <= fresh; i-- {
		v[n] = s.Last[i]
		n++
	}
	if n == 0 {
		return 0, false
	}
	return medianOf(v[:n]), true
}

// shift moves all that was read by so much.
func (s *series) shift(by float64) {
	s.Value += by
	for i := range s.N {
		s.Last[i] += by
	}
}

// air is what is felt where the bulbs hang, and outside, up to a moment.
type air struct {
	now     timing.Instant
	bulbs   []series
	outside series
	cold    Call // outside is frosty
}

// takeOutside takes how warm it is outside and reports whether it turned frosty, or no
// longer is.
func (a *air) takeOutside(celsius float64) bool {
	a.outside.take(a.now, celsius)
	was := a.cold
	switch o := &a.outside; {
	case !o.Known:
		a.cold = Between
	case o.Value < Frosty:
		a.cold = Called
	case o.Value >= Frosty+1:
		a.cold = NotCalled
	}
	return a.cold != was
}

func (a *air) forget() {
	clear(a.bulbs)
	a.outside, a.cold = series{}, Between
}
