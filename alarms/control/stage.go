package control

import (
	"math"
	"slices"
	"time"
)

// Call says whether the dial calls.
type Call uint8

// Calls.
const (
	Between   Call = iota // inside the differential or the tolerance, or not known: no verdict
	Called                // for certain
	NotCalled             // for certain
)

var callNames = [...]string{"between", "called", "not called"}

func (c Call) String() string {
	if int(c) < len(callNames) {
		return callNames[c]
	}
	return "unknown"
}

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
	Known bool            `json:"known,omitempty"`
	Value float64         `json:"value,omitempty"` // °C, the last
	N     int             `json:"n,omitempty"`
	When  [recent]Moment  `json:"when"`
	Last  [recent]float64 `json:"last"`
}

func (s *series) take(now Moment, v float64) {
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
func (s *series) at(now Moment) (float64, bool) {
	return s.Value, s.Known && now.Since(s.When[s.N-1]) <= usable
}

// follows reports whether the last reading tells the temperature now to so many
// kelvin, at the greatest pace between the last ones. Readings far apart do
// not: a swing of a house whose fan switches fits between two. Readings of two
// probes that come together say how far these differ, not how fast it warms, so
// the last of them must come as often in the mean.
func (s *series) follows(now Moment, kelvin float64) bool {
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
	way := 2*edge - sign*(s.Last[s.N-1]+s.Last[s.N-2])
	return between <= dense || way > swift*between.Minutes()
}

// mildest returns the median of the last fresh readings, at most of most; where these are not dense,
// the lowest, or the highest, of it and the last two.
func (s *series) mildest(now Moment, most int, highest bool) (float64, bool) {
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
func (s *series) last() Moment {
	if s.N == 0 {
		return 0
	}
	return s.When[s.N-1]
}

// median returns the median of the last fresh readings, at most of most.
func (s *series) median(now Moment, most int) (float64, bool) {
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

// medianOf sorts v.
func medianOf(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	return (v[n/2] + v[(n-1)/2]) / 2
}

// spreadOf is the standard deviation about the median m, from the median
// absolute deviation (1.4826 for a normal distribution: Hampel 1974, J. Am.
// Stat. Assoc. 69:383). It overwrites v.
func spreadOf(v []float64, m float64) float64 {
	for i := range v {
		v[i] = math.Abs(v[i] - m)
	}
	return 1.4826 * medianOf(v)
}

// stageState is what is known of a stage.
type stageState struct {
	Certain    Call    `json:"certain,omitempty"`
	Calls      bool    `json:"calls,omitempty"` // as an exact dial would
	Passed     Moment  `json:"passed,omitempty"`
	PassedTemp float64 `json:"passedTemp,omitempty"`
	Seen       bool    `json:"seen,omitempty"` // a temperature, since it was lost
	Bulb       float64 `json:"bulb"`           // °C, of a bulb that follows by Lag
	Felt       Moment  `json:"felt,omitempty"`
	Acts       Moment  `json:"acts,omitempty"` // since when, if it is of one part of the day
	On         drift   `json:"on"`
	Off        drift   `json:"off"`
}

func (s *stageState) forget() {
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
func (s *stageState) feel(now Moment, spec *StageSpec, t series, beyond float64) bool {
	before, called := s.Certain, s.Calls
	if !t.Known {
		s.forget()
		return before != Between || called
	}
	s.warm(now, spec.Lag, t.Value)
	sign := 1.0
	v, on, off, foundOn, foundOff, tol := t.Value, spec.On, spec.Off, s.On.found(), s.Off.found(), spec.Tolerance
	if !spec.Mode.Above() {
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
		s.Certain = NotCalled
	default:
		s.Certain = Between
	}
	switch {
	case v >= on && !s.Calls:
		s.Calls, s.Passed, s.PassedTemp = true, 0, t.Value
		if s.Seen {
			s.Passed = now
		}
	case v <= off:
		s.Calls, s.Passed = false, 0
	}
	s.Seen = true
	return before != s.Certain || called != s.Calls
}

// switchedOff ends the call as an exact dial would have it, by what was seen of its
// drive inside the differential: the next time On is passed is another call.
func (s *stageState) switchedOff(spec *StageSpec, celsius float64) {
	if spec.Mode.Above() && celsius < spec.On || !spec.Mode.Above() && celsius > spec.On {
		s.Calls, s.Passed = false, 0
	}
}

// warm lets the bulb follow the air.
func (s *stageState) warm(now Moment, lag time.Duration, celsius float64) {
	if s.Felt == 0 {
		s.Bulb = celsius
	} else {
		s.Bulb += (celsius - s.Bulb) * lapse(now.Since(s.Felt), lag)
	}
	s.Felt = now
}

// callOf says whether a drive is called, by what is wanted of it.
func (j *Judge) callOf(d int) Call {
	switch j.want(d).Wish {
	case Follow:
	case Run:
		return Called
	case ByHours:
		return j.want(d).Hours.call()
	case Rest, Barred:
		return NotCalled
	default:
		return Between
	}
	said, heard := j.stagesCall(d)
	for _, f := range j.opens[d] {
		switch j.want(f).Wish {
		case Follow:
			if c, any := j.stagesCall(f); any {
				said, heard = either(said, c, heard), true
			}
		case Run:
			return Called
		case ByHours:
			said, heard = either(said, j.want(f).Hours.call(), heard), true
		case Rest, Barred:
			said, heard = either(said, NotCalled, heard), true
		default:
			said, heard = either(said, Between, heard), true
		}
	}
	if !heard {
		return Between
	}
	return said
}

// stagesCall is what the acting stages of a drive say, if there are any.
func (j *Judge) stagesCall(d int) (said Call, heard bool) {
	for i := range j.spec.Stages {
		if j.acts(i) && slices.Contains(j.spec.Stages[i].Drives, d) {
			said, heard = either(said, j.certain(i), heard), true
		}
	}
	return said, heard
}

// certain is what a stage says, as far as the one of the other part of the day,
// where that acts too, says the same.
func (j *Judge) certain(stage int) Call {
	c := j.state.Stages[stage].Certain
	if other := j.twin[stage]; other >= 0 && j.acts(other) && j.state.Stages[other].Certain != c {
		return Between
	}
	return c
}

// contacts is how many pairs of contacts that feel a temperature drive d.
func (j *Judge) contacts(d int) (n int) {
	for _, i := range j.stagesOf[d] {
		if j.twin[i] < i && !j.spec.Stages[i].Mode.Humid() { // of two that take turns the later one
			n++
		}
	}
	return n
}

// either is what two calls make together.
func either(a, b Call, both bool) Call {
	switch {
	case !both:
		return b
	case a == Called || b == Called:
		return Called
	case a == Between || b == Between:
		return Between
	}
	return NotCalled
}

// lagOf is the longest lag of the bulbs that drive d.
func (j *Judge) lagOf(d int) (lag time.Duration) {
	if j.want(d).Wish == ByHours {
		return 0
	}
	for _, i := range j.stagesOf[d] {
		if j.acts(i) {
			lag = max(lag, j.spec.Stages[i].Lag)
		}
	}
	return lag
}

// stageFor returns the acting stage of d that calls by the dial, else the first
// acting one, else -1.
func (j *Judge) stageFor(d int) int {
	first := -1
	for _, i := range j.stagesOf[d] {
		if !j.acts(i) {
			continue
		}
		if j.state.Stages[i].Calls {
			return i
		}
		if first < 0 {
			first = i
		}
	}
	return first
}

// recall takes what changed in the calls, then judges all drives.
func (j *Judge) recall(now Moment) {
	for d := range j.state.Drives {
		ds := &j.state.Drives[d]
		c := j.callOf(d)
		if c == ds.Call {
			continue
		}
		j.account(now, d)
		ds.Call = c
		if c == Called {
			ds.RanInCall = ds.State == Running
		}
		if c != NotCalled {
			ds.Open.Uncalled = false
		}
		if c == NotCalled && ds.Gates[DidNotStart].On && !ds.RanInCall {
			j.missed(d)
		}
	}
	j.settle(now)
}
