package control

import (
	"math"

	"telltale/alarms/timing"
)

// stageState is what is known of a stage.
type stageState struct {
	Certain    Call           `json:"certain,omitempty"`
	Calls      bool           `json:"calls,omitempty"` // as an exact dial would
	Passed     timing.Instant `json:"passed,omitempty"`
	PassedTemp float64        `json:"passedTemp,omitempty"`
	Seen       bool           `json:"seen,omitempty"` // a temperature, since it was lost
	Bulb       float64        `json:"bulb"`           // °C, of a bulb that follows by Lag
	Felt       timing.Instant `json:"felt,omitempty"`
	Acts       timing.Instant `json:"acts,omitempty"` // since when, if it is of one part of the day
	On         drift          `json:"on"`
	Off        drift          `json:"off"`
}

// stage is one pair of contacts of a thermostat.
type stage struct {
	stageState
	index  int
	spec   *StageSpec
	around *air
	felt   *series // by its bulb
	twin   *stage  // of the other part of the day, nil for none
	acting bool
	shown  int // the drive whose switchings show where it switches, -1 for none
	// doubted is when the last reading came before which it may have called, though it
	// did neither then nor by the reading before.
	doubted timing.Instant
}

func (s *stage) forget() {
	s.Certain, s.Calls, s.Passed, s.Seen, s.Felt = Between, false, 0, false, 0
}

// feel takes the last temperature and reports whether anything changed.
//
// Called for certain: beyond On by more than the tolerance, and from then on as
// long as Off is not reached by as much, nor can have been between two readings
// far apart. Not called likewise from the other side. Where the tolerance is wide
// nothing is certain in between. While a switch point is told to have drifted, it
// may be there as well as on the dial: the drift is told once and not again with
// each switching. That excuses no drive farther than where it was found to switch,
// nor beyond a limit.
func (s *stage) feel(beyond float64) bool {
	before, called := s.Certain, s.Calls
	t := s.felt
	if !t.Known {
		s.forget()
		return before != Between || called
	}
	s.warm(t.Value)
	sign := 1.0
	v, on, off, foundOn, foundOff, tol := t.Value, s.spec.On, s.spec.Off, s.On.found(), s.Off.found(), s.spec.Tolerance
	if !s.spec.Mode.Above() {
		sign = -1
		v, on, off, foundOn, foundOff, beyond = -v, -on, -off, -foundOn, -foundOff, -beyond
	}
	late := on + tol
	if s.On.Told && !(v > beyond) {
		late = max(late, s.On.still(sign))
	}
	switch {
	case v > late, s.Certain == Called && v > max(off, foundOff)+tol && t.kept(-sign, -max(off, foundOff)-tol):
		s.Certain = Called
	case v < min(off, foundOff)-tol, s.Certain == NotCalled && v < min(on, foundOn)-tol && t.kept(sign, min(on, foundOn)-tol):
		if s.Certain = NotCalled; !t.kept(sign, min(on, foundOn)-tol) {
			s.doubted = s.around.now
		}
	default:
		s.Certain = Between
	}
	switch {
	case v >= on && !s.Calls:
		s.Calls, s.Passed, s.PassedTemp = true, 0, t.Value
		if s.Seen {
			s.Passed = s.around.now
		}
	case v <= off:
		s.Calls, s.Passed = false, 0
	}
	s.Seen = true
	return before != s.Certain || called != s.Calls || s.doubted == s.around.now
}

// idles reports whether the stage, which did not call by the last reading, does not at a
// moment after it, for certain.
func (s *stage) idles(at timing.Instant) bool {
	sign := 1.0
	if !s.spec.Mode.Above() {
		sign = -1
	}
	return s.felt.stays(at, sign, min(sign*s.spec.On, sign*s.On.found())-s.spec.Tolerance)
}

// warm lets the bulb follow the air.
func (s *stage) warm(celsius float64) {
	if s.Felt == 0 {
		s.Bulb = celsius
	} else {
		s.Bulb += (s.Bulb - celsius) * math.Expm1(-float64(s.around.now.Since(s.Felt))/float64(s.spec.Lag)) // a first-order process
	}
	s.Felt = s.around.now
}

// switchedOff ends the call as an exact dial would have it, by what was seen of its
// drive inside the differential: the next time On is passed is another call.
func (s *stage) switchedOff(celsius float64) {
	if s.spec.Mode.Above() && celsius < s.spec.On || !s.spec.Mode.Above() && celsius > s.spec.On {
		s.Calls, s.Passed = false, 0
	}
}

// turned notes since when a stage of one part of the day acts, which acted before or
// not. What it would have asked before it acted alone it has asked from then on.
func (s *stage) turned(acted bool) {
	if s.twin == nil || !s.acting {
		return
	}
	if !acted {
		s.Acts = s.around.now
	}
	if !s.twin.acting && s.Calls && s.Passed < s.Acts {
		s.Passed, s.PassedTemp = s.around.now, s.felt.Value
	}
}

// out reports whether a stage is of the other part of the day.
func (s *stage) out() bool { return s.twin != nil && !s.acting }

// half reports whether a run that took so many kelvin off the temperature did at least
// half of what the stage asks for.
func (s *stage) half(fell float64) bool {
	asked := s.spec.On - s.spec.Off // negative when heating
	return math.Abs(fell) >= math.Abs(asked)/2 && (fell > 0) == (asked > 0)
}

// certain is what a stage says, as far as the one of the other part of the day,
// where that acts too, says the same.
func (s *stage) certain() Call {
	if s.twin != nil && s.twin.acting && s.twin.Certain != s.Certain {
		return Between
	}
	return s.Certain
}

// needs is what a stage says that the house needs; unknown where it feels
// nothing.
func (s *stage) needs(unknown Sign) Sign {
	v, known := s.felt.at(s.around.now)
	calls := s.Calls || s.Certain == Called
	switch {
	case s.out(), s.spec.Mode.Humid():
	case s.spec.Mode == Cooling && (calls || known && v > s.spec.Off):
		return NeedsAir
	case s.spec.Mode == Heating && (calls || known && v < s.spec.Off):
		return NeedsWarmth
	case !known:
		return unknown
	}
	return 0
}

func (s *stage) point(kind FindingKind) *drift {
	if kind == DriftedOff {
		return &s.Off
	}
	return &s.On
}

// switched adds a switching to a switch point. The thermostat felt something between
// what its bulb would have and what the probe has; of that the dial is given what is
// nearest to it. sharp says that it was seen when it happened, twice that two late ones
// are enough.
func (s *stage) switched(kind FindingKind, temp float64, sharp, twice bool) step {
	if !s.felt.Known {
		return stays // another bulb called the drive, and this one is lost
	}
	f, tolerance, late := s.point(kind), s.spec.Tolerance, 1.0
	if !s.spec.Mode.Above() {
		late = -1
	}
	latest := late * max(late*temp, late*s.Bulb)
	temp = min(max(f.Dial, min(temp, s.Bulb)), max(temp, s.Bulb))
	near := sharp && s.felt.follows(s.around.now, tolerance/2)
	if !near && !(kind == DriftedOn && late*(temp-f.Dial) > tolerance) {
		return stays // the last readings say too little of the moment at which it switched, but that it was later than that
	}
	return f.add(temp, latest, tolerance, late, twice)
}

// drifted is the beginning, or the end, of a drift.
func (s *stage) drifted(kind FindingKind, on bool) Finding {
	f := s.point(kind)
	p := f.point()
	return Finding{Kind: kind, On: on, Due: s.around.now, Since: f.Since, Drive: -1, Stage: s.index, Other: s.shown, Evidence: -1,
		Temp: s.felt.Value, TempKnown: s.felt.Known,
		Value: p.Median, Limit: f.Dial, Spread: p.Spread, Count: p.Count}
}
